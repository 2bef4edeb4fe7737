import { streamRandom } from "../core/random.ts";
import { curveOf } from "../curves/catalogue.ts";
import type { InnerFamily } from "../curves/family.ts";
import { contrastPower, linearContrast } from "./contrastPower.ts";
import { type EnvironmentSpread, trialDraw } from "./drawTrial.ts";
import { envelopeCutoffs } from "./envelopeCutoffs.ts";
import { plannedDesign } from "./plannedDesign.ts";
import { meanOf, quantileOf, type Share, type SimulatedMean, shareOf } from "./share.ts";
import { type Envelope, simulatedAnswer } from "./simulatedAnswer.ts";
import { bestWithin, curveSchedule, type TruthCurve, trueOptimum } from "./truthCurves.ts";

/** What simulated trials of one design said. Shares are over the trials that could be analysed. */
export interface OptimumPower {
  readonly simulations: number;
  /** Trials that could not be analysed; apart from the shares, never counted as "not significant". */
  readonly failed: { readonly count: number; readonly reason: string | null };
  /** The optimum's interval has both ends inside the tested range; its lower, its upper end has. */
  readonly bounded: Share;
  readonly lowerBounded: Share;
  readonly upperBounded: Share;
  /** No response to density is compatible with the trial. */
  readonly flatNotExcluded: Share;
  /** The interval holds the true optimum; over trials whose true curve has one. */
  readonly covered: Share;
  /** Upper end - lower end of the bounded intervals, density units. */
  readonly width: SimulatedMean & { readonly median: number | null; readonly nineOfTen: number | null };
  /** The interval is bounded and at most twice `halfWidth` wide; null when that was not asked. */
  readonly within: Share | null;
  /** The trial shows that another rate beats the present one; null without present rate or stated gain. */
  readonly gain: GainPower | null;
  /** Yield lost by planting the trial's best rate instead of the truly best one (net of seed at the price ratio). */
  readonly regret: SimulatedMean & { readonly nineOfTen: number | null };
  /** The chance of a bounded interval, by true family. */
  readonly byFamily: readonly { readonly family: InnerFamily; readonly bounded: Share }[];
  /** Chance that the linear trend in an analysis of variance is significant at 1 - level: closed form. */
  readonly linearTrend: number | null;
}

export interface GainPower {
  /** True gain of the best rate over the present one, averaged over the curves. */
  readonly gain: number;
  /** Present rate; null when it differs between curves because the gain was stated. */
  readonly present: number | null;
  /** The present rate is outside the interval, and the trial's best rate lies on the truly better side of it. */
  readonly seen: Share;
  /** Outside, but on the worse side. */
  readonly wrong: Share;
  /**
   * Chance that the plain comparison of two tested densities, the nearest to the present and to the best rate, is
   * significant at the same level: closed form, averaged over the curves; null when they are the same density.
   */
  readonly twoDensities: number | null;
}

export interface PointSetting {
  readonly curves: readonly TruthCurve[];
  readonly sigma: number;
  readonly spread: EnvironmentSpread;
  readonly level: number;
  readonly priceRatio: number;
  readonly halfWidth: number | null;
  readonly present: number | null;
  readonly gain: number | null;
  readonly simulations: number;
  readonly seed: number;
}

/** Simulations for one random stream: any split of the work gives the same numbers. */
export const STREAM_SIZE = 1000;

export function optimumPower(
  densities: readonly number[],
  blocks: number,
  sites: number,
  years: number,
  setting: PointSetting,
): OptimumPower {
  const { curves, sigma, spread, level, priceRatio, halfWidth, simulations, seed } = setting;
  const environments = sites * years;
  const planned = plannedDesign(densities, blocks, environments);
  const { design, plots, dof } = planned;
  const m = planned.densities.length;
  const reason = whyNot(plots, blocks * environments, dof);
  const runs = reason === null ? simulations : 0;
  const answer = simulatedAnswer(design, plots, blocks * environments, level, priceRatio);
  const { draw } = trialDraw(planned, curves, sigma, spread, sites);
  const low = planned.densities[0];
  const high = planned.densities[m - 1];
  const span = high - low;
  const truths = curves.map((curve) => truthOf(curve, setting, low, high));
  const asksGain = setting.present !== null || setting.gain !== null;

  const cut = { plots, blocks: blocks * environments, sigma, level, r: priceRatio };
  const { factor, flatFactor } = envelopeCutoffs(design, curves, cut, seed);
  const schedule = curveSchedule(curves, runs);
  const sums = new Float64Array(m);
  const regrets = new Float64Array(runs);
  const widths: number[] = [];
  const families = [...new Set(curves.map(({ family }) => family))];
  const perFamily = new Map(families.map((family) => [family, { bounded: 0, of: 0 }]));
  const count = {
    bounded: 0,
    lower: 0,
    upper: 0,
    flat: 0,
    covered: 0,
    judged: 0,
    within: 0,
    seen: 0,
    wrong: 0,
    gains: 0,
  };
  let random = streamRandom(seed, 0);
  for (let i = 0; i < runs; i++) {
    if (i % STREAM_SIZE === 0) random = streamRandom(seed, i / STREAM_SIZE);
    const c = schedule[i];
    const truth = truths[c];
    const total = draw(c, random, sums);
    answer.useCutoff(factor[c], flatFactor);
    answer.fit(sums, total);
    const set = answer.envelope();
    const best = answer.optimum();
    const bounded = !set.lowerOpen && !set.upperOpen;
    const family = perFamily.get(curves[c].family) as { bounded: number; of: number };
    family.of++;
    if (!set.lowerOpen) count.lower++;
    if (!set.upperOpen) count.upper++;
    if (answer.flatNotExcluded()) count.flat++;
    if (bounded && set.pieces.length > 0) {
      count.bounded++;
      family.bounded++;
      const width = span * (set.pieces[set.pieces.length - 1][1] - set.pieces[0][0]);
      widths.push(width);
      if (halfWidth !== null && width <= 2 * halfWidth) count.within++;
    }
    if (truth.optimum !== null) {
      count.judged++;
      if (holds(set, (truth.optimum - low) / span)) count.covered++;
    }
    if (truth.present !== null && truth.better !== 0) {
      count.gains++;
      if (!holds(set, (truth.present - low) / span)) {
        const side = Math.sign(best - truth.present);
        if (side === truth.better) count.seen++;
        else if (side === -truth.better) count.wrong++;
      }
    }
    regrets[i] = truth.best - (truth.mean(best) - priceRatio * best);
  }
  const sortedWidths = Float64Array.from(widths).sort();
  const sortedRegrets = regrets.slice().sort();
  return {
    simulations,
    failed: { count: simulations - runs, reason },
    bounded: shareOf(count.bounded, runs),
    lowerBounded: shareOf(count.lower, runs),
    upperBounded: shareOf(count.upper, runs),
    flatNotExcluded: shareOf(count.flat, runs),
    covered: shareOf(count.covered, count.judged),
    width: { ...meanOf(widths), median: quantileOf(sortedWidths, 0.5), nineOfTen: quantileOf(sortedWidths, 0.9) },
    within: halfWidth === null ? null : shareOf(count.within, runs),
    gain: asksGain
      ? {
          gain: average(curves, truths, (truth) => truth.gain),
          present: setting.present,
          seen: shareOf(count.seen, count.gains),
          wrong: shareOf(count.wrong, count.gains),
          twoDensities: twoDensities(planned.densities, blocks * environments, curves, truths, setting),
        }
      : null,
    regret: { ...meanOf(regrets), nineOfTen: quantileOf(sortedRegrets, 0.9) },
    byFamily: [...perFamily].map(([family, { bounded, of }]) => ({ family, bounded: shareOf(bounded, of) })),
    linearTrend: trend(planned.densities, blocks * environments, curves, setting),
  };
}

/** Why no simulated trial of a design can be analysed; null when it can. */
function whyNot(plots: number, blocks: number, dof: number): string | null {
  if (dof <= 0) return "there are no residual degrees of freedom to judge scatter by";
  // The flat curve has blocks + 1 parameters; AICc needs plots > parameters + 1.
  if (plots - blocks - 2 <= 0) return "there are too few plots to compare curves by AICc";
  return null;
}

interface Truth {
  readonly optimum: number | null;
  /** Best value Y - r x inside the range that may be planted: the tested one, or up to the optimum when that is outside. */
  readonly best: number;
  readonly present: number | null;
  /** Side of the present rate on which the best one lies: 1 above, -1 below, 0 it is the best. */
  readonly better: number;
  readonly gain: number;
  readonly mean: (x: number) => number;
}

function truthOf(curve: TruthCurve, { priceRatio: r, present, gain }: PointSetting, low: number, high: number): Truth {
  const { family, theta } = curve;
  const mean = (x: number): number => curveOf(family).mean(x, theta);
  const { density: optimum } = trueOptimum(curve, r);
  const inside = bestWithin(curve, low, high, r);
  // An optimum outside the tested range cannot be recommended by the trial; what is lost by that is part of the regret.
  const top = optimum !== null && optimum > 0 ? Math.max(inside.value, mean(optimum) - r * optimum) : inside.value;
  const target = optimum ?? inside.density;
  const now = present ?? (gain === null || optimum === null ? null : presentFor(curve, optimum, gain, r));
  return {
    optimum,
    best: top,
    present: now,
    better: now === null ? 0 : Math.sign(target - now),
    gain: now === null ? 0 : top - (mean(now) - r * now),
    mean,
  };
}

/** The rate below the optimum at which `gain` is missing. */
function presentFor({ family, theta }: TruthCurve, optimum: number, gain: number, r: number): number | null {
  const distance =
    family === "linear-plateau"
      ? gain / (theta[1] - r)
      : Math.sqrt(gain / Math.abs(family === "quadratic" ? theta[2] : theta[1]));
  const rate = optimum - distance;
  return rate > 0 ? rate : null;
}

/** Does the set hold a density, given on the [0, 1] scale? Outside the range it does when open on that side. */
export function holds({ pieces, lowerOpen, upperOpen }: Envelope, u: number): boolean {
  if (u <= 0) return lowerOpen;
  if (u >= 1) return upperOpen;
  return pieces.some(([from, to]) => u >= from && u <= to);
}

function average(curves: readonly TruthCurve[], truths: readonly Truth[], value: (truth: Truth) => number): number {
  let sum = 0;
  let total = 0;
  truths.forEach((truth, i) => {
    if (truth.present === null) return;
    sum += curves[i].weight * value(truth);
    total += curves[i].weight;
  });
  return total > 0 ? sum / total : 0;
}

function trend(
  densities: Float64Array,
  blocks: number,
  curves: readonly TruthCurve[],
  { sigma, level }: PointSetting,
): number | null {
  if (blocks < 2) return null;
  const x = Array.from(densities);
  const contrast = linearContrast(x);
  let sum = 0;
  let total = 0;
  for (const { family, theta, weight } of curves) {
    const means = x.map((one) => curveOf(family).mean(one, theta));
    sum += weight * contrastPower({ contrast, means, blocks, sigma, alpha: 1 - level });
    total += weight;
  }
  return sum / total;
}

function twoDensities(
  densities: Float64Array,
  blocks: number,
  curves: readonly TruthCurve[],
  truths: readonly Truth[],
  { sigma, level, priceRatio }: PointSetting,
): number | null {
  if (blocks < 2) return null;
  const x = Array.from(densities);
  const nearest = (to: number): number =>
    x.reduce((best, value, i) => (Math.abs(value - to) < Math.abs(x[best] - to) ? i : best), 0);
  let sum = 0;
  let total = 0;
  truths.forEach(({ present, optimum, mean }, i) => {
    if (present === null || optimum === null) return;
    const from = nearest(present);
    const to = nearest(optimum);
    if (from === to) return;
    const contrast = x.map((_, l) => (l === to ? 1 : l === from ? -1 : 0));
    const means = x.map((one) => mean(one) - priceRatio * one);
    sum += curves[i].weight * contrastPower({ contrast, means, blocks, sigma, alpha: 1 - level });
    total += curves[i].weight;
  });
  return total > 0 ? sum / total : null;
}
