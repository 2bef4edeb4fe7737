import { checkShape, type Shape } from "../core/checkShape.ts";
import { checkedRatio, priceRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import type { Interval, Piece } from "../core/interval.ts";
import { type Family, type InnerFamily, innerFamilies, isInner } from "../curves/family.ts";
import { type CurveComparison, comparePrepared } from "../fit/compareCurves.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { fQuantile, tQuantile } from "../numeric/distributions.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import type { AcceptedSet, Range } from "./acceptance.ts";
import { bootstrapJob, distribution, drawStreams, plainLayout, streamCount } from "./bootstrapJob.ts";
import { calibrate } from "./calibrate.ts";
import type { Multipliers } from "./errorSampler.ts";
import { fiellerSet } from "./fieller.ts";
import {
  type IntervalData,
  intervalDataShape,
  type PreparedIntervalData,
  prepareIntervalData,
} from "./intervalData.ts";
import type { LimitKind, QuantileRule } from "./limits.ts";
import { optimumSet } from "./optimumSets.ts";
import { optimumScalar } from "./scalar.ts";
import type { Scheme } from "./scheme.ts";
import type { SimulationMemo } from "./simulatedTrials.ts";

export interface OptimumIntervalOptions {
  /** Default "agronomic". "economic" needs the prices. */
  readonly target?: "agronomic" | "economic";
  /**
   * `envelope` (default): over all candidate families, valid after choosing one. `profile`: test inversion within one family.
   * `fieller`: the quadratic's vertex. `bootstrap`: percentile limits of the selection-inclusive residual bootstrap.
   */
  readonly method?: "envelope" | "profile" | "fieller" | "bootstrap";
  /** Family of `profile` and of a one-family `bootstrap`; default: the chosen one (of those that respond to density). */
  readonly family?: Family;
  /** Candidates of the envelope and of the bootstrap; default the five inner families. */
  readonly families?: readonly Family[];
  /** Default 0.95. */
  readonly level?: number;
  /** Seed cost per stand unit / grain price, yield units per density unit; or give the two prices. */
  readonly priceRatio?: number;
  readonly grainPrice?: number;
  readonly seedCost?: number;
  readonly establishment?: number;
  readonly yieldCost?: number;
  /**
   * Put the F cut-off to the test by simulation, for `envelope` (default true) and `profile` (default false): where it would cover
   * less than 93 % (at 95 %), because of a kink or the choice among families, a simulated one takes its place.
   */
  readonly calibrate?: boolean;
  /** Simulations of the cut-off, default 999. */
  readonly simulations?: number;
  /** Start of the random numbers of the cut-off and of the bootstrap; default 1. */
  readonly seed?: number;
  /** Bootstrap only, as in `bootstrapCurves`. */
  readonly resamples?: number;
  readonly scheme?: Scheme;
  readonly multipliers?: Multipliers;
  readonly limits?: LimitKind;
  readonly quantile?: QuantileRule;
}

/** What `OptimumIntervalOptions` must look like. */
export const optimumIntervalOptionsShape: { readonly [property: string]: Shape } = {
  target: "text?",
  method: "text?",
  family: "text?",
  families: "list?",
  level: "number?",
  priceRatio: "number?",
  grainPrice: "number?",
  seedCost: "number?",
  establishment: "number?",
  yieldCost: "number?",
  calibrate: "flag?",
  simulations: "count?",
  seed: "number?",
  resamples: "count?",
  scheme: "text?",
  multipliers: "text?",
  limits: "any?",
  quantile: "any?",
};

/** Interval of an optimum density. Ends that touch the tested range are open: "this trial does not bound it". */
export interface OptimumInterval extends Interval {
  readonly target: "agronomic" | "economic";
  /** Family the interval belongs to; null for the envelope and the selection-inclusive bootstrap. */
  readonly family: Family | null;
  /** True when a curve without response is compatible with the data at this level. */
  readonly flatNotExcluded: boolean;
  /** What an open end or a refusal means, in words; null when both ends are bounded. */
  readonly reason: string | null;
  /** How far RSS may exceed the least RSS, as a share; envelope and profile only. */
  readonly cutoff?: Cutoff;
  /** Why the method may mislead here; only when there is something to say (the bootstrap always has the list). */
  readonly warnings?: readonly string[];
}

/** Cut-off of a test inversion: curves with RSS <= least RSS x (1 + factor) are compatible. */
export interface Cutoff {
  readonly factor: number;
  /** F(level; 1, df) / df. */
  readonly plain: number;
  /** Number of simulations and their seed; null when `factor` is the plain one. */
  readonly simulations: number | null;
  readonly seed: number | null;
}

/**
 * Confidence interval of the agronomic or economic optimum density.
 *
 * The envelope keeps a density when some candidate family that has its optimum there fits within the F cut-off of the best
 * candidate: { x : min_m R_m(x) <= min_m RSS_m (1 + factor) }, factor = F(level; 1, df) / df
 * with df the residual degrees of freedom of the richest candidate, unless a simulation shows it to be too small. The envelope stays
 * valid after choosing a family by AICc, which an interval of the chosen family does not: nominal 95 % limits cover 94 to 98 %
 * where the true curve is among the candidates, 92 % when scatter grows with density, and 72 to 92 % when it is none of them and
 * the trial is precise (a curve that keeps bending, say).
 *
 * @throws AnalysisError `invalid-option` for an unknown method, a level outside (0, 1) or missing prices
 * @throws AnalysisError `not-estimable` when no candidate can be fitted
 * @throws AnalysisError `not-offered` when the family has no interval by the method
 * @example
 * const density = [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43];
 * const yields = [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192];
 * optimumInterval({ density, yield: yields }).lowerOpen; // => false
 *
 * Source: test inversion, e.g. Seber & Wild (1989), Nonlinear Regression, section 5.4; envelope: derived in the text. Coverage:
 * bench/coverage.md.
 */
export function optimumInterval(data: IntervalData, options: OptimumIntervalOptions = {}): OptimumInterval {
  checkShape(data, "data", intervalDataShape);
  checkShape(options, "options", optimumIntervalOptionsShape, "invalid-option");
  return optimumIntervalPrepared(prepareIntervalData(data), options);
}

/**
 * The same for data that were checked before; `comparison` saves fitting the families again, `memo` simulating for a second target.
 */
export function optimumIntervalPrepared(
  data: PreparedData | PreparedIntervalData,
  options: OptimumIntervalOptions,
  comparison?: CurveComparison,
  memo?: SimulationMemo,
): OptimumInterval {
  const { target = "agronomic", method = "envelope", level = 0.95 } = options;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(target === "agronomic" || target === "economic", "invalid-option", `unknown target "${target}"`);
  const r = target === "economic" ? ratioOf(options) : 0;
  switch (method) {
    case "envelope":
      return invert(data, target, r, options, candidates(options.families ?? innerFamilies, data), null, memo);
    case "profile": {
      const fit = familyOf(data, options, comparison);
      return invert(data, target, r, options, [fit], fit.family, memo);
    }
    case "fieller":
      check(
        options.family === undefined || options.family === "quadratic",
        "not-offered",
        "Fieller's interval belongs to the quadratic",
      );
      return fieller(data, target, r, level);
    case "bootstrap":
      return bootstrap(data, target, r, options, comparison);
    default:
      check(false, "invalid-option", `unknown method "${method}"; choose envelope, profile, fieller or bootstrap`);
  }
}

function ratioOf({ priceRatio: given, grainPrice, seedCost, ...rest }: OptimumIntervalOptions): number {
  if (given !== undefined) return checkedRatio(given);
  check(
    grainPrice !== undefined && seedCost !== undefined,
    "invalid-option",
    "the economic optimum needs grainPrice and seedCost, or priceRatio",
  );
  return priceRatio({ grainPrice, seedCost, ...rest });
}

function candidates(families: readonly Family[], data: PreparedData): CurveFit[] {
  const smooth = families.filter((family) => !isInner(family));
  check(smooth.length === 0, "not-offered", `the envelope covers the exact families; leave out ${smooth.join(", ")}`);
  const fits = families
    .filter((family) => family !== "flat")
    .map((family) => fitPrepared(family, data))
    .filter((fit) => fit.status === "converged");
  check(fits.length > 0, "not-estimable", "no curve that responds to density can be fitted to these plots");
  return fits;
}

function familyOf(data: PreparedData, { family }: OptimumIntervalOptions, comparison?: CurveComparison): CurveFit {
  if (family !== undefined) {
    check(isInner(family), "not-offered", `profile intervals are exact for the inner families; ${family} is not one`);
    check(family !== "flat", "not-offered", "the flat curve has no optimum");
    const fit = fitPrepared(family, data);
    check(fit.status === "converged", "not-estimable", `${family} cannot be fitted: ${fit.reason}`);
    return fit;
  }
  const { fits, ranking } = comparison ?? comparePrepared(data);
  const best = ranking
    .filter((rank) => rank.delta !== null && rank.family !== "flat" && isInner(rank.family))
    .sort((a, b) => (a.delta as number) - (b.delta as number))[0];
  check(best !== undefined, "not-estimable", "no curve that responds to density can be ranked on these plots");
  return fits[ranking.indexOf(best)];
}

function invert(
  data: PreparedData,
  target: "agronomic" | "economic",
  r: number,
  options: OptimumIntervalOptions,
  fits: readonly CurveFit[],
  family: Family | null,
  memo: SimulationMemo | undefined,
): OptimumInterval {
  const method = family === null ? "envelope" : "profile";
  const { level = 0.95, calibrate: simulated = family === null, simulations = 999, seed = 1 } = options;
  check(Number.isSafeInteger(seed) && seed >= 0, "invalid-option", `seed must be an integer >= 0, got ${seed}`);
  check(
    Number.isInteger(simulations) && simulations >= 1 && simulations <= 1_000_000,
    "invalid-option",
    `simulations must be an integer from 1 to 1,000,000, got ${simulations}`,
  );
  const families = fits.map((fit) => fit.family as InnerFamily);
  const dof = Math.min(...fits.map((fit) => fit.dofResidual));
  const least = Math.min(...fits.map((fit) => fit.rss as number));
  if (dof <= 0)
    return unbounded(target, level, method, family, "there are no residual degrees of freedom to judge scatter by");
  const plain = fQuantile(level, 1, dof) / dof;
  // Perfect fits leave nothing to simulate.
  const { factor, flatFactor } =
    simulated && least > 0
      ? calibrate(data, families, { r, level, dof, plain, simulations, seed }, memo)
      : { factor: plain, flatFactor: plain };
  const response = joinResponse(data.design, data.y);
  const cutoff = least * (1 + factor);
  const sets = families.map((candidate) => optimumSet(candidate, data.design, response, r, cutoff));
  const flatNotExcluded = response.total <= least * (1 + flatFactor);
  const warnings = independenceWarning(data);
  return {
    ...assemble(data, target, level, method, family, sets, flatNotExcluded),
    ...(warnings.length > 0 ? { warnings } : {}),
    cutoff: { factor, plain, ...(simulated ? { simulations, seed } : { simulations: null, seed: null }) },
  };
}

/** Test inversion takes plots for independent; says so when some share a strip. */
export function independenceWarning(data: PreparedData | PreparedIntervalData): string[] {
  const cluster = "cluster" in data ? data.cluster : null;
  return cluster === null
    ? []
    : [
        `test inversion takes plots for independent, but ${data.x.length} plots lie in ${cluster.labels.length} strips: the interval is too short; ` +
          "average each strip's plots of one density, or use the bootstrap",
      ];
}

/** Union of accepted sets, back in the caller's unit; pieces closer than rounding are joined. */
function assemble(
  data: PreparedData,
  target: "agronomic" | "economic",
  level: number,
  method: string,
  family: Family | null,
  sets: readonly AcceptedSet[],
  flatNotExcluded: boolean,
): OptimumInterval {
  const { low, span, levels } = data.design;
  const lowerOpen = sets.some((set) => set.lowerEdge || set.inside.some(([from]) => from <= 0));
  const upperOpen = sets.some((set) => set.upperEdge || set.inside.some(([, to]) => to >= 1));
  const ranges: Range[] = sets.flatMap((set) => [...set.inside]);
  if (lowerOpen) ranges.push([0, 0]);
  if (upperOpen) ranges.push([1, 1]);
  ranges.sort((a, b) => a[0] - b[0]);
  const merged: [number, number][] = [];
  for (const [from, to] of ranges) {
    const last = merged[merged.length - 1];
    if (last && from <= last[1] + 1e-9) last[1] = Math.max(last[1], to);
    else merged.push([from, to]);
  }
  const toDensity = (u: number): number => (u >= 1 ? levels[levels.length - 1] : low + span * u);
  const pieces: Piece[] = merged.map(([from, to], i) => ({
    lower: i === 0 && lowerOpen ? null : toDensity(from),
    upper: i === merged.length - 1 && upperOpen ? null : toDensity(to),
  }));
  return {
    lower: pieces[0]?.lower ?? null,
    upper: pieces[pieces.length - 1]?.upper ?? null,
    lowerOpen,
    upperOpen,
    level,
    method,
    ...(pieces.length > 1 ? { pieces } : {}),
    target,
    family,
    flatNotExcluded,
    reason: explain(lowerOpen, upperOpen, flatNotExcluded),
  };
}

function explain(lowerOpen: boolean, upperOpen: boolean, flatNotExcluded: boolean): string | null {
  if (!lowerOpen && !upperOpen) return null;
  const ends =
    lowerOpen && upperOpen
      ? "this trial does not bound the optimum inside the tested range"
      : lowerOpen
        ? "this trial does not bound the optimum from below: it may be at or below the lowest tested density"
        : "this trial does not bound the optimum from above: it may be at or beyond the highest tested density";
  return flatNotExcluded ? `${ends}; no response to density is not excluded` : ends;
}

function unbounded(
  target: "agronomic" | "economic",
  level: number,
  method: string,
  family: Family | null,
  reason: string,
): OptimumInterval {
  return {
    lower: null,
    upper: null,
    lowerOpen: true,
    upperOpen: true,
    level,
    method,
    target,
    family,
    flatNotExcluded: true,
    reason,
  };
}

function fieller(data: PreparedData, target: "agronomic" | "economic", r: number, level: number): OptimumInterval {
  const fit = fitPrepared("quadratic", data);
  check(fit.status === "converged", "not-estimable", `the quadratic cannot be fitted: ${fit.reason}`);
  if (fit.vcov === null) {
    return unbounded(
      target,
      level,
      "fieller",
      "quadratic",
      "there are no residual degrees of freedom to judge scatter by",
    );
  }
  const [, linear, quadratic] = fit.curve ? fit.curve.theta : [0, 0, 0];
  const estimates = {
    linear,
    quadratic,
    varLinear: fit.vcov[1][1],
    covariance: fit.vcov[1][2],
    varQuadratic: fit.vcov[2][2],
  };
  const set = fiellerSet(estimates, r, tQuantile((1 + level) / 2, fit.dofResidual));
  const { low, span } = data.design;
  const scale = (x: number): number => (x - low) / span;
  // The part of the set inside the tested range; whatever lies outside belongs to the end on that side.
  const parts: [number, number][] =
    set.kind === "whole-line"
      ? [[Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY]]
      : set.kind === "interval"
        ? [[scale(set.lower), scale(set.upper)]]
        : [
            [Number.NEGATIVE_INFINITY, scale(set.lower)],
            [scale(set.upper), Number.POSITIVE_INFINITY],
          ];
  const accepted: AcceptedSet = {
    inside: parts.flatMap(([from, to]) => (to > 0 && from < 1 ? [[Math.max(from, 0), Math.min(to, 1)] as Range] : [])),
    lowerEdge: parts.some(([from]) => from <= 0),
    upperEdge: parts.some(([, to]) => to >= 1),
  };
  return assemble(data, target, level, "fieller", "quadratic", [accepted], set.kind === "whole-line");
}

function bootstrap(
  data: PreparedData,
  target: "agronomic" | "economic",
  r: number,
  options: OptimumIntervalOptions,
  comparison: CurveComparison | undefined,
): OptimumInterval {
  const { family, families, level = 0.95 } = options;
  const job = bootstrapJob(
    plainLayout(data),
    { ...options, families: family ? [family] : (families ?? innerFamilies) },
    family || families ? undefined : comparison,
  );
  const { interval, count, note } = distribution(
    job,
    drawStreams(job, 0, streamCount(job)),
    optimumScalar(data.design, r),
  );
  return {
    ...interval,
    target,
    family: family ?? null,
    flatNotExcluded: count.missing > ((1 - level) / 2) * job.resamples,
    reason: note ?? explain(interval.lowerOpen, interval.upperOpen, count.missing > 0),
    warnings: job.warnings,
  };
}
