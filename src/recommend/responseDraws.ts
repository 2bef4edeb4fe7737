import { check } from "../core/errors.ts";
import { type RandomStream, streamRandom } from "../core/random.ts";
import { curveOf } from "../curves/catalogue.ts";
import type { Curve } from "../curves/curve.ts";
import type { Family } from "../curves/family.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { chiSquareQuantile } from "../numeric/distributions.ts";
import type { CurveInput } from "./analysisInput.ts";
import type { RangeContrasts } from "./elsewhere.ts";
import { lowerFactor, timesFactor } from "./normalDraws.ts";

/** Response curves that are compatible with the trial, one a draw, all equally likely. */
export interface ResponseDraws {
  readonly count: number;
  /** Tested range on the trial's density axis. */
  readonly range: readonly [number, number];
  /**
   * Yield of draw d at density x. Rates are chosen inside the tested range only; x may leave it by a tenth, because a stand differs from
   * the expected one, and is held there beyond.
   */
  value(d: number, x: number): number;
}

/** One drawn curve: a family with its parameters. */
export interface DrawnCurve {
  readonly family: Family;
  readonly theta: ArrayLike<number>;
}

/** Families that respond to density and can turn or level off: what a decision is drawn from. */
const deciding: readonly Family[] = [
  "quadratic",
  "linear-plateau",
  "quadratic-plateau",
  "exponential",
  "parabolic-reciprocal",
  "reciprocal",
  "mitscherlich",
];

/** Numbered streams of this folder's random draws; the analysis itself uses the low numbers of the same seed. */
export const streams = { curves: 1_000_001, knowledge: 1_000_002, inputs: 1_000_100 } as const;

/**
 * Draws from the fits of an analysis: half from the quadratic, half by Akaike weight; coefficients from their t distribution, in
 * pairs that mirror each other so that the mean curve carries no sampling error of the first order.
 *
 * The flat and the straight curve are left out unless nothing else could be fitted: they win where a trial sees too little, and a
 * decision must not read "no response seen" as "no response". Half goes to the quadratic because Akaike weights of a small trial
 * are too sure; in simulations (bench/regret.mjs) the mixture loses least.
 */
export function curvesFromFits(curve: CurveInput, count: number, seed: number): DrawnCurve[] {
  return drawFits(mixedWeights(decidingFits(curve)), count, seed);
}

function mixedWeights(found: readonly WeightedFit[]): WeightedFit[] {
  const total = found.reduce((sum, { weight }) => sum + weight, 0);
  const share = found.some(isQuadratic) ? 0.5 : 0;
  return found.map((one) => ({
    fit: one.fit,
    weight: (isQuadratic(one) ? share : 0) + ((1 - share) * one.weight) / total,
  }));
}

const isQuadratic = ({ fit }: WeightedFit): boolean => fit.family === "quadratic";

/** A fit to draw from, and how often. */
export interface WeightedFit {
  readonly fit: CurveFit;
  readonly weight: number;
}

/** Draws from fits in proportion to their weights. */
export function drawFits(weighted: readonly WeightedFit[], count: number, seed: number): DrawnCurve[] {
  const random = streamRandom(seed, streams.curves);
  const total = weighted.reduce((sum, { weight }) => sum + weight, 0);
  const pairs = Math.ceil(count / 2);
  const curves: DrawnCurve[] = [];
  let upTo = 0;
  let done = 0;
  for (const { fit, weight } of weighted) {
    upTo += weight / total;
    const share = Math.round(upTo * pairs) - done;
    done += share;
    const { family, theta } = fit.curve as NonNullable<CurveFit["curve"]>;
    const factor = fit.vcov === null ? null : lowerFactor(fit.vcov);
    const dof = Math.max(fit.dofResidual, 1);
    for (let pair = 0; pair < share; pair++) {
      const tail = chiSquareQuantile((pair + 0.5) / share, dof);
      const step = factor === null ? null : timesFactor(factor, random, Math.sqrt(dof / tail));
      for (const sign of [1, -1]) {
        curves.push({ family, theta: sensible(family, theta, step, sign) });
      }
    }
  }
  return curves.slice(0, count);
}

/** Fits to draw from with their weights; the simpler ones only when there is no other. */
export function decidingFits(curve: CurveInput): WeightedFit[] {
  const { fits, ranking } = curve.comparison;
  const drawn = (fit: CurveFit): boolean => fit.status === "converged" && fit.curve !== null;
  // In a limit the curve is that of a simpler family, whose own fit carries the covariance.
  const own = (fit: CurveFit): CurveFit =>
    fit.vcov !== null && fit.limit === null
      ? fit
      : (fits.find((other) => other.family === fit.curve?.family && other.limit === null && drawn(other)) ?? fit);
  const of = (families: readonly Family[]): WeightedFit[] =>
    fits
      .filter((fit) => drawn(fit) && families.includes(fit.family))
      .map((fit) => ({ fit: own(fit), weight: ranking.find((rank) => rank.family === fit.family)?.weight ?? 0 }));
  for (const families of [deciding, ["linear"], ["flat"]] as const) {
    const found = of(families);
    if (found.length === 0) continue;
    const known = found.some(({ weight }) => weight > 0);
    return known
      ? found.filter((one) => one.weight > 0 || isQuadratic(one))
      : found.map(({ fit }) => ({ fit, weight: 1 }));
  }
  check(false, "not-estimable", `no response curve could be fitted for ${curve.hybrid}`);
}

/** theta + sign x step, with a rise to a plateau kept a rise. */
function sensible(family: Family, theta: readonly number[], step: Float64Array | null, sign: number): Float64Array {
  const moved = Float64Array.from(theta, (value, j) => value + sign * (step?.[j] ?? 0));
  if (family === "linear-plateau" || family === "quadratic-plateau") moved[1] = Math.max(moved[1], 0);
  return moved;
}

/** How far a stand may be beyond the tested range before its yield is held, as a share of the range. */
const MARGIN = 0.1;

/** Points on which the pull towards other knowledge is tabulated; it is smooth between them. */
const CELLS = 64;

/**
 * Curves as draws, combined with knowledge from elsewhere as if that were one more, imprecise trial.
 *
 * With h the two contrasts of each draw, P their covariance over the draws, (m, R) the knowledge and e ~ N(0, R), every draw
 * moves by K(x) (m + e - h), K(x) = Cov(Y(x), h) (P + R)^-1: Bayes' rule for linear functions of normal draws, and its best
 * linear approximation for the others. A trial that knows more moves less.
 *
 * Source: Evensen (2003), Ocean Dynamics 53, 343-367 (ensemble update with perturbed observations).
 */
export function responseDraws(
  curves: readonly DrawnCurve[],
  range: readonly [number, number],
  knowledge: RangeContrasts | null,
  seed: number,
): ResponseDraws {
  const count = curves.length;
  const shapes: Curve[] = curves.map(({ family }) => curveOf(family));
  const [low, high] = range;
  const least = low - MARGIN * (high - low);
  const most = high + MARGIN * (high - low);
  const plain = (d: number, x: number): number => shapes[d].mean(Math.min(Math.max(x, least), most), curves[d].theta);
  if (knowledge === null || count < 3 || !(high > low)) return { count, range, value: plain };

  const middle = (low + high) / 2;
  const rise = Float64Array.from({ length: count }, (_, d) => plain(d, high) - plain(d, low));
  const sag = rise.map((_, d) => 2 * plain(d, middle) - plain(d, low) - plain(d, high));
  const p00 = covariance(rise, rise) + knowledge.vcov[0][0];
  const p01 = covariance(rise, sag) + knowledge.vcov[0][1];
  const p11 = covariance(sag, sag) + knowledge.vcov[1][1];
  const determinant = p00 * p11 - p01 * p01;
  if (!(determinant > 0)) return { count, range, value: plain };
  const gain0 = new Float64Array(CELLS + 1);
  const gain1 = new Float64Array(CELLS + 1);
  for (let g = 0; g <= CELLS; g++) {
    const x = low + ((high - low) * g) / CELLS;
    const at = rise.map((_, d) => plain(d, x));
    const c0 = covariance(at, rise);
    const c1 = covariance(at, sag);
    gain0[g] = (c0 * p11 - c1 * p01) / determinant;
    gain1[g] = (c1 * p00 - c0 * p01) / determinant;
  }
  const [pull0, pull1] = pulls(rise, sag, knowledge, streamRandom(seed, streams.knowledge));
  return {
    count,
    range,
    value(d, x) {
      const place = (((x < low ? low : Math.min(x, high)) - low) / (high - low)) * CELLS;
      const g = Math.min(Math.floor(place), CELLS - 1);
      const t = place - g;
      return (
        plain(d, x) +
        (gain0[g] + t * (gain0[g + 1] - gain0[g])) * pull0[d] +
        (gain1[g] + t * (gain1[g + 1] - gain1[g])) * pull1[d]
      );
    },
  };
}

/** m + e - h for every draw; errors come in mirrored pairs, as the draws do. */
function pulls(
  rise: Float64Array,
  sag: Float64Array,
  { mean, vcov }: RangeContrasts,
  random: RandomStream,
): [Float64Array, Float64Array] {
  const factor = lowerFactor(vcov);
  const pull0 = new Float64Array(rise.length);
  const pull1 = new Float64Array(rise.length);
  let error: Float64Array = new Float64Array(2);
  for (let d = 0; d < rise.length; d++) {
    error = d % 2 === 0 ? timesFactor(factor, random, 1) : error.map((e) => 0 - e);
    pull0[d] = mean[0] + error[0] - rise[d];
    pull1[d] = mean[1] + error[1] - sag[d];
  }
  return [pull0, pull1];
}

function covariance(a: Float64Array, b: Float64Array): number {
  const n = a.length;
  let meanA = 0;
  let meanB = 0;
  for (let i = 0; i < n; i++) {
    meanA += a[i] / n;
    meanB += b[i] / n;
  }
  let sum = 0;
  for (let i = 0; i < n; i++) sum += (a[i] - meanA) * (b[i] - meanB);
  return sum / (n - 1);
}
