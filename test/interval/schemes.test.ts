import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { fitPrepared } from "../../src/fit/fitCurve.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { fitRows } from "../../src/fit/leverage.ts";
import {
  type BootstrapOptions,
  bootstrapCurves,
  bootstrapStreams,
  mergeBootstrap,
} from "../../src/interval/bootstrap.ts";
import { bootstrapJob, distribution, drawStreams } from "../../src/interval/bootstrapJob.ts";
import { type IntervalData, prepareIntervalData } from "../../src/interval/intervalData.ts";
import { summarise } from "../../src/interval/limits.ts";
import { residualPool, residualSampler } from "../../src/interval/sampler.ts";
import { valueScalar } from "../../src/interval/scalar.ts";
import { valueAt } from "../../src/interval/scaledCurve.ts";
import { joinResponse } from "../../src/numeric/joinDesign.ts";
import { assertDigits } from "../assertDigits.ts";

/** Invented trial; `environments` > 1 repeats it with a shift and new errors. */
function trial(seed: number, { blocks = 4, environments = 1, plots = 1, sd = 4 } = {}): Required<IntervalData> {
  const random = streamRandom(seed, 0);
  const density: number[] = [];
  const yields: number[] = [];
  const block: string[] = [];
  const environment: string[] = [];
  for (let e = 0; e < environments; e++) {
    for (let b = 0; b < blocks; b++) {
      for (const x of [18, 23, 28, 33, 38, 43]) {
        for (let p = 0; p < plots; p++) {
          density.push(x);
          block.push(`${b + 1}`);
          environment.push(`site ${e + 1}`);
          yields.push(198 + 5 * e - 0.1 * Math.max(34 - x, 0) ** 2 + 2 * b + sd * random.normal());
        }
      }
    }
  }
  return {
    density,
    yield: yields,
    block,
    environment,
    weight: density.map(() => 1),
    cluster: density.map((_, i) => i),
  };
}

const without = ({ density, yield: y, block }: IntervalData): IntervalData => ({
  density,
  yield: y,
  ...(block ? { block } : {}),
});

describe("random numbers", () => {
  test("the generator written out in the residual sampler makes the numbers of core/random.ts", () => {
    const data = prepareData(without(trial(5)));
    const rows = fitRows(data, fitPrepared("quadratic-plateau", data));
    const pool = residualPool(rows, data.weight);
    const fast = residualSampler(data, rows);
    const plain = residualSampler(data, rows);
    for (const [seed, stream] of [
      [1, 0],
      [2 ** 53 - 1, 4],
      [77, 2 ** 31],
    ]) {
      const random = streamRandom(seed, stream);
      fast.begin(seed, stream);
      for (let i = 0; i < 50; i++) {
        const indices = Array.from(data.x, () => random.below(pool.length));
        fast.draw();
        plain.drawGiven(indices);
        expect(fast.moments).toEqual(plain.moments);
      }
    }
  });

  test("any split of the streams over workers gives the same bytes, for every scheme", () => {
    const many = trial(6, { environments: 8, blocks: 2 });
    const few = without(trial(6));
    const schemes: [IntervalData, BootstrapOptions][] = [
      [few, {}],
      [few, { scheme: "wild", limits: "basic" }],
      [few, { scheme: "parametric", limits: "studentised" }],
      [few, { scheme: "case", limits: "bca" }],
      [many, { scheme: "cluster" }],
    ];
    for (const [data, scheme] of schemes) {
      const options = { ...scheme, resamples: 1300, seed: 9, priceRatio: 0.4, between: [20, 40] as const, keep: true };
      const whole = JSON.stringify(bootstrapCurves(data, options));
      const one = mergeBootstrap(data, options, [bootstrapStreams(data, options, 0, 2)]);
      const spread = [1, 0].map((s) => structuredClone(bootstrapStreams(data, options, s, s + 1)));
      expect(JSON.stringify(one)).toBe(whole);
      expect(JSON.stringify(mergeBootstrap(data, options, spread))).toBe(whole);
      expect(() => mergeBootstrap(data, options, spread.slice(1))).toThrow(
        expect.objectContaining({ code: "invalid-data" }),
      );
    }
  });
});

describe("schemes", () => {
  test("drawn totals and level sums are those of the yields they stand for", () => {
    // Yields built in full from known indices, against the one-pass algebra of the sampler; weights and missing plots included.
    const random = streamRandom(3, 0);
    const full = trial(8);
    const keep = Array.from(full.density, (_, i) => i).filter((i) => i % 7 !== 3);
    const data = prepareData({
      density: keep.map((i) => full.density[i]),
      yield: keep.map((i) => full.yield[i]),
      block: keep.map((i) => full.block[i]),
      weight: keep.map((i) => 1 + (i % 3)),
    });
    const rows = fitRows(data, fitPrepared("quadratic", data));
    const pool = residualPool(rows, data.weight);
    const sampler = residualSampler(data, rows);
    const m = data.design.levels.length;
    for (let k = 0; k < 20; k++) {
      const indices = Array.from(data.x, () => random.below(pool.length));
      sampler.drawGiven(indices);
      const y = Float64Array.from(data.x, (_, i) => rows.fitted[i] + pool[indices[i]] / Math.sqrt(data.weight[i]));
      const response = joinResponse(data.design, y);
      assertDigits(sampler.moments[m], response.total, 11);
      // Level sums are differences of larger sums: digits against the largest of them.
      sampler.moments.subarray(0, m).forEach((value, l) => {
        expect(Math.abs(value - response.sums[l])).toBeLessThan(1e-10 * Math.sqrt(response.total));
      });
      assertDigits(sampler.moments[m + 1], response.blockMean.reduce((a, b) => a + b, 0) / data.design.blocks, 12);
    }
  });

  test("residual, wild and parametric replicates of a straight line vary as theory says", () => {
    // Slope of a line: residual and parametric variance s2 / Sxx; HC3-type wild variance sum (x - xbar)^2 (r / (1 - h))^2 / Sxx^2.
    const data = without(trial(12, { sd: 6 }));
    const prepared = prepareIntervalData(data);
    const fit = fitPrepared("linear", prepared);
    const rows = fitRows(prepared, fit);
    const { x, block, design } = prepared;
    const centre = x.reduce((sum, value) => sum + value, 0) / x.length;
    const sxx = x.reduce((sum, value) => sum + (value - centre) ** 2, 0);
    const wild =
      x.reduce((sum, v, i) => sum + ((v - centre) * rows.residuals[i]) ** 2 / (1 - rows.leverage[i]) ** 2, 0) /
      sxx ** 2;
    const pool = residualPool(rows, prepared.weight);
    const residual = pool.reduce((sum, e) => sum + e * e, 0) / pool.length / sxx;
    const expected = { residual, parametric: (fit.sigma as number) ** 2 / sxx, wild };
    const resamples = 40_000;
    for (const scheme of ["residual", "parametric", "wild"] as const) {
      const job = bootstrapJob(prepared, { families: ["linear"], scheme, resamples });
      const draws = drawStreams(job, 0, resamples / 1000);
      const slopes = draws.b.map((b) => b / design.span);
      const mean = slopes.reduce((sum, b) => sum + b, 0) / resamples;
      const variance = slopes.reduce((sum, b) => sum + (b - mean) ** 2, 0) / (resamples - 1);
      // 5 Monte-Carlo standard deviations: sqrt(2 / B) of a variance, 1 / sqrt(B) standard errors of a mean.
      expect(Math.abs(variance / expected[scheme] - 1), scheme).toBeLessThan(5 * Math.sqrt(2 / resamples));
      expect(Math.abs(mean - (fit.coefficients["linear"] as number))).toBeLessThan(5 * Math.sqrt(variance / resamples));
    }
    expect(block.length).toBe(24);
  });

  test("a level of the average block is kept in every replicate", () => {
    const data = prepareIntervalData(without(trial(4)));
    const fit = fitPrepared("quadratic-plateau", data);
    const job = bootstrapJob(data, { families: ["quadratic-plateau"], resamples: 2000 });
    const { family, a, b, c } = drawStreams(job, 0, 2);
    const plateau = a.reduce((sum, _, i) => sum + valueAt(family[i], a[i], b[i], c[i], 1), 0) / 2000;
    expect(Math.abs(plateau - (fit.coefficients["plateau"] as number))).toBeLessThan(0.5);
  });

  test("cluster resampling is refused below 8 environments, and needs to know them", () => {
    const seven = trial(2, { environments: 7, blocks: 2 });
    const refused = expect.objectContaining({ code: "not-offered" });
    expect(() => bootstrapCurves(seven, { scheme: "cluster" })).toThrow(refused);
    expect(() => bootstrapCurves(seven, { scheme: "cluster" })).toThrow(/7 environments are too few/);
    expect(() => bootstrapCurves(without(seven), { scheme: "cluster" })).toThrow(refused);
    const nine = bootstrapCurves(trial(2, { environments: 9, blocks: 2 }), { scheme: "cluster" });
    expect(nine.warnings.join()).toContain("somewhat short");
    expect(nine.drawn).toContain("environments");
  });

  test("a drawn environment counts as often as it was drawn: whole-environment weights equal doubled data", () => {
    // All environments equal but for a shift: every whole-environment resample is the same curve.
    const one = trial(3, { blocks: 2 });
    const copies = Array.from({ length: 8 }, (_, e) => e);
    const data: IntervalData = {
      density: copies.flatMap(() => Array.from(one.density)),
      yield: copies.flatMap((e) => Array.from(one.yield, (y) => y + 10 * e)),
      block: copies.flatMap(() => Array.from(one.block)),
      environment: copies.flatMap((e) => Array.from(one.density, () => e)),
    };
    const result = bootstrapCurves(data, { families: ["quadratic"], scheme: "cluster", resamples: 200, keep: true });
    for (const optimum of result.replicates?.agronomic ?? [])
      assertDigits(optimum, result.replicates?.agronomic[0] as number, 10);
  });

  test("case resampling of few plots is done with a warning, within block and density where that is replicated", () => {
    const four = bootstrapCurves(without(trial(1)), { scheme: "case", resamples: 1000 });
    expect(four.drawn).toBe("plots within density");
    expect(four.warnings.join()).toContain("too short");
    const double = bootstrapCurves(without(trial(1, { plots: 2 })), { scheme: "case", resamples: 1000 });
    expect(double.drawn).toBe("plots within density and block");
    const single = { density: [18, 23, 28, 33, 38], yield: [170, 185, 196, 197, 194] };
    expect(() => bootstrapCurves(single, { scheme: "case" })).toThrow(expect.objectContaining({ code: "not-offered" }));
  });

  test("plots of one strip are resampled together: residuals are refused, signs are shared by default", () => {
    const data = without(trial(7));
    const strips = { ...data, cluster: Array.from(data.density, (_, i) => Math.floor(i / 3)) };
    expect(() => bootstrapCurves(strips, { scheme: "residual" })).toThrow(/share a strip/);
    const result = bootstrapCurves(strips, { resamples: 1000 });
    expect(result.scheme).toBe("wild");
    expect(result.multipliers).toBe("webb");
    expect(result.drawn).toContain("8 strips");
    const few = { ...data, cluster: data.block as string[] };
    expect(() => bootstrapCurves(few)).toThrow(/patterns of signs/);
  });

  test("studentised limits need a fixed layout; unknown names are refused with a code", () => {
    const data = without(trial(1));
    const code = (code: string): unknown => expect.objectContaining({ code });
    expect(() => bootstrapCurves(data, { scheme: "case", limits: "studentised" })).toThrow(code("not-offered"));
    expect(() => bootstrapCurves(data, { scheme: "jack" as "case" })).toThrow(code("invalid-option"));
    expect(() => bootstrapCurves(data, { limits: "bc" as "bca" })).toThrow(code("invalid-option"));
    expect(() => bootstrapCurves(data, { quantile: 5 as 6 })).toThrow(code("invalid-option"));
    expect(() => bootstrapCurves(data, { multipliers: "coin" as "webb", scheme: "wild" })).toThrow(
      code("invalid-option"),
    );
    expect(bootstrapCurves(data, { resamples: 100 }).warnings.join()).toContain("at least 400");
    expect(bootstrapCurves(data, { limits: "bca" }).warnings.join()).toContain("name one family");
    expect(bootstrapCurves(data, { limits: "bca", families: ["quadratic"] }).warnings).toEqual([]);
  });
});

describe("limits", () => {
  const identity = (value: number): number => value;
  test("values at an end and missing ones are counted, and open the end they reach", () => {
    const values = Float64Array.from({ length: 1000 }, (_, i) =>
      i < 30 ? -1 : i < 940 ? i / 1000 : i < 970 ? 2 : Number.NaN,
    );
    const { interval, count } = summarise(values, 0.95, { low: 0, high: 1 }, identity);
    expect(count).toEqual({ inside: 910, lowerEdge: 30, upperEdge: 30, missing: 30 });
    expect([interval.lower, interval.upper]).toEqual([null, null]);
    const narrower = summarise(values, 0.8, { low: 0, high: 1 }, identity).interval;
    // Rank 99.9 from below with 60 values under the sorted ones (30 at the end, 30 missing): sorted[39.9].
    assertDigits(narrower.lower, 0.0699, 10);
    assertDigits(narrower.upper, 0.8991, 10);
  });

  test("basic limits mirror the percentile ones about the estimate and open on the other side", () => {
    const values = Float64Array.from({ length: 999 }, (_, i) => 10 + i / 100);
    const options = { kind: "basic", estimate: 14 } as const;
    const percentile = summarise(values, 0.9, null, identity).interval;
    const basic = summarise(values, 0.9, null, identity, options).interval;
    assertDigits(basic.lower, 28 - (percentile.upper as number), 12);
    assertDigits(basic.upper, 28 - (percentile.lower as number), 12);
    const censored = summarise(values, 0.9, { low: 10.2, high: 19 }, identity, options).interval;
    expect([censored.lowerOpen, censored.upperOpen]).toEqual([true, false]);
  });

  test("Monte-Carlo error of a limit is the spread of that limit over independent runs", () => {
    const data = without(trial(21));
    const runs = Array.from({ length: 60 }, (_, seed) =>
      bootstrapCurves(data, { families: ["quadratic"], resamples: 2000, seed }),
    );
    const lower = runs.map((run) => run.agronomic.interval.lower as number);
    const mean = lower.reduce((sum, v) => sum + v, 0) / lower.length;
    const spread = Math.sqrt(lower.reduce((sum, v) => sum + (v - mean) ** 2, 0) / (lower.length - 1));
    const stated = runs.reduce((sum, run) => sum + (run.agronomic.lowerError as number), 0) / runs.length;
    // 60 runs give the spread itself to +-9 %; 30 % is three of those and the bias of a two-point slope.
    expect(Math.abs(stated / spread - 1)).toBeLessThan(0.3);
  });

  test("studentised limits of a mean are Student's t limits for normal errors", () => {
    // One block, flat curve, parametric scheme: (t* - t) / s* is exactly Student's t on n - 1 degrees of freedom.
    const data = { density: [18, 23, 28, 33, 38, 43], yield: [190, 195, 188, 201, 193, 197] };
    const prepared = prepareIntervalData(data);
    const options = { families: ["flat"], scheme: "parametric", limits: "studentised", resamples: 60_000 } as const;
    const job = bootstrapJob(prepared, options);
    const { interval, lowerError } = distribution(job, drawStreams(job, 0, 60), valueScalar(prepared.design, 18));
    const mean = data.yield.reduce((sum, y) => sum + y, 0) / 6;
    const sd = Math.sqrt(data.yield.reduce((sum, y) => sum + (y - mean) ** 2, 0) / 5);
    // qt(0.975, 5) = 2.570582 in any table.
    const lower = mean - (2.570582 * sd) / Math.sqrt(6);
    expect(Math.abs((interval.lower as number) - lower)).toBeLessThan(4 * (lowerError as number));
    expect(lowerError).toBeLessThan(0.1);
  });
});
