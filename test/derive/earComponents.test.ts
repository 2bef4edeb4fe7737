import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { earComponents } from "../../src/derive/earComponents.ts";
import { ratioSet } from "../../src/derive/earComponentsShares.ts";
import { earCountYield, fiellerSet, fitCurve, flexScore } from "../../src/index.ts";
import { tQuantile } from "../../src/numeric/distributions.ts";
import { assertDigits } from "../assertDigits.ts";

/** Worked example of the identity: four densities, thousand plants/ac. */
const rows = [
  { density: 24, earsPerPlant: 1.02, rowsPerEar: 16.4, kernelsPerRow: 38, kernelMass: 300 },
  { density: 28, earsPerPlant: 1.0, rowsPerEar: 16.2, kernelsPerRow: 36, kernelMass: 292 },
  { density: 32, earsPerPlant: 0.98, rowsPerEar: 16.0, kernelsPerRow: 33.5, kernelMass: 285 },
  { density: 36, earsPerPlant: 0.95, rowsPerEar: 15.8, kernelsPerRow: 31, kernelMass: 280 },
];

describe("exact split", () => {
  const [all] = earComponents(rows).hybrids;

  test("slopes are -.1712433, -.0916675, -.5015796, -.1715964 and their sum is -.9360868", () => {
    // Computed in R 4.2.2 with lm(log(component) ~ log(density)), to the digits printed.
    const expected = [-0.1712433, -0.0916675, -0.5015796, -0.1715964];
    for (const [j, { slope }] of all.parts.entries()) expect(Math.abs(slope - expected[j])).toBeLessThan(5e-8);
    expect(Math.abs((all.total?.slope as number) + 0.9360868)).toBeLessThan(5e-8);
    expect(all.parts.map(({ meaning }) => meaning)).toEqual(["prolificacy", "girth", "length", "depth"]);
  });

  test("points add up to the flex score and shares to one, to the last bits", () => {
    assertDigits(
      all.parts.reduce((sum, { points }) => sum + points, 0),
      all.flexScore as number,
      14,
    );
    assertDigits(
      all.parts.reduce((sum, { share }) => sum + (share as number), 0),
      1,
      14,
    );
    // The slope of the product itself, fitted on its own.
    const product = rows.map((r) => r.earsPerPlant * r.rowsPerEar * r.kernelsPerRow * r.kernelMass);
    const line = fitCurve("linear", {
      density: rows.map(({ density }) => Math.log(density)),
      yield: product.map(Math.log),
    });
    assertDigits(all.total?.slope, line.coefficients["linear"] as number, 10);
  });

  test("grain per plant is 190.699, 170.294, 149.705, 130.287 g", () => {
    // The same worked example, by hand: 1.02 x 16.4 x 38 x 0.300 = 190.699.
    const grams = [190.699, 170.294, 149.705, 130.287];
    for (const [i, { grainPerPlant }] of all.densities.entries())
      expect(Math.abs(grainPerPlant - grams[i])).toBeLessThan(6e-4);
    // Per acre: 24 thousand plants x 190.699 g in bushels of 56 lb is 180.18.
    const perAcre = (24_000 * 0.190699) / (56 * 0.45359237);
    expect(Math.abs(perAcre - 180.18)).toBeLessThan(0.005);
    expect(all.densities[3].barrenAtLeast).toBeCloseTo(0.05, 12);
  });

  test("a flex score found on a fitted curve is split in the same proportions, exactly", () => {
    const curve = fitCurve("quadratic", { density: [24, 28, 32, 36], yield: [180.18, 187.72, 188.6, 184.65] });
    const score = flexScore(curve, { between: [24, 36] }).score as number;
    const split = earComponents(rows, { flexScore: { all: score } }).hybrids[0].parts;
    assertDigits(
      split.reduce((sum, { pointsOfGiven }) => sum + (pointsOfGiven as number), 0),
      score,
      13,
    );
  });
});

describe("intervals", () => {
  const [head, ...lines] = readFileSync(new URL("../../data-demo/ears.csv", import.meta.url), "utf8")
    .trim()
    .split("\n");
  const ears = lines.map((line) => {
    const cells = line.split(",");
    const cell = (name: string): string => cells[head.split(",").indexOf(name)];
    const n = (name: string): number => Number(cell(name));
    return {
      hybrid: cell("hybrid"),
      block: cell("block"),
      density: n("seeding_rate_k_ac") * 0.95,
      plants: n("plants_sampled"),
      ears: n("ears_counted"),
      rowsPerEar: n("rows_per_ear"),
      kernelsPerRow: n("kernels_per_row"),
      kernelMass: n("kernel_mass_mg"),
      // bu/ac of 56 lb over plants/ac, in g.
      weighedPerPlant: (n("yield_bu_ac") * 56 * 453.59237) / (n("seeding_rate_k_ac") * 950),
    };
  });
  const result = earComponents(ears);
  /** Slopes from which the demo was made. */
  const truth: Record<string, number[]> = {
    "Amber 12": [-0.17, -0.09, -0.5, -0.17],
    "Dune 5": [-0.3, -0.12, -0.42, -0.16],
  };

  test("joint intervals are wider than single ones and hold the demo's truth", () => {
    for (const { hybrid, parts, dofResidual } of result.hybrids) {
      expect(dofResidual).toBe(11);
      parts.forEach(({ interval, jointInterval, slope, standardError }, j) => {
        const joint = [jointInterval?.lower as number, jointInterval?.upper as number];
        expect(joint[0] < truth[hybrid][j] && truth[hybrid][j] < joint[1]).toBe(true);
        // Bonferroni for four: t(1 - .025 / 4; 11).
        assertDigits(joint[1] - slope, (standardError as number) * tQuantile(1 - 0.025 / 4, 11), 10);
        expect(joint[1]).toBeGreaterThan(interval?.upper as number);
      });
    }
  });

  test("shares have Fieller sets that hold the share", () => {
    for (const { parts } of result.hybrids) {
      for (const { share, shareInterval } of parts) {
        expect((shareInterval?.lower as number) < (share as number)).toBe(true);
        expect((shareInterval?.upper as number) > (share as number)).toBe(true);
      }
    }
  });

  test("component yield closes on weighed yield within its scatter of 2 %", () => {
    for (const { closure } of result.hybrids) {
      expect(Math.abs((closure?.ratio as number) - 1)).toBeLessThan(0.02);
      expect((closure?.interval?.lower as number) < 0 && 0 < (closure?.interval?.upper as number)).toBe(true);
    }
  });

  test("the ratio's set is Fieller's: the same as for the quadratic's vertex", () => {
    // Bachmaier (2009): vertex -b1 / (2 b2) = 199.0772 at m, interval 173.0935 to 260.0505. As a ratio a / b with a = b1 - m, b = -2 b2.
    const q = {
      linear: 0.03809484076,
      quadratic: -8.197897118e-5,
      varLinear: 2.945556434e-5,
      covariance: -9.85309059e-8,
      varQuadratic: 3.605868357e-10,
    };
    const m = 0.6 / 110;
    const set = ratioSet(
      q.linear - m,
      -2 * q.quadratic,
      q.varLinear,
      -2 * q.covariance,
      4 * q.varQuadratic,
      41,
      0.95,
      0.95,
    );
    expect(Math.abs((set.lower as number) - 173.0935)).toBeLessThan(1e-3);
    expect(Math.abs((set.upper as number) - 260.0505)).toBeLessThan(1e-3);
    const other = fiellerSet(q, m, tQuantile(0.975, 41));
    assertDigits(set.lower, other.kind === "interval" ? other.lower : Number.NaN, 9);
    // A total that may be zero bounds no share.
    expect(ratioSet(1, 0.1, 0.01, 0, 0.01, 10, 0.95, 0.95).lowerOpen).toBe(true);
  });
});

test("counts before harvest: 35 ears x 16 rows x 36 kernels with 90 thousand kernels a bushel are 224 bu/ac", () => {
  // extension.org 35148, factor 90; an identity.
  expect(earCountYield({ ears: 35, rowsPerEar: 16, kernelsPerRow: 36, thousandKernelsPerUnit: 90 })).toBe(224);
});

test("sampling guidance: a CV of 10 % needs 18 samples for 5 %", () => {
  // n with t(.975; n - 1) 10 / sqrt(n) <= 5: Snedecor & Cochran; t(.975; 17) = 2.1098, 2.1098 x 10 / sqrt(18) = 4.97.
  const cv = 0.1 / Math.SQRT2;
  const twins = [24, 28].flatMap((density) =>
    [Math.exp(cv), Math.exp(0 - cv)].map((f) => ({
      density,
      earsPerPlant: f,
      rowsPerEar: 16,
      kernelsPerRow: 30,
      kernelMass: 280,
    })),
  );
  const { sampling } = earComponents(twins).hybrids[0];
  assertDigits(sampling.components[0].cvPercent, 10, 9);
  expect(sampling.components[0].samples).toBe(18);
});

test("units of density and mass do not change the split; mistakes are listed all at once", () => {
  const other = earComponents(
    rows.map((r) => ({ ...r, density: r.density * 2471.05, kernelMass: r.kernelMass / 1000 })),
  );
  const [a, b] = [earComponents(rows).hybrids[0], other.hybrids[0]];
  for (const [j, { slope }] of a.parts.entries()) assertDigits(b.parts[j].slope, slope, 10);
  const broken = [
    { ...rows[0], rowsPerEar: 0 },
    { ...rows[1], kernelMass: Number.NaN },
  ];
  expect(() => earComponents(broken)).toThrow(/row 1: rowsPerEar[\s\S]*row 2: kernelMass/);
  expect(earComponents([rows[0]]).hybrids[0].status).toBe("not-estimable");
});
