import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { crowdingResponse } from "../../src/derive/crowdingResponse.ts";
import { compensationElasticity, fitCurve } from "../../src/index.ts";
import { assertDigits } from "../assertDigits.ts";

test("hybrid 3's grain per plant falls with an exponent of -.953903", () => {
  // Carmer & Jackobs (1965), Agronomy Journal 57, 241-244: lb per hill at 2, 4, 6, 8 plants; slope by R 4.2.2.
  const density = [2, 4, 6, 8];
  const perHill = [1.298, 1.634, 1.458, 1.384];
  const { hybrids } = crowdingResponse({ density, trait: perHill.map((y, i) => y / density[i]), yield: perHill });
  expect(Math.abs((hybrids[0].slope as number) + 0.953903)).toBeLessThan(1e-6);
  // The same identity seen from the yield: flex score = 100 (1 - d ln Y / d ln x) = 95.39.
  expect(Math.abs((hybrids[0].yield?.flexScore as number) - 95.3903)).toBeLessThan(1e-4);
});

describe("at a smooth agronomic optimum the compensation elasticity is exactly 1", () => {
  // dY/dx = 0 makes eps = 1 - x Y'/Y = 1 for every smooth curve. Curves fitted to points of themselves.
  test.each([
    ["quadratic", (x: number) => 60 + 9 * x - 0.15 * x * x, 30],
    ["exponential", (x: number) => x * Math.exp(2.6 - x / 30), 30],
    ["parabolic-reciprocal", (x: number) => x / (0.002 * 60 + 0.002 * x + 0.000133333333 * x * x), 30],
  ] as const)("%s", (family, curve, best) => {
    const density = [16, 20, 24, 28, 32, 36, 40, 44];
    const fit = fitCurve(family, { density, yield: density.map((x) => curve(x) * (1 + 1e-7 * Math.sin(7 * x))) });
    // The tiny ripple keeps the fit from being perfect; it moves the optimum by less than 1e-4 of it.
    expect(Math.abs((compensationElasticity(fit, best) as number) - 1)).toBeLessThan(1e-4);
  });
});

describe("crowding beside yield", () => {
  const [head, ...lines] = readFileSync(new URL("../../data-demo/ears.csv", import.meta.url), "utf8")
    .trim()
    .split("\n");
  const cells = lines.map((line) => line.split(","));
  const column = (name: string): string[] => cells.map((row) => row[head.split(",").indexOf(name)]);
  const hybrid = column("hybrid");
  const density = column("seeding_rate_k_ac").map((rate) => Number(rate) * 0.95);
  const input = { density, trait: column("stalk_diameter_mm").map(Number), block: column("block"), hybrid };
  const perArea = column("yield_bu_ac").map(Number);

  test("two hybrids are told apart, intervals hold the demo's truth of -0.25 and -0.45", () => {
    const { hybrids, differences } = crowdingResponse(input);
    expect(hybrids.map((one) => one.hybrid)).toEqual(["Dune 5", "Amber 12"]);
    const truth = { "Amber 12": -0.25, "Dune 5": -0.45 } as Record<string, number>;
    for (const { hybrid: name, interval } of hybrids) {
      expect((interval?.lower as number) < truth[name] && truth[name] < (interval?.upper as number)).toBe(true);
    }
    expect((differences[0].interval.lower as number) > 0).toBe(true);
    expect(differences[0].first).toBe("Amber 12");
  });

  test("a hybrid may gain yield while its stalks thin, and the table says so", () => {
    // Grain per area = density x grain per plant; here per plant falls slower than density rises.
    const yields = density.map((x) => x * 8 * (24 / x) ** 0.6 * (1 + 0.002 * Math.sin(x * 5)));
    const { hybrids } = crowdingResponse({ ...input, yield: yields });
    for (const { reading } of hybrids) {
      expect(reading?.yield).toBe("gains");
      expect(reading?.trait).toBe("shrinks");
      expect(reading?.words).toContain("but");
    }
    const real = crowdingResponse({ ...input, yield: perArea });
    expect(real.hybrids[0].yield?.flexScore).toBeGreaterThan(60);
  });

  test("a diameter that keeps stalk cross-section per area has slope -0.5; units do not matter", () => {
    const kept = crowdingResponse({
      density: [20, 25, 30, 35],
      trait: [20, 25, 30, 35].map((x) => 100 / Math.sqrt(x)),
    });
    assertDigits(kept.hybrids[0].slope, -0.5, 12);
    assertDigits(kept.hybrids[0].percentPerTenth, 100 * (1.1 ** -0.5 - 1), 12);
    const [a, b] = [crowdingResponse(input), crowdingResponse({ ...input, density: density.map((x) => x * 2471) })];
    assertDigits(b.hybrids[0].slope, a.hybrids[0].slope as number, 10);
  });

  test("bad input is refused, and one density gives no slope", () => {
    expect(() => crowdingResponse({ density: [1, 2], trait: [1, 0] })).toThrow(/above 0/);
    expect(() => crowdingResponse({ density: [1, 2], trait: [1] })).toThrow(/trait has 1/);
    expect(crowdingResponse({ density: [2, 2], trait: [1, 2] }).hybrids[0].status).toBe("not-estimable");
  });
});
