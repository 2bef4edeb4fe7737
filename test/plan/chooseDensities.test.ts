import { describe, expect, test } from "vitest";
import { curveOf } from "../../src/curves/catalogue.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { type ChooseDensitiesOptions, chooseDensities } from "../../src/plan/chooseDensities.ts";
import { densityRows } from "../../src/plan/planRows.ts";
import { scoreDensities, simulateDensities } from "../../src/plan/scoreDensities.ts";
import { priorCurves } from "../../src/plan/truthCurves.ts";
import { densitiesText } from "../../src/report/planText.ts";
import { assertDigits } from "../assertDigits.ts";
import { expectJsonSafe } from "./jsonSafe.ts";

const prior = { optimum: [28, 36], lossBelow: { distance: 10, loss: [6, 12] }, bestYield: 200 } as const;
const small: ChooseDensitiesOptions = {
  prior,
  steps: { from: 16, to: 46, step: 5 },
  count: 4,
  sigma: 5,
  simulations: 2000,
};

/** All subsets of a size. */
function subsets(list: readonly number[], size: number): number[][] {
  if (size === 0) return [[]];
  return list.flatMap((first, i) => subsets(list.slice(i + 1), size - 1).map((rest) => [first, ...rest]));
}

/** Variance of a quadratic's vertex from the normal equations in x - x0, one replicate: only the linear term counts there. */
function vertexVariance(x: readonly number[], x0: number): number {
  const u = x.map((value) => value - x0);
  const m1 = u.reduce((sum, value) => sum + value, 0) / u.length;
  const m2 = u.reduce((sum, value) => sum + value * value, 0) / u.length;
  let [s11, s12, s22] = [0, 0, 0];
  for (const value of u) {
    s11 += (value - m1) ** 2;
    s12 += (value - m1) * (value * value - m2);
    s22 += (value * value - m2) ** 2;
  }
  return s22 / (s11 * s22 - s12 * s12);
}

describe("chooseDensities against looking at every set by other means", () => {
  const steps = Array.from({ length: 11 }, (_, i) => 16 + 3 * i);

  test("precision: the smallest variance of a quadratic's vertex among all sets", () => {
    for (const [optimum, count] of [
      [30, 3],
      [34, 4],
    ] as const) {
      const choice = chooseDensities({
        prior: {
          optimum: [optimum, optimum],
          lossBelow: { distance: 10, loss: 8 },
          bestYield: 200,
          families: { quadratic: 1 },
        },
        steps,
        count,
        sigma: 5,
        criterion: "precision",
        tooHigh: false,
        simulations: 50,
      });
      const all = subsets(steps, count).map((set) => ({ set, variance: vertexVariance(set, optimum) }));
      const least = Math.min(...all.map(({ variance }) => variance));
      assertDigits(vertexVariance(choice.recommended.densities, optimum), least, 10);
      expect(choice.searched).toBe(all.length);
      // sigma^2 / blocks / (2 b2)^2 times the variance in the unit above.
      assertDigits(choice.recommended.standardError, Math.sqrt((25 / 4) * least) / (2 * 0.08), 10);
    }
  });

  test("the optimal design for a vertex in the middle of the range puts plots on both ends alike", () => {
    // With the vertex centred only the slope counts, so the variance 1 / s11 is least when all densities sit at the ends.
    const choice = chooseDensities({
      prior: { optimum: [31, 31], lossBelow: { distance: 10, loss: 8 }, bestYield: 200, families: { quadratic: 1 } },
      steps,
      count: 4,
      sigma: 5,
      criterion: "precision",
      tooHigh: false,
      simulations: 50,
    });
    expect(choice.recommended.densities).toEqual([16, 19, 43, 46]);
  });

  test("family gap: the largest misfit of the nearest other family, by fits of noise-free yields", () => {
    const curves = priorCurves({
      optimum: [32, 32],
      lossBelow: { distance: 10, loss: 8 },
      bestYield: 200,
      families: { "quadratic-plateau": 1 },
    });
    const setting = { curves, blocks: 4, environments: 1, sigma: 5, level: 0.95, priceRatio: 0, priorSd: 0 };
    const { mean } = curveOf("quadratic-plateau");
    for (const set of subsets(steps, 4).filter((_, i) => i % 9 === 0)) {
      const density = set;
      const yields = density.map((x) => mean(x, curves[0].theta));
      const rss = (["quadratic", "linear-plateau"] as const).map(
        (family) => fitCurve(family, { density, yield: yields }).rss as number,
      );
      const gap = (4 * Math.min(...rss)) / 25;
      // Differences of sums of squares near zero keep an absolute, not a relative, accuracy.
      expect(Math.abs(scoreDensities(set, setting).familyGap - gap)).toBeLessThan(1e-9);
    }
  });

  test("bounded: no set beats the recommended one by more than the noise when all are simulated afresh", () => {
    const choice = chooseDensities(small);
    const curves = priorCurves(prior);
    const setting = { curves, blocks: 4, environments: 1, sigma: 5, level: 0.95, priceRatio: 0, priorSd: 1 };
    const needed = choice.highestNeeded as number;
    const sets = subsets(choice.steps, 4).filter((set) => set[3] >= needed);
    expect(choice.searched).toBe(sets.length);
    const chances = sets.map((set) => simulateDensities(set, setting, 2000, 77).bounded.value as number);
    const own = chances[sets.findIndex((set) => set.join() === choice.recommended.densities.join())];
    // Chosen within two errors of the best of one simulation, judged by another: four errors of a difference.
    expect(Math.max(...chances) - own).toBeLessThan(4 * Math.SQRT2 * (choice.recommended.bounded.error as number));
  });

  test("the approximate chance that ranks the sets follows the simulated one", () => {
    const curves = priorCurves(prior);
    const setting = { curves, blocks: 4, environments: 1, sigma: 5, level: 0.95, priceRatio: 0, priorSd: 1 };
    const pairs = subsets([16, 22, 28, 34, 40, 46], 4).map((set) => [
      scoreDensities(set, setting).boundedApproximation,
      simulateDensities(set, setting, 1000, 3).bounded.value as number,
    ]);
    // A normal approximation with both ends taken as independent: within 7 points.
    for (const [guess, chance] of pairs) expect(Math.abs(guess - chance)).toBeLessThan(0.07);
  });
});

describe("chooseDensities", () => {
  test("insists on a density that is clearly too high unless that is refused", () => {
    const choice = chooseDensities(small);
    expect(choice.recommended.hasTooHigh).toBe(true);
    for (const one of Object.values(choice.best))
      expect(one.densities[3]).toBeGreaterThanOrEqual(choice.highestNeeded as number);
    const low = { ...small, steps: [18, 22, 26, 30, 34, 38] };
    expect(() => chooseDensities(low)).toThrow(/clearly too high/);
    const refused = chooseDensities({ ...low, tooHigh: false });
    expect(refused.highestNeeded).toBeNull();
    expect(refused.notes.join()).toMatch(/refused/);
  });

  test("shows that a narrow range leaves nearly every trial unbounded (published simulations: 83 to 98 %)", () => {
    const choice = chooseDensities({ ...small, compareWith: [[24, 28, 32, 36]] });
    expect(choice.compared[0].bounded.value).toBeLessThan(0.17);
    expect(choice.recommended.bounded.value).toBeGreaterThan(0.35);
    expect(choice.compared[0].hasTooHigh).toBe(false);
  });

  test("gives the same answer for the same seed, and plain data", () => {
    const once = chooseDensities({ ...small, criterion: "discrimination" });
    expect(chooseDensities({ ...small, criterion: "discrimination" })).toEqual(once);
    expectJsonSafe(once);
    expect(once.recommended).toEqual(once.best.discrimination);
    const rows = densityRows(once);
    expect(rows.map((row) => row["role"])).toEqual([
      "recommended",
      "best for bounded",
      "best for precision",
      "best for discrimination",
      "evenly spread",
    ]);
    const text = densitiesText(once);
    expect(text).toContain(once.recommended.densities.join(", "));
    expect(text).toMatch(/seed label/);
    expect(text).not.toMatch(/NaN|Infinity|undefined|null/);
  });

  test("is not moved by the unit of density", () => {
    const perHectare = chooseDensities({
      ...small,
      prior: { optimum: [28e3, 36e3], lossBelow: { distance: 10e3, loss: [6, 12] }, bestYield: 200 },
      steps: { from: 16e3, to: 46e3, step: 5e3 },
    });
    const own = chooseDensities(small);
    expect(perHectare.recommended.densities.map((x) => x / 1000)).toEqual(own.recommended.densities);
    assertDigits(perHectare.recommended.remainingSd / 1000, own.recommended.remainingSd, 9);
  });

  test("names what is wrong", () => {
    expect(() => chooseDensities({ ...small, count: 9 })).toThrow(/count/);
    expect(() => chooseDensities({ ...small, steps: { from: 16, to: 46, step: 0.2 }, count: 6 })).toThrow(/coarser/);
    expect(() => chooseDensities({ ...small, prior: { ...prior, optimum: [36, 28] } })).toThrow(/optimum/);
    expect(() => chooseDensities({ ...small, sigma: -1 })).toThrow(/sigma/);
    expect(() => chooseDensities({ ...small, compareWith: [[20, 20]] })).toThrow(/differ/);
  });
});
