import { beforeAll, describe, expect, test } from "vitest";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import type { TrialAnalysis } from "../../src/analyze/result.ts";
import { streamRandom } from "../../src/core/random.ts";
import { curveOf } from "../../src/curves/catalogue.ts";
import { chooseDensities } from "../../src/plan/chooseDensities.ts";
import { pastFromAnalysis, pastFromTrial } from "../../src/plan/pastPlots.ts";
import { nextRows } from "../../src/plan/planRows.ts";
import { posteriorCurves } from "../../src/plan/posteriorCurves.ts";
import { trialPower } from "../../src/plan/trialPower.ts";
import { trueOptimum } from "../../src/plan/truthCurves.ts";
import { whatNext } from "../../src/plan/whatNext.ts";
import { whatNextText } from "../../src/report/planText.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import type { Trial } from "../../src/trial/trial.ts";
import { assertDigits } from "../assertDigits.ts";
import { dummies, plainRss } from "../bruteForce.ts";
import { expectJsonSafe } from "./jsonSafe.ts";

/** A trial of 200 - 0.08 (x - 34)^2 with block effects, thousand seeds per acre. */
function grow(densities: readonly number[], blocks: number, sigma: number, seed: number): Trial {
  const random = streamRandom(seed, 0);
  const lines = ["hybrid,block,seeding_rate_k_ac,yield_bu_ac"];
  for (let b = 1; b <= blocks; b++)
    for (const x of densities)
      lines.push(`Amber 12,${b},${x},${(200 - 0.08 * (x - 34) ** 2 + 3 * b + sigma * random.normal()).toFixed(4)}`);
  const { trial } = readTrial(lines.join("\n"));
  if (trial === null) throw new Error("the invented trial must be readable");
  return trial;
}

const analyse = (trial: Trial): TrialAnalysis => analyzeTrial(trial, { resamples: 0 });
let open: { trial: Trial; analysis: TrialAnalysis };
let closed: { trial: Trial; analysis: TrialAnalysis };
beforeAll(() => {
  const narrow = grow([24, 28, 32, 36], 4, 4, 1);
  open = { trial: narrow, analysis: analyse(narrow) };
  const wide = grow([18, 23, 28, 33, 38, 43], 4, 4, 2);
  closed = { trial: wide, analysis: analyse(wide) };
});

function pooled({ hybrids }: TrialAnalysis) {
  const [first] = hybrids;
  if (first?.pooled.kind !== "analysed") throw new Error("must be analysed");
  return first.pooled;
}

describe("what plots already grown leave possible", () => {
  test("weights are RSS^(-(plots - blocks) / 2) by plain least squares of block dummies", () => {
    const past = pastFromTrial(closed.trial, "Amber 12");
    const curves = posteriorCurves(past, 4, 190);
    const block = closed.trial.plots.map((plot) => Number(plot.block));
    const one = block.map(() => 1);
    const log = ({ family, theta }: (typeof curves)[number]): number => {
      const rest = closed.trial.plots.map(
        (plot) => (plot.yield as number) - curveOf(family).mean(plot.density as number, theta),
      );
      return -((24 - 4) / 2) * Math.log(plainRss(dummies(block), rest, one));
    };
    const some = curves.filter(({ weight }) => weight > 1e-3).filter((_, i) => i % 17 === 0);
    expect(some.length).toBeGreaterThan(5);
    // Weights come from exponents of about 50, which magnify rounding a hundredfold.
    for (const curve of some.slice(1))
      assertDigits(curve.weight / some[0].weight, Math.exp(log(curve) - log(some[0])), 9);
  });

  test("with many plots the optimum is where the truth has it, as precisely as the standard error says", () => {
    const past = pastFromTrial(grow([18, 23, 28, 33, 38, 43], 40, 4, 3), "Amber 12");
    const curves = posteriorCurves(past, 4, 190, { families: { quadratic: 1 } });
    let [total, sum, squares] = [0, 0, 0];
    for (const curve of curves) {
      const x = trueOptimum(curve, 0).density as number;
      total += curve.weight;
      sum += curve.weight * x;
      squares += curve.weight * x * x;
    }
    const mean = sum / total;
    const sd = Math.sqrt(squares / total - mean ** 2);
    // Standard error for 40 blocks by the closed form: 1.0348 x (4 / 5) x sqrt(4 / 40) = 0.262; the grid is 0.9 wide.
    expect(Math.abs(mean - 34)).toBeLessThan(0.9);
    expect(sd).toBeLessThan(0.262 + 0.9 / Math.sqrt(12));
  });

  test("plots that show no bend leave the optimum anywhere above them", () => {
    const random = streamRandom(4, 0);
    const rows = [1, 2, 3, 4].flatMap((block) =>
      [20, 24, 28, 32].map((x) => ({
        hybrid: "A",
        block,
        seeding_rate_k_ac: x,
        yield_bu_ac: 100 + 3 * x + random.normal(),
      })),
    );
    const { trial } = readTrial(rows);
    const curves = posteriorCurves(pastFromTrial(trial as Trial, "A"), 1, 180);
    const above = curves.reduce(
      (sum, curve) => sum + ((trueOptimum(curve, 0).density as number) > 31.5 ? curve.weight : 0),
      0,
    );
    expect(above / curves.reduce((sum, { weight }) => sum + weight, 0)).toBeGreaterThan(0.95);
  });

  test("an earlier analysis serves as prior and as scatter for densities and power", () => {
    const earlier = { analysis: closed.analysis, trial: closed.trial };
    const choice = chooseDensities({
      prior: earlier,
      sigma: earlier,
      steps: { from: 16, to: 64, step: 8 },
      count: 4,
      simulations: 200,
    });
    const fit = pooled(closed.analysis).comparison.fits.find(({ family }) => family === pooled(closed.analysis).chosen);
    assertDigits(choice.noise.sigma, fit?.sigma as number, 12);
    const [low, high] = choice.prior.optimum as readonly [number, number];
    expect(low).toBeLessThan(34);
    expect(high).toBeGreaterThan(34);
    const { points } = trialPower({
      prior: { analysis: closed.analysis },
      sigma: earlier,
      densities: [18, 26, 34, 42],
      simulations: 200,
    });
    expect(points[0].optimum.bounded.of).toBe(200);
  });
});

describe("whatNext", () => {
  test("starts from the interval and optimum of the analysis itself", () => {
    for (const { trial, analysis } of [open, closed]) {
      const { now, basis } = whatNext(analysis, { trial, simulations: 20 });
      const { interval, optimum } = pooled(analysis).agronomic;
      expect(basis).toBe("plots");
      expect([now.lower === null, now.upper === null]).toEqual([interval.lowerOpen, interval.upperOpen]);
      if (interval.lower !== null) assertDigits(now.lower, interval.lower, 8);
      if (interval.upper !== null) assertDigits(now.upper, interval.upper, 8);
      assertDigits(now.optimum, optimum.density as number, 8);
    }
  });

  test("plots rebuilt from the analysis have its residual sum of squares and optimum", () => {
    const curve = pooled(closed.analysis);
    const past = pastFromAnalysis(curve);
    const fit = curve.comparison.fits.find(({ family }) => family === curve.chosen);
    const { now, basis, notes } = whatNext(closed.analysis, { simulations: 20 });
    expect(basis).toBe("fitted-curve");
    expect(notes.join()).toMatch(/rebuilt/);
    assertDigits(now.optimum, curve.agronomic.optimum.density as number, 6);
    expect(past.total).toBeGreaterThan(fit?.rss as number);
    expect(past.plots).toBe(24);
  });

  test("a narrow trial is told that a further, higher density buys most", () => {
    const { now, additions, recommended } = whatNext(open.analysis, { trial: open.trial });
    expect(now.bounded).toBe(false);
    expect(recommended).not.toBeNull();
    const best = additions[recommended as number];
    expect(best.kind).toBe("density");
    expect(best.density).toBeGreaterThan(36);
    const blocks = additions.filter(({ kind }) => kind === "blocks");
    for (const one of blocks) expect(best.bounded.value).toBeGreaterThan(one.bounded.value as number);
  });

  test("more blocks narrow a bounded interval, and lose less", () => {
    const trial = grow([18, 23, 28, 33, 38, 43], 8, 3, 2);
    const { additions, now } = whatNext(analyse(trial), {
      trial,
      blocks: [2, 8],
      sites: [],
      densities: [],
    });
    expect(now.bounded).toBe(true);
    expect(additions[1].width.value).toBeLessThan(additions[0].width.value as number);
    expect(additions[1].regret.value).toBeLessThan(now.regret.value as number);
    // Saved and lost add up to what is lost now, in the same simulations.
    for (const { saved, regret } of additions)
      assertDigits((saved.value as number) + (regret.value as number), now.regret.value as number, 6);
  });

  test("where the optimum moves between places, new places save what blocks at the old one cannot", () => {
    const { additions } = whatNext(closed.analysis, {
      trial: closed.trial,
      blocks: [8],
      sites: [2],
      densities: [],
      spread: { site: 4 },
      // Of plateau curves a rate above the join costs nothing, so that there is less to save.
      families: { quadratic: 1 },
    });
    const [blocks, sites] = additions;
    expect(blocks.plots).toBe(sites.plots);
    expect((sites.saved.value as number) - (blocks.saved.value as number)).toBeGreaterThan(
      3 * Math.hypot(sites.saved.error as number, blocks.saved.error as number),
    );
  });

  test("saves as much as a decision worked out plot by plot: posterior by least squares of block dummies, expected loss on a fine grid", () => {
    const densities = [22, 28, 34, 40];
    const trial = grow(densities, 3, 5, 11);
    const analysis = analyse(trial);
    const options = { trial, blocks: [3], sites: [], densities: [], optimumRange: [20, 50] as const, seed: 5 };
    const next = whatNext(analysis, { ...options, simulations: 1500 });
    const { sigma, now, additions } = next;
    const curves = posteriorCurves(pastFromTrial(trial, "Amber 12"), sigma, pooled(analysis).meanYield, options);
    const rates = Array.from({ length: 181 }, (_, i) => 22 + i / 10);
    const best = curves.map((curve) =>
      curveOf(curve.family).mean(trueOptimum(curve, 0).density as number, curve.theta),
    );
    const loss = curves.map((curve, c) => rates.map((x) => best[c] - curveOf(curve.family).mean(x, curve.theta)));
    const least = (weights: readonly number[]): number => {
      let [place, value] = [0, Number.POSITIVE_INFINITY];
      rates.forEach((_, i) => {
        const sum = weights.reduce((total, w, c) => total + w * loss[c][i], 0);
        if (sum < value) [place, value] = [i, sum];
      });
      return place;
    };
    const prior = curves.map(({ weight }) => weight);
    let total = 0;
    const cumulative = prior.map((weight) => {
      total += weight;
      return total;
    });
    const before = least(prior);
    // Steps of the package's own candidates are 0.225; near the least loss that moves little.
    expect(Math.abs(rates[before] - now.rate)).toBeLessThan(0.35);
    const told = curves.map((curve) => densities.map((x) => curveOf(curve.family).mean(x, curve.theta)));
    const gains: number[] = [];
    for (let i = 0; i < 400; i++) {
      const random = streamRandom(99, i);
      const at = random.next() * total;
      const truth = Math.max(
        cumulative.findIndex((sum) => at < sum),
        0,
      );
      const blocks = [0, 1, 2].map(() => densities.map((_, j) => told[truth][j] + sigma * random.normal()));
      const weights = curves.map((_, c) => {
        let rss = 0;
        for (const block of blocks) {
          const rest = block.map((y, j) => y - told[c][j]);
          const level = rest.reduce((a, b) => a + b, 0) / rest.length;
          for (const r of rest) rss += (r - level) ** 2;
        }
        return prior[c] * Math.exp(-rss / (2 * sigma * sigma));
      });
      gains.push(loss[truth][before] - loss[truth][least(weights)]);
    }
    const mean = gains.reduce((a, b) => a + b, 0) / gains.length;
    const error = Math.sqrt(gains.reduce((a, g) => a + (g - mean) ** 2, 0) / (gains.length - 1) / gains.length);
    const { saved } = additions[0];
    expect(mean).toBeGreaterThan(4 * error);
    // Two simulations of their own: three times the error of their difference.
    expect(Math.abs((saved.value as number) - mean)).toBeLessThan(3 * Math.hypot(error, saved.error as number));
  });

  test("more plots never lose, wherever the optimum truly is, and more of them save more", () => {
    // Known truths: optimum inside, beyond the range, and a rise to a join; four blocks each.
    for (const [k, yieldAt] of [
      (x: number) => 200 - 0.08 * (x - 34) ** 2,
      (x: number) => 236 - 0.045 * (50 - x) ** 2,
      (x: number) => 218 - 2 * Math.max(30 - x, 0),
    ].entries()) {
      const random = streamRandom(21, k);
      const rows = [1, 2, 3, 4].flatMap((block) =>
        [18, 23, 28, 33, 38, 43].map((x) => ({
          hybrid: "A",
          block,
          seeding_rate_k_ac: x,
          yield_bu_ac: yieldAt(x) + 3 * block + 6 * random.normal(),
        })),
      );
      const trial = readTrial(rows).trial as Trial;
      const next = whatNext(analyse(trial), { trial, blocks: [2, 8, 40], simulations: 400 });
      for (const { label, saved } of next.additions)
        expect(saved.value, label).toBeGreaterThanOrEqual(-2 * (saved.error as number));
      const [two, eight, forty] = next.additions.map(({ saved }) => saved.value as number);
      expect(eight).toBeGreaterThanOrEqual(two);
      expect(forty).toBeGreaterThanOrEqual(eight);
      expect(next.now.regret.value).toBeLessThanOrEqual(
        (next.now.optimumRegret.value as number) + 2 * (next.now.optimumRegret.error as number),
      );
    }
  });

  test("an optimum known beforehand leaves nothing to save", () => {
    const { now, additions } = whatNext(closed.analysis, {
      trial: closed.trial,
      optimumRange: [33, 33],
      blocks: [4],
      sites: [1],
      densities: [],
      simulations: 50,
    });
    // 33 is a density of the trial, so a candidate.
    expect(now.rate).toBeCloseTo(33, 9);
    expect(now.regret.value).toBeCloseTo(0, 9);
    for (const { saved } of additions) expect(saved.value).toBeCloseTo(0, 9);
  });

  test("is plain data, the same for the same seed, with rows and text", () => {
    const options = { trial: open.trial, simulations: 60 };
    const next = whatNext(open.analysis, options);
    expect(whatNext(open.analysis, options)).toEqual(next);
    // A result that went through JSON serves as well.
    expect(whatNext(JSON.parse(JSON.stringify(open.analysis)), options)).toEqual(next);
    expectJsonSafe(next);
    expect(nextRows(next)).toHaveLength(next.additions.length);
    expect(whatNextText(next)).toMatch(/Amber 12 so far: 16 plots in 4 blocks/);
    expect(whatNextText(next)).not.toMatch(/NaN|Infinity|undefined|null/);
  });

  test("names what is wrong", () => {
    expect(() => whatNext(open.analysis, { hybrid: "Nobody" })).toThrow(/not among/);
    expect(() => whatNext({} as TrialAnalysis)).toThrow(/analyzeTrial/);
    expect(() => whatNext(open.analysis, { blocks: [0] })).toThrow(/integers/);
  });
});
