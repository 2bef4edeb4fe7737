import { square } from "../core/elementary.ts";
import { streamRandom } from "../core/random.ts";
import { curveOf } from "../curves/catalogue.ts";
import { tQuantile } from "../numeric/distributions.ts";
import { normalCdf } from "../numeric/distributionsNormal.ts";
import { kernelFamilies, refitKernel } from "../numeric/refitKernel.ts";
import { trialDraw } from "./drawTrial.ts";
import { envelopeCutoffs } from "./envelopeCutoffs.ts";
import { optimumDeviation } from "./optimumError.ts";
import { plannedDesign } from "./plannedDesign.ts";
import { type Share, shareOf } from "./share.ts";
import { simulatedAnswer } from "./simulatedAnswer.ts";
import { curveSchedule, type TruthCurve, trueOptimum } from "./truthCurves.ts";

/** What every set of densities is judged for. */
export interface ScoreSetting {
  readonly curves: readonly TruthCurve[];
  readonly blocks: number;
  readonly environments: number;
  readonly sigma: number;
  readonly level: number;
  readonly priceRatio: number;
  /** Standard deviation of the optimum over the curves, density units: what is known without any trial. */
  readonly priorSd: number;
}

/** Criteria without simulation, averaged over the curves. */
export interface DensityScore {
  /**
   * Standard deviation left on the optimum after the trial, density units: sqrt of the mean of s^2 t^2 / (s^2 + t^2), s the standard
   * error of `optimumDeviation` and t what is known before. With a single curve: s itself.
   */
  readonly remainingSd: number;
  /** Mean standard error; null when for some curve the design cannot tell the optimum at all. */
  readonly standardError: number | null;
  /**
   * Approximate chance that AICc finds the true family: Phi(D / 2) for the nearest other bent family and Phi(D - sqrt(q)) for the
   * straight line, multiplied; D^2 is the least sum of squares, in sigma^2, by which that family misses the true means and q the
   * AICc difference for one parameter. For one curve the first factor is largest where D is: the T-criterion.
   */
  readonly discrimination: number;
  /** Mean over the curves of D^2 for the nearest other bent family. */
  readonly familyGap: number;
  /** Approximate chance of a bounded interval: normal approximation at both ends, from noise-free misfits. */
  readonly boundedApproximation: number;
}

/**
 * Scores one set of densities from noise-free curves.
 *
 * The bounded chance is that of both ends: an end is closed when the best curve that peaks
 * there misses the truth by more than the cut-off allows.
 *
 * Source: Atkinson & Fedorov (1975), Biometrika 62, 57-70 (T-optimality); Chaloner & Verdinelli (1995), Statistical Science 10,
 * 273-304 (averaging over a prior).
 */
export function scoreDensities(densities: ArrayLike<number>, setting: ScoreSetting): DensityScore {
  const { curves, blocks, environments, sigma, level, priceRatio, priorSd } = setting;
  const planned = plannedDesign(densities, blocks, environments);
  const { design, dof } = planned;
  const { scaled, uu, uv, vv } = design;
  const m = scaled.length;
  const replicates = blocks * environments;
  const kernel = refitKernel(design);
  const sums = new Float64Array(m);
  const cut = dof > 0 ? tQuantile((1 + level) / 2, dof) : Number.POSITIVE_INFINITY;
  const onePenalty = Math.sqrt(aiccStep(planned.plots, blocks * environments));
  let total = 0;
  let squares = 0;
  let errors = 0;
  let apart = 0;
  let found = 0;
  let bounded = 0;
  for (const truth of curves) {
    const { weight, family, theta } = truth;
    total += weight;
    const s = optimumDeviation(densities, replicates, truth, sigma, priceRatio);
    errors += weight * s;
    squares +=
      weight *
      (priorSd > 0 ? (s === Infinity ? 1 : (s * s) / (s * s + priorSd * priorSd)) * (priorSd * priorSd) : s * s);

    const { mean } = curveOf(family);
    let grand = 0;
    for (let l = 0; l < m; l++) {
      sums[l] = mean(planned.densities[l], theta);
      grand += sums[l] / m;
    }
    let tss = 0;
    let t1 = 0;
    let t2 = 0;
    for (let l = 0; l < m; l++) {
      sums[l] = replicates * (sums[l] - grand);
      tss += (sums[l] * sums[l]) / replicates;
      t1 += sums[l] * scaled[l];
      t2 += sums[l] * scaled[l] * scaled[l];
    }
    kernel.fit(sums);
    let nearest = Number.POSITIVE_INFINITY;
    for (let f = 2; f < 5; f++)
      if (kernelFamilies[f] !== family) nearest = Math.min(nearest, Math.max(tss - kernel.gain[f], 0));
    const gap = nearest / (sigma * sigma);
    const straight = Math.sqrt(Math.max(tss - kernel.gain[1], 0)) / sigma;
    apart += weight * gap;
    found += weight * normalCdf(Math.sqrt(gap) / 2) * normalCdf(straight - onePenalty);

    const ray = (d1: number, d2: number): number => {
      const n = d1 * t1 + d2 * t2;
      return n > 0 ? (n * n) / (d1 * d1 * uu + 2 * d1 * d2 * uv + d2 * d2 * vv) : 0;
    };
    const step = sums[0] < 0 ? (sums[0] * sums[0]) / design.linear[2] : 0;
    const line = (t1 * t1) / uu;
    const below = Math.max(t1 < 0 ? line : 0, ray(0, -1), ray(-1, 1), step);
    const above = Math.max(t1 > 0 ? line : 0, ray(2, -1), ray(-1, 1));
    const closed = (gain: number): number => normalCdf(Math.sqrt(Math.max(tss - gain, 0)) / sigma - cut);
    const vertex = -kernel.shape[1] / (2 * kernel.shape[2]);
    const inside =
      (kernel.shape[2] < 0 && vertex > 0 && vertex < 1) || kernel.gain[2] < Math.max(kernel.gain[3], kernel.gain[4]);
    if (inside && m > 2) bounded += weight * closed(below) * closed(above);
  }
  return {
    remainingSd: Math.sqrt(squares / total),
    standardError: Number.isFinite(errors) ? errors / total : null,
    discrimination: found / total,
    familyGap: apart / total,
    boundedApproximation: bounded / total,
  };
}

/** AICc of the bent families minus that of the straight line at equal fit; Infinity when AICc does not exist. */
function aiccStep(n: number, blocks: number): number {
  const term = (k: number): number =>
    n - k - 1 > 0 ? 2 * k + (2 * k * (k + 1)) / (n - k - 1) : Number.POSITIVE_INFINITY;
  const bent = term(blocks + 3);
  return Number.isFinite(bent) ? bent - term(blocks + 2) : Number.POSITIVE_INFINITY;
}

/** Criteria by simulation. */
export interface DensityTrial {
  /** Chance that the interval of the agronomic optimum has both ends inside the tested range. */
  readonly bounded: Share;
  /** Chance that AICc picks the family that is true. */
  readonly familyFound: Share;
}

/**
 * Simulates a set of densities; the same seed gives the same true curves and, as far as can be, the same luck to every set.
 *
 * @param calibrated - use the simulated cut-off of the envelope, as `optimumInterval` does; without it F, which is faster and
 * somewhat too small, but alike for all sets
 */
export function simulateDensities(
  densities: ArrayLike<number>,
  { curves, blocks, environments, sigma, level }: ScoreSetting,
  simulations: number,
  seed: number,
  calibrated = false,
): DensityTrial {
  const planned = plannedDesign(densities, blocks, environments);
  const answer = simulatedAnswer(planned.design, planned.plots, blocks * environments, level, 0);
  const { draw } = trialDraw(planned, curves, sigma);
  const sums = new Float64Array(planned.densities.length);
  const schedule = curveSchedule(curves, simulations);
  const cut = { plots: planned.plots, blocks: blocks * environments, sigma, level, r: 0 };
  const cutoffs = calibrated ? envelopeCutoffs(planned.design, curves, cut, seed) : null;
  const random = streamRandom(seed, 0);
  let bounded = 0;
  let found = 0;
  for (let i = 0; i < simulations; i++) {
    const total = draw(schedule[i], random, sums);
    if (cutoffs !== null) answer.useCutoff(cutoffs.factor[schedule[i]], cutoffs.flatFactor);
    answer.fit(sums, total);
    if (answer.isBounded()) bounded++;
    if (kernelFamilies[answer.chosen()] === curves[schedule[i]].family) found++;
  }
  return { bounded: shareOf(bounded, simulations), familyFound: shareOf(found, simulations) };
}

/** Standard deviation of the optimum over the curves that have one; 0 for a single one. */
export function priorSpread(curves: readonly TruthCurve[], r: number): number {
  let total = 0;
  let sum = 0;
  let squares = 0;
  for (const curve of curves) {
    const { density } = trueOptimum(curve, r);
    if (density === null) continue;
    total += curve.weight;
    sum += curve.weight * density;
    squares += curve.weight * density * density;
  }
  return total > 0 ? Math.sqrt(Math.max(squares / total - square(sum / total), 0)) : 0;
}
