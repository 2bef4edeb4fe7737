import type { Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { type Family, type InnerFamily, innerFamilies, isInner } from "../curves/family.ts";
import { type CurveComparison, comparePrepared } from "../fit/compareCurves.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { kernelFamilies } from "../numeric/refitKernel.ts";
import { type CurveDraws, emptyDraws, weightedRefit } from "./curveDraws.ts";
import { deltaError } from "./deltaError.ts";
import type { PreparedIntervalData } from "./intervalData.ts";
import { penaltyFactor } from "./layout.ts";
import {
  type BootstrapDistribution,
  type LimitKind,
  type LimitOptions,
  type QuantileRule,
  summarise,
} from "./limits.ts";
import { type Replicator, replicator } from "./replicator.ts";
import type { Scalar } from "./scalar.ts";
import { members, planResampling, type ResamplingPlan, type SchemeOptions, schemeOptionsShape } from "./scheme.ts";

/** Everything about resampling that is the same for all quantities. */
export interface ResampleOptions extends SchemeOptions {
  /** Families refitted and chosen from in every replicate; one family: no choice. Default: the five inner ones. */
  readonly families?: readonly Family[];
  /** Start of the random numbers, integer >= 0; default 1. */
  readonly seed?: number;
  /** Number of replicates; default 2000. */
  readonly resamples?: number;
  /** Level of the intervals; default 0.95. */
  readonly level?: number;
  /** How limits are made from the replicates; default `percentile`. */
  readonly limits?: LimitKind;
  /** Quantile rule of the limits; default 7. */
  readonly quantile?: QuantileRule;
}

/** What `ResampleOptions` must look like. */
export const resampleOptionsShape: { readonly [property: string]: Shape } = {
  ...schemeOptionsShape,
  families: "list?",
  seed: "number?",
  resamples: "count?",
  level: "number?",
  limits: "any?",
  quantile: "any?",
};

/** A bootstrap that has been checked and can be run stream by stream. */
export interface BootstrapJob {
  readonly data: PreparedIntervalData;
  readonly families: readonly InnerFamily[];
  readonly base: CurveFit;
  readonly plan: ResamplingPlan;
  readonly seed: number;
  readonly resamples: number;
  readonly level: number;
  readonly limits: LimitKind;
  readonly quantile: QuantileRule;
  readonly warnings: readonly string[];
}

/** Replicates a stream: stream s makes replicates s * STREAM_SIZE … , so any split over workers gives the same numbers. */
export const STREAM_SIZE = 1000;

/** Prepared data without environments and clusters, for callers that have none. */
export function plainLayout(data: PreparedData): PreparedIntervalData {
  return { environment: null, cluster: null, ...data };
}

/**
 * Checks the options against the design.
 *
 * @throws AnalysisError `invalid-option` for bad counts, seeds or levels
 * @throws AnalysisError `not-offered` for a smooth family, or a scheme or limits that would mislead on this design
 * @throws AnalysisError `not-estimable` when no family can be fitted or there are no residual degrees of freedom
 */
export function bootstrapJob(
  data: PreparedIntervalData,
  options: ResampleOptions,
  comparison?: CurveComparison,
): BootstrapJob {
  const { seed = 1, resamples = 2000, level = 0.95, limits = "percentile", quantile = 7 } = options;
  check(Number.isSafeInteger(seed) && seed >= 0, "invalid-option", `seed must be an integer >= 0, got ${seed}`);
  check(
    Number.isInteger(resamples) && resamples >= 1 && resamples <= 10_000_000,
    "invalid-option",
    `resamples must be an integer from 1 to 10,000,000, got ${resamples}`,
  );
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(
    ["percentile", "basic", "bca", "studentised"].includes(limits),
    "invalid-option",
    `unknown limits "${limits}"; choose percentile, basic, bca or studentised`,
  );
  check([7, 6, "normal"].includes(quantile), "invalid-option", `quantile must be 7, 6 or "normal", got ${quantile}`);
  const families = usable(options.families ?? innerFamilies, data);
  const base = baseFit(data, families, comparison);
  const plan = planResampling(data, base, options);
  check(
    limits !== "studentised" || plan.scheme === "residual" || plan.scheme === "parametric",
    "not-offered",
    `studentised limits need equal scatter and a fixed layout: use the residual or parametric scheme, not ${plan.scheme}`,
  );
  const warnings = [...plan.warnings];
  if (limits !== "percentile" && families.length > 1) {
    warnings.push(
      `${limits} limits follow one smooth estimate; with a choice among families they cover anything from 31 to 99 % ` +
        "(bench/coverage.md): use percentile, or name one family",
    );
  }
  if (resamples * (1 - level) < 20) {
    warnings.push(
      `${resamples} replicates leave fewer than 10 beyond each limit; use at least ${Math.ceil(20 / (1 - level))}`,
    );
  }
  return { data, families, base, plan, seed, resamples, level, limits, quantile, warnings };
}

/** Number of streams of a job. */
export function streamCount({ resamples }: Pick<BootstrapJob, "resamples">): number {
  return Math.ceil(resamples / STREAM_SIZE);
}

/**
 * Replicates of streams `from` … `to` - 1. Streams do not know of one another, so they can be made anywhere in any order.
 *
 * @param offset - added to the stream numbers: independent numbers for a second data set
 */
export function drawStreams(
  job: BootstrapJob,
  from: number,
  to: number,
  offset = 0,
  machine: Replicator = replicator(job.data, job.base, job.families, job.plan),
): CurveDraws {
  const first = from * STREAM_SIZE;
  const last = Math.min(to * STREAM_SIZE, job.resamples);
  const draws = emptyDraws(Math.max(last - first, 0));
  for (let i = first, stream = from; i < last; stream++) {
    machine.begin(job.seed, stream + offset);
    for (const end = Math.min(i + STREAM_SIZE, last); i < end; i++) machine.next(draws, i - first);
  }
  return draws;
}

/** Values of one scalar in all replicates; NaN where it does not exist. */
export function readDraws({ family, a, b, c }: CurveDraws, { read }: Scalar): Float64Array {
  const values = new Float64Array(family.length);
  for (let i = 0; i < values.length; i++) values[i] = read(family[i], a[i], b[i], c[i]);
  return values;
}

/** Distribution and limits of one scalar. */
export function distribution(job: BootstrapJob, draws: CurveDraws, scalar: Scalar): BootstrapDistribution {
  return summarise(readDraws(draws, scalar), job.level, scalar.range, scalar.scale, limitOptions(job, draws, scalar));
}

function limitOptions(job: BootstrapJob, draws: CurveDraws, scalar: Scalar): LimitOptions {
  const { limits: kind, quantile } = job;
  if (kind === "percentile") return { kind, quantile };
  const estimate = estimateOf(job, scalar);
  if (kind === "basic") return { kind, quantile, estimate };
  if (kind === "bca") return { kind, quantile, estimate, influence: jackknife(job, scalar) };
  const curve = baseCurve(job);
  const dof = job.base.dofResidual;
  const standardError = deltaError(job.data, curve, 0, dof, scalar);
  const pivots = readDraws(draws, scalar).map((value, i) => {
    const error = deltaError(job.data, draws, i, dof, scalar);
    return error > 0 ? (value - estimate) / error : Number.NaN;
  });
  return { kind, quantile, estimate, pivots, standardError };
}

/** The fitted curve itself in the form of the draws. */
export function baseCurve({ data, base }: Pick<BootstrapJob, "data" | "base">): CurveDraws {
  const draws = emptyDraws(1);
  weightedRefit(data, [base.family as InnerFamily])(new Int32Array(data.x.length).fill(1), draws, 0);
  return draws;
}

/** The scalar on the fitted curve; NaN when it does not exist there. */
export function estimateOf(job: Pick<BootstrapJob, "data" | "base">, scalar: Scalar): number {
  return readDraws(baseCurve(job), scalar)[0];
}

/**
 * Jackknife influence (n - 1) (mean - t without unit): families are chosen anew each time, as in the replicates. Units are those
 * that the scheme draws. A value beyond an end of the tested range counts as that end.
 *
 * Source: Davison & Hinkley (1997), eq. 2.42 and section 5.3.2.
 */
export function jackknife({ data, families, plan }: BootstrapJob, scalar: Scalar): Float64Array {
  const unit = plan.unit ?? { of: Int32Array.from(data.x, (_, i) => i), labels: Array.from(data.x, String) };
  const groups = members(unit);
  const draws = emptyDraws(groups.length);
  const refit = weightedRefit(data, families, plan.scheme === "cluster");
  groups.forEach((own, k) => {
    const count = new Int32Array(data.x.length).fill(1);
    for (const i of own) count[i] = 0;
    refit(count, draws, k);
  });
  const { low, high } = scalar.range ?? { low: Number.NEGATIVE_INFINITY, high: Number.POSITIVE_INFINITY };
  const values = readDraws(draws, scalar).map((value) => Math.min(Math.max(value, low), high));
  const known = values.filter((value) => !Number.isNaN(value));
  const mean = known.reduce((sum, value) => sum + value, 0) / known.length;
  return values.map((value) => (groups.length - 1) * (mean - value));
}

function usable(families: readonly Family[], data: PreparedData): InnerFamily[] {
  check(families.length > 0, "invalid-option", "families is empty; name at least one");
  const smooth = families.filter((family) => !isInner(family));
  check(smooth.length === 0, "not-offered", `only exact families are resampled; leave out ${smooth.join(", ")}`);
  const inner = families.filter(isInner).filter((family) => fitPrepared(family, data).status === "converged");
  check(inner.length > 0, "not-estimable", `none of ${families.join(", ")} can be fitted to these plots`);
  if (inner.length === 1) return inner;
  const { nobs, blocks } = data.design;
  const ranked = inner.filter((family) => Number.isFinite(penaltyFactor(nobs, blocks, kernelFamilies.indexOf(family))));
  check(ranked.length > 0, "not-estimable", "there are too few plots to compare families by AICc in every replicate");
  return ranked;
}

function baseFit(
  data: PreparedData,
  families: readonly InnerFamily[],
  comparison: CurveComparison | undefined,
): CurveFit {
  if (families.length === 1) return fitPrepared(families[0], data);
  const { fits, best } = comparison ?? comparePrepared(data, { families });
  const fit = fits.find((candidate) => candidate.family === best);
  return fit ?? fitPrepared(families[0], data);
}
