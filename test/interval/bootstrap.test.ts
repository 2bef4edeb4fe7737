import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { flexScore } from "../../src/derive/flexScore.ts";
import { agronomicOptimum, economicOptimum } from "../../src/derive/optimum.ts";
import { compareCurves } from "../../src/fit/compareCurves.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { fitRows } from "../../src/fit/leverage.ts";
import { bootstrapCurves } from "../../src/interval/bootstrap.ts";
import { residualPool } from "../../src/interval/sampler.ts";
import { assertDigits } from "../assertDigits.ts";

function trial(seed: number, weighted = false) {
  const random = streamRandom(seed, 0);
  const density: number[] = [];
  const block: number[] = [];
  for (let b = 0; b < 4; b++) {
    for (const x of [18, 23, 28, 33, 38, 43]) {
      density.push(x);
      block.push(b);
    }
  }
  return {
    density,
    block,
    yield: density.map((x, i) => 198 - 0.1 * Math.max(32 - x, 0) ** 2 + 3 * block[i] + 5 * random.normal()),
    ...(weighted ? { weight: density.map(() => 0.5 + random.next()) } : {}),
  };
}

describe("bootstrapCurves", () => {
  for (const weighted of [false, true]) {
    test(`every replicate is what the public functions give on the same resampled yields${weighted ? ", with weights" : ""}`, () => {
      const data = trial(3, weighted);
      const seed = 42;
      const between = [20, 40] as const;
      const result = bootstrapCurves(data, { seed, resamples: 120, keep: true, between, priceRatio: 0.6 });
      const prepared = prepareData(data);
      const base = compareCurves(data).fits.find((fit) => fit.family === result.base);
      if (!base) throw new Error("no base fit");
      const rows = fitRows(prepared, base);
      const pool = residualPool(rows, prepared.weight);
      const random = streamRandom(seed, 0);
      for (let i = 0; i < 120; i++) {
        const yields = Array.from(
          rows.fitted,
          (value, p) => value + pool[random.below(pool.length)] / Math.sqrt(prepared.weight[p]),
        );
        const again = compareCurves({ ...data, yield: yields });
        const fit = fitCurve(again.best as "linear", { ...data, yield: yields });
        expect(
          result.replicates?.family[i],
          `${i} ${JSON.stringify(again.ranking.map((r) => [r.family, r.delta]))} ${again.tied}`,
        ).toBe(again.best);
        const agronomic = agronomicOptimum(fit);
        if (agronomic.density === null) expect(result.replicates?.agronomic[i]).toBeNull();
        // 7 digits: the kernel works on projected sums; an optimum of a nearly straight curve loses a few of them.
        else assertDigits(result.replicates?.agronomic[i], agronomic.density, 7, `agronomic ${i}`);
        assertDigits(
          result.replicates?.economic?.[i],
          economicOptimum(fit, { grainPrice: 1, seedCost: 0.6 }).density as number,
          7,
          `economic ${i}`,
        );
        assertDigits(result.replicates?.flexScore?.[i], flexScore(fit, { between }).score as number, 7, `flex ${i}`);
      }
    });
  }

  test("counts every replicate: inside, at either end, missing", () => {
    const { agronomic, chosen, resamples } = bootstrapCurves(trial(8), { resamples: 3000 });
    const { inside, lowerEdge, upperEdge, missing } = agronomic.count;
    expect(inside + lowerEdge + upperEdge + missing).toBe(resamples);
    expect(Object.values(chosen).reduce((a, b) => a + b, 0)).toBe(resamples);
  });

  test("the same seed gives the same bytes, another seed does not", () => {
    const one = JSON.stringify(bootstrapCurves(trial(8), { seed: 5, resamples: 500, keep: true }));
    expect(JSON.stringify(bootstrapCurves(trial(8), { seed: 5, resamples: 500, keep: true }))).toBe(one);
    expect(JSON.stringify(bootstrapCurves(trial(8), { seed: 6, resamples: 500, keep: true }))).not.toBe(one);
  });

  test("residuals are divided by sqrt(1 - h), centred, and leverages sum to the number of coefficients", () => {
    const data = prepareData(trial(3));
    const fit = fitCurve("quadratic", trial(3));
    const rows = fitRows(data, fit);
    assertDigits(
      rows.leverage.reduce((a, b) => a + b, 0),
      6,
      10,
    );
    expect(Math.abs(residualPool(rows, data.weight).reduce((a, b) => a + b, 0))).toBeLessThan(1e-10);
  });

  test("smooth families, bad seeds and saturated data are refused with a code", () => {
    expect(() => bootstrapCurves(trial(1), { families: ["exponential"] })).toThrow(
      expect.objectContaining({ code: "not-offered" }),
    );
    expect(() => bootstrapCurves(trial(1), { seed: -1 })).toThrow(expect.objectContaining({ code: "invalid-option" }));
    expect(() => bootstrapCurves({ density: [1, 2], yield: [1, 2] }, { families: ["linear"] })).toThrow(
      expect.objectContaining({ code: "not-estimable" }),
    );
  });

  test("replicates vary like the errors they stand for: the flex score of a line has its first-order standard error", () => {
    const data = trial(12);
    const fit = fitCurve("linear", data);
    const result = bootstrapCurves(data, { families: ["linear"], resamples: 20_000, keep: true, between: [20, 40] });
    const scores = (result.replicates?.flexScore ?? []) as number[];
    const mean = scores.reduce((a, b) => a + b, 0) / scores.length;
    const sd = Math.sqrt(scores.reduce((a, b) => a + (b - mean) ** 2, 0) / scores.length);
    const { linear } = fit.coefficients as { linear: number };
    const level = (x: number): number => (fit.coefficients["intercept"] as number) + linear * x;
    // First-order standard error of the score through the slope; the level's own error is 40 times smaller.
    const slopeError = fit.standardErrors["linear"] as number;
    const h = 1e-4;
    const shifted = (d: number): number => {
      const x = 30.5; // mean density: slope and level are independent there
      const y = (v: number): number => level(x) + (linear + d) * (v - x);
      return 100 * (1 - Math.log(y(40) / y(20)) / Math.log(2));
    };
    const expected = (Math.abs(shifted(h) - shifted(-h)) / (2 * h)) * slopeError;
    // 5 %: first-order formula, Monte-Carlo error 0.5 %.
    expect(Math.abs(sd / expected - 1)).toBeLessThan(0.05);
  });
});
