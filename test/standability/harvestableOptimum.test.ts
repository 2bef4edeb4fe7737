import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { betaBinomialSample } from "../../src/standability/betaBinomialSample.ts";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { greatestOnRange } from "../../src/standability/greatestOnRange.ts";
import { harvestableOptimum } from "../../src/standability/harvestableOptimum.ts";
import { harvestScenarios } from "../../src/standability/harvestScenarios.ts";
import { predictLodging } from "../../src/standability/lodgedShare.ts";
import { assertDigits } from "../assertDigits.ts";

/** An invented trial: quadratic yield with its top at 37, lodging passing 10 % near 35. */
function trial(seed: number) {
  const random = streamRandom(seed, 0);
  const plots = {
    density: [] as number[],
    yield: [] as number[],
    lodged: [] as number[],
    examined: [] as number[],
    block: [] as string[],
  };
  for (let b = 0; b < 4; b++) {
    for (const x of [22, 26, 30, 34, 38, 42]) {
      const p = 1 / (1 + Math.exp(11 - 0.25 * x));
      plots.density.push(x);
      plots.yield.push(200 - 0.15 * (x - 37) ** 2 + 3 * b + 5 * random.normal());
      plots.lodged.push(betaBinomialSample(60, p, 0.04, random));
      plots.examined.push(60);
      plots.block.push(`b${b}`);
    }
  }
  return plots;
}
const plots = trial(3);
const gross = fitCurve("quadratic", plots);
const lodging = fitLodging(plots);
const economics = { grainPrice: 4.5, seedCost: 3.75 };

test("both optima are the best of 100,001 densities, and cost what the formula says", () => {
  const lossShare = 0.6;
  const result = harvestableOptimum({ gross, lodging }, { lossShare, economics });
  const [a, b, c] = Object.values(gross.coefficients) as number[];
  const yieldAt = (x: number) => a + b * x + c * x * x;
  const shareAt = (x: number) =>
    lodging.blockEffects.reduce(
      (sum, { effect }) =>
        sum + 1 / (1 + Math.exp(-(lodging.coefficients.intercept! + effect + lodging.coefficients.slope! * x))),
      0,
    ) / 4;
  for (const [optimum, loss, r] of [
    [result.harvestable.agronomic, lossShare, 0],
    [result.harvestable.economic!, lossShare, 3.75 / 4.5],
    [result.gross.agronomic, 0, 0],
    [result.gross.economic!, 0, 3.75 / 4.5],
  ] as const) {
    let best = { x: 0, value: Number.NEGATIVE_INFINITY };
    for (let i = 0; i <= 100_000; i++) {
      const x = 22 + (20 * i) / 100_000;
      const value = yieldAt(x) * (1 - loss * shareAt(x)) - r * x;
      if (value > best.value) best = { x, value };
    }
    expect(Math.abs(optimum.density! - best.x)).toBeLessThan(2e-4); // the grid's step
    assertDigits(optimum.grossYield, yieldAt(optimum.density!), 10);
    assertDigits(optimum.lodgedShare, shareAt(optimum.density!), 10);
    assertDigits(optimum.harvestedYield, yieldAt(optimum.density!) * (1 - lossShare * shareAt(optimum.density!)), 10);
    assertDigits(optimum.return, 4.5 * optimum.harvestedYield - 3.75 * optimum.density!, 10);
  }
  expect(result.harvestable.agronomic.density!).toBeLessThan(result.gross.agronomic.density!);
  assertDigits(result.gross.agronomic.density, -b / (2 * c), 7);
});

test("a loss of 0 gives the gross optimum, and the more is lost the lower the density", () => {
  const { sensitivity, gross: standing } = harvestableOptimum({ gross, lodging }, { economics });
  assertDigits(sensitivity[0].agronomic, standing.agronomic.density!, 8);
  assertDigits(sensitivity[0].economic, standing.economic!.density!, 8);
  for (let i = 1; i < sensitivity.length; i++)
    expect(sensitivity[i].agronomic!).toBeLessThan(sensitivity[i - 1].agronomic!);
});

test("planting the gross optimum costs what the two harvested yields differ by", () => {
  const { lossAtGross, harvestable, gross: standing } = harvestableOptimum({ gross, lodging }, { lossShare: 0.5 });
  assertDigits(lossAtGross, harvestable.agronomic.harvestedYield - standing.agronomic.harvestedYield, 9);
  expect(lossAtGross).toBeGreaterThan(0);
});

describe("edges and missing parts", () => {
  test("nothing lodged: the gross optimum, said so", () => {
    const none = fitLodging({ density: [22, 32, 42], lodged: [0, 0, 0], examined: [60, 60, 60] });
    const result = harvestableOptimum({ gross, lodging: none });
    assertDigits(result.harvestable.agronomic.density, result.gross.agronomic.density!, 9);
    expect(result.notes.join(" ")).toContain("Nothing lodged");
  });

  test("a flat gross curve has no gross optimum, but lodging puts the harvestable one at the lowest density", () => {
    const flat = fitCurve("flat", plots);
    const result = harvestableOptimum({ gross: flat, lodging });
    expect(result.gross.agronomic).toMatchObject({ kind: "none", density: null });
    expect(result.harvestable.agronomic).toMatchObject({ kind: "lower-edge", density: 22 });
  });

  test("the search stays where both yield and lodging were tested", () => {
    const narrow = fitLodging({ density: [22, 26, 30], lodged: [1, 3, 6], examined: [60, 60, 60] });
    const result = harvestableOptimum({ gross, lodging: narrow }, { lossShare: 0.1 });
    expect(result.range).toEqual([22, 30]);
    expect(result.harvestable.agronomic).toMatchObject({ kind: "upper-edge", density: 30 });
    const apart = fitLodging({ density: [50, 60], lodged: [1, 3], examined: [60, 60] });
    expect(() => harvestableOptimum({ gross, lodging: apart })).toThrow(
      expect.objectContaining({ code: "not-estimable" }),
    );
  });

  test("options are checked", () => {
    expect(() => harvestableOptimum({ gross, lodging }, { lossShare: 1.2 })).toThrow(
      expect.objectContaining({ code: "invalid-option" }),
    );
    expect(() => harvestableOptimum({ gross, lodging }, { economics: { grainPrice: 0, seedCost: 1 } })).toThrow(
      expect.objectContaining({ code: "invalid-option" }),
    );
  });
});

describe("joint bootstrap", () => {
  const options = { lossShare: 0.5, economics, resamples: 299 };
  const result = harvestableOptimum({ gross, lodging, plots }, options);
  const bootstrap = result.bootstrap!;

  test("can be repeated, holds the estimates, and counts every replicate", () => {
    expect(harvestableOptimum({ gross, lodging, plots }, options)).toEqual(result);
    for (const [{ interval, count }, optimum] of [
      [bootstrap.harvestable.agronomic, result.harvestable.agronomic],
      [bootstrap.harvestable.economic!, result.harvestable.economic!],
    ] as const) {
      expect(interval.lower ?? 22).toBeLessThan(optimum.density!);
      expect(interval.upper ?? 42).toBeGreaterThan(optimum.density!);
      expect(count.inside + count.lowerEdge + count.upperEdge + count.missing).toBe(299);
    }
    expect(bootstrap.probabilityLower).toBeGreaterThan(0.5);
    expect(JSON.parse(JSON.stringify(result))).toEqual(result);
  });

  test("plots that yield little because they lodged keep that tie", () => {
    // Yields lowered by 0.8 for every lodged plant: the residuals of one plot go together.
    const tied = { ...plots, yield: plots.yield.map((y, i) => y - 0.8 * plots.lodged[i]) };
    const answer = harvestableOptimum({ gross: fitCurve("quadratic", tied), lodging, plots: tied }, { resamples: 99 });
    expect(answer.bootstrap!.residualCorrelation!).toBeLessThan(bootstrap.residualCorrelation! - 0.2);
  });

  test("a bias-reduced fit, or counts that separate, are resampled too: every replicate has its optimum", () => {
    const firth = fitLodging(plots, { bias: "firth" });
    const apart = { ...plots, lodged: plots.lodged.map((_, i) => (plots.density[i] > 34 ? plots.examined[i] : 0)) };
    for (const [own, fit] of [
      [plots, firth],
      [apart, fitLodging(apart)],
    ] as const) {
      const answer = harvestableOptimum({ gross, lodging: fit, plots: own }, { lossShare: 0.5, resamples: 99 });
      const { count } = answer.bootstrap!.harvestable.agronomic;
      expect(count.inside + count.lowerEdge + count.upperEdge + count.missing).toBe(99);
      expect(count.inside + count.lowerEdge).toBeGreaterThan(50);
    }
  });

  test("with one family and no lodging at all the harvestable replicates are the gross ones", () => {
    const bare = { ...plots, lodged: plots.lodged.map(() => 0) };
    const answer = harvestableOptimum(
      { gross, lodging: fitLodging(bare), plots: bare },
      { families: ["quadratic"], resamples: 99 },
    );
    expect(answer.bootstrap!.harvestable.agronomic).toEqual(answer.bootstrap!.gross.agronomic);
    expect(answer.bootstrap!.separated).toBe(99);
  });
});

test("scenarios: the later the count, the lower the density", () => {
  const later = fitLodging({ ...plots, lodged: plots.lodged.map((k) => Math.min(60, 2 * k + 3)) });
  const [early, late] = harvestScenarios(gross, [
    { date: "2031-09-20", lodging },
    { date: "2031-10-20", lodging: later },
  ]);
  expect([early.date, late.date]).toEqual(["2031-09-20", "2031-10-20"]);
  expect(late.optimum.harvestable.agronomic.density!).toBeLessThan(early.optimum.harvestable.agronomic.density!);
});

test("predictLodging averages shares over blocks and refuses a fit without estimate", () => {
  assertDigits(
    predictLodging(
      fitLodging({ density: [24, 28, 32, 36, 40], lodged: [6, 9, 17, 26, 44], examined: [200, 200, 200, 200, 200] }),
      [33.56275],
    )[0],
    0.1,
    6,
  );
  expect(() => predictLodging(fitLodging({ density: [1, 1], lodged: [1, 2], examined: [5, 5] }), [1])).toThrow(
    expect.objectContaining({ code: "not-estimable" }),
  );
});

test("greatestOnRange finds smooth tops, corners and ends", () => {
  expect(Math.abs(greatestOnRange((x) => -((x - 1.234) ** 2), 0, 3).at - 1.234)).toBeLessThan(1e-7);
  expect(greatestOnRange((x) => -Math.abs(x - 1.2345), 0, 3, [1.2345]).at).toBe(1.2345);
  expect(greatestOnRange((x) => x, 0, 3).at).toBe(3);
  expect(greatestOnRange((x) => -x, 0, 3).at).toBe(0);
  expect(greatestOnRange(() => 5, 0, 3).at).toBe(0);
  // Two tops: the higher one.
  const two = (x: number) => Math.exp(-((x - 0.5) ** 2) * 30) + 1.01 * Math.exp(-((x - 2.5) ** 2) * 30);
  expect(Math.abs(greatestOnRange(two, 0, 3).at - 2.5)).toBeLessThan(1e-6);
});
