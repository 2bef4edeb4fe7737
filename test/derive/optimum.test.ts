import fc from "fast-check";
import { describe, expect, test } from "vitest";
import { compensationElasticity, flexScore } from "../../src/derive/flexScore.ts";
import { agronomicOptimum, economicOptimum } from "../../src/derive/optimum.ts";
import { priceSensitivity } from "../../src/derive/sensitivity.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { predictCurve } from "../../src/fit/fittedCurve.ts";
import { assertDigits } from "../assertDigits.ts";

const density = [18, 23, 28, 33, 38, 43];
/** A noiseless parabola: maximum 200 at 32, curvature 0.08. */
const parabola = fitCurve("quadratic", { density, yield: density.map((x) => 200 - 0.08 * (x - 32) ** 2) });
const rising = fitCurve("linear", { density, yield: density.map((x) => 100 + 2 * x) });
const falling = fitCurve("linear", { density, yield: density.map((x) => 300 - 2 * x) });
const flat = fitCurve("flat", { density, yield: density.map(() => 180) });

describe("agronomicOptimum", () => {
  test("finds the vertex of a parabola, its height and the densities within 1 % of it", () => {
    const optimum = agronomicOptimum(parabola, { step: 2 });
    expect(optimum.kind).toBe("interior");
    assertDigits(optimum.density, 32, 11);
    assertDigits(optimum.yield, 200, 12);
    // 200 - 0.08 d^2 >= 198 for |d| <= 5.
    assertDigits(optimum.nearBest?.lower, 27, 9);
    assertDigits(optimum.nearBest?.upper, 37, 9);
    assertDigits(optimum.costOfMissing?.below, 0.32, 9);
    assertDigits(optimum.costOfMissing?.above, 0.32, 9);
  });

  test("names the end of the range for a curve that still rises or falls throughout", () => {
    expect(agronomicOptimum(rising)).toMatchObject({ kind: "upper-edge", density: 43, outside: null });
    expect(agronomicOptimum(falling)).toMatchObject({ kind: "lower-edge", density: 18 });
  });

  test("says none for a curve without response", () => {
    expect(agronomicOptimum(flat)).toMatchObject({ kind: "none", density: null, yield: 180, nearBest: null });
  });

  test("gives the smallest of several best densities: the join of a plateau", () => {
    const fit = fitCurve("linear-plateau", { density, yield: density.map((x) => 190 - 2 * Math.max(30 - x, 0)) });
    assertDigits(agronomicOptimum(fit).density, 30, 10);
    expect(agronomicOptimum(fit).nearBest?.upperAtEdge).toBe(true);
  });

  test("a parabola that bends upwards is best at an end, and says its vertex is a minimum", () => {
    const fit = fitCurve("quadratic", { density, yield: density.map((x) => 150 + 0.05 * (x - 25) ** 2) });
    const optimum = agronomicOptimum(fit, { nearBestShare: 0.099 });
    expect(optimum.kind).toBe("upper-edge");
    expect(optimum.note).toContain("minimum");
  });

  test("lists separate stretches when both ends are nearly as good", () => {
    const fit = fitCurve("quadratic", { density, yield: density.map((x) => 150 + 0.05 * (x - 30.4) ** 2) });
    expect(agronomicOptimum(fit, { nearBestShare: 0.01 }).nearBest?.pieces?.length).toBe(2);
  });

  test("refuses a fit that did not succeed, with the fit's own reason", () => {
    const none = fitCurve("quadratic", { density: [1, 2], yield: [1, 2] });
    expect(() => agronomicOptimum(none)).toThrow(/needs at least 3 different densities/);
  });
});

describe("economicOptimum", () => {
  test("lies r / (2 b) below the agronomic optimum of a parabola", () => {
    // dY/dx = 0.16 (32 - x) = 3.75 / 4.5
    const optimum = economicOptimum(parabola, { grainPrice: 4.5, seedCost: 3.75 });
    assertDigits(optimum.density, 32 - 3.75 / 4.5 / 0.16, 10);
    assertDigits(optimum.priceRatio, 3.75 / 4.5, 14);
    assertDigits(optimum.return, 4.5 * optimum.yield - 3.75 * (optimum.density as number), 12);
  });

  test("pays for every seed dropped: establishment raises the cost of a plant and the rate to set", () => {
    const optimum = economicOptimum(parabola, { grainPrice: 4.5, seedCost: 3.75, establishment: 0.9 });
    assertDigits(optimum.density, 32 - 3.75 / 0.9 / 4.5 / 0.16, 10);
    assertDigits(optimum.seedingRate, (optimum.density as number) / 0.9, 12);
  });

  test("costs that grow with yield come off the price", () => {
    const net = economicOptimum(parabola, { grainPrice: 5, seedCost: 3.75, yieldCost: 0.5 });
    assertDigits(net.density, economicOptimum(parabola, { grainPrice: 4.5, seedCost: 3.75 }).density as number, 12);
  });

  test("near-best densities lose at most the stated money", () => {
    const options = { grainPrice: 4.5, seedCost: 3.75, nearBestLoss: 2 };
    const optimum = economicOptimum(parabola, options);
    const value = (x: number): number => 4.5 * predictCurve(parabola, [x])[0] - 3.75 * x;
    assertDigits(optimum.return - value(optimum.nearBest?.lower as number), 2, 8);
    assertDigits(optimum.return - value(optimum.nearBest?.upper as number), 2, 8);
  });

  test("without response the lowest tested density pays best, because fewer seeds cost less", () => {
    expect(economicOptimum(flat, { grainPrice: 4, seedCost: 3 })).toMatchObject({ kind: "lower-edge", density: 18 });
    expect(economicOptimum(flat, { grainPrice: 4, seedCost: 0 }).kind).toBe("none");
  });

  test("dearer seed never raises the optimum and dearer grain never lowers it", () => {
    fc.assert(
      fc.property(
        fc.array(fc.double({ min: 120, max: 220, noNaN: true }), { minLength: 6, maxLength: 6 }),
        fc.constantFrom("linear", "quadratic", "linear-plateau", "quadratic-plateau"),
        fc.double({ min: 0, max: 6, noNaN: true }),
        fc.double({ min: 2, max: 8, noNaN: true }),
        (yields, family, seedCost, grainPrice) => {
          const fit = fitCurve(family, { density, yield: yields });
          const at = (seed: number, grain: number): number =>
            economicOptimum(fit, { grainPrice: grain, seedCost: seed }).density ?? 18;
          expect(at(seedCost + 1, grainPrice)).toBeLessThanOrEqual(at(seedCost, grainPrice) + 1e-9);
          expect(at(seedCost, grainPrice + 1)).toBeGreaterThanOrEqual(at(seedCost, grainPrice) - 1e-9);
        },
      ),
      { seed: 3, numRuns: 500 },
    );
  });

  test("refuses prices that make no sense", () => {
    expect(() => economicOptimum(parabola, { grainPrice: 0, seedCost: 1 })).toThrow(/grainPrice must be > 0/);
    expect(() => economicOptimum(parabola, { grainPrice: 4, seedCost: -1 })).toThrow(/seedCost must be >= 0/);
  });
});

test("priceSensitivity holds one economic optimum for every pair of prices", () => {
  const cells = priceSensitivity(parabola, [3, 4], [4, 5, 6]);
  expect(cells.length).toBe(6);
  for (const { seedCost, grainPrice, density: x } of cells) assertDigits(x, 32 - seedCost / grainPrice / 0.16, 10);
});

describe("flexScore", () => {
  test("is 0 when every plant keeps its ear and 100 when yield does not change", () => {
    const kept = fitCurve("linear", { density, yield: density.map((x) => 6 * x) });
    expect(Math.abs(flexScore(kept, { between: [20, 40] }).score as number)).toBeLessThan(1e-10);
    assertDigits(flexScore(flat, { between: [20, 40] }).score, 100, 14);
  });

  test("is 100 times the mean elasticity on the log axis", () => {
    // Trapezoid rule on ln x with 20,000 steps: good to about 1e-9.
    const [a, b] = [Math.log(22), Math.log(41)];
    let sum = 0;
    for (let i = 0; i <= 20_000; i++) {
      const weight = i === 0 || i === 20_000 ? 0.5 : 1;
      sum += weight * (compensationElasticity(parabola, Math.exp(a + ((b - a) * i) / 20_000)) as number);
    }
    assertDigits(flexScore(parabola, { between: [22, 41] }).score, (100 * sum) / 20_000, 8);
  });

  test("splits at the optimum: below it under 100, above it over 100, and the two average on the log axis", () => {
    const { score, left, right } = flexScore(parabola, { between: [20, 42] });
    expect(left).toBeLessThan(100);
    expect(right).toBeGreaterThan(100);
    const [u, v] = [Math.log(32 / 20), Math.log(42 / 32)];
    assertDigits(score, ((left as number) * u + (right as number) * v) / (u + v), 10);
  });

  test("gives no score outside the tested range unless asked, and says why", () => {
    const refused = flexScore(parabola, { between: [10, 40] });
    expect(refused.score).toBeNull();
    expect(refused.reason).toContain("not inside the tested range 18 to 43");
    expect(flexScore(parabola, { between: [10, 40], extrapolate: true }).score).not.toBeNull();
  });

  test("the elasticity is exactly 1 at a smooth optimum", () => {
    // Identity: d ln Y / d ln x = 0 where Y is stationary.
    assertDigits(compensationElasticity(parabola, 32), 1, 10);
    const plateau = fitCurve("quadratic-plateau", {
      density,
      yield: density.map((x) => 195 - 0.1 * Math.max(35 - x, 0) ** 2),
    });
    assertDigits(compensationElasticity(plateau, agronomicOptimum(plateau).density as number), 1, 10);
  });

  test("does not depend on the units of density or yield", () => {
    const other = fitCurve("quadratic", {
      density: density.map((x) => 0.2471 * x),
      yield: density.map((x) => 12.5 - 0.005 * (x - 32) ** 2),
    });
    assertDigits(
      flexScore(other, { between: [0.2471 * 20, 0.2471 * 40] }).score,
      flexScore(parabola, { between: [20, 40] }).score as number,
      9,
    );
  });
});
