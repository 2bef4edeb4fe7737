import { checkShape, type Shape } from "../core/checkShape.ts";
import { checkedRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import type { Family, InnerFamily } from "../curves/family.ts";
import type { CurveComparison } from "../fit/compareCurves.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { kernelFamilies } from "../numeric/refitKernel.ts";
import {
  type BootstrapJob,
  bootstrapJob,
  distribution,
  drawStreams,
  plainLayout,
  type ResampleOptions,
  readDraws,
  resampleOptionsShape,
  STREAM_SIZE,
  streamCount,
} from "./bootstrapJob.ts";
import { type CurveDraws, emptyDraws } from "./curveDraws.ts";
import type { Multipliers } from "./errorSampler.ts";
import {
  type IntervalData,
  intervalDataShape,
  type PreparedIntervalData,
  prepareIntervalData,
} from "./intervalData.ts";
import type { BootstrapDistribution, LimitKind, QuantileRule } from "./limits.ts";
import { flexScalar, optimumScalar, type Scalar } from "./scalar.ts";
import type { Scheme } from "./scheme.ts";

export interface BootstrapOptions extends ResampleOptions {
  /** Seed cost per stand unit / grain price; adds the economic optimum. */
  readonly priceRatio?: number;
  /** Reference densities; adds the flex score. */
  readonly between?: readonly [number, number];
  /** Return every replicate as well; default false. */
  readonly keep?: boolean;
}

/** What `BootstrapOptions` must look like. */
export const bootstrapOptionsShape: { readonly [property: string]: Shape } = {
  ...resampleOptionsShape,
  priceRatio: "number?",
  between: "numbers?",
  keep: "flag?",
};

/** Replicates one by one; an optimum at or beyond an end of the range is that end, no response is null. */
export interface BootstrapReplicates {
  readonly family: readonly InnerFamily[];
  readonly agronomic: readonly (number | null)[];
  readonly economic: readonly (number | null)[] | null;
  readonly flexScore: readonly (number | null)[] | null;
}

export interface BootstrapResult {
  readonly schema: "standcurve/bootstrap/1";
  readonly scheme: Scheme;
  /** What was drawn, in words. */
  readonly drawn: string;
  readonly multipliers: Multipliers | null;
  readonly limits: LimitKind;
  readonly quantile: QuantileRule;
  readonly seed: number;
  readonly resamples: number;
  /** Replicates a stream: stream s makes replicates s * size … , so any split over workers gives the same numbers. */
  readonly streamSize: number;
  /** Family whose fitted values and residuals are resampled. */
  readonly base: Family;
  readonly families: readonly InnerFamily[];
  /** How often each family was chosen. */
  readonly chosen: Readonly<Record<string, number>>;
  readonly agronomic: BootstrapDistribution;
  readonly economic: BootstrapDistribution | null;
  readonly flexScore: BootstrapDistribution | null;
  readonly replicates: BootstrapReplicates | null;
  /** Why this scheme or these limits may mislead here, in words. */
  readonly warnings: readonly string[];
}

/**
 * Selection-inclusive bootstrap: every replicate makes new data by the scheme, refits all families exactly and chooses again.
 *
 * The default `residual` scheme adds to the fitted values of the chosen curve residuals drawn with replacement, each divided
 * by sqrt(1 - h) for its leverage h and centred; blocks and densities stay as they are. Replicates whose optimum is at an end
 * of the range, or that do not respond at all, are counted and kept.
 *
 * @throws AnalysisError `invalid-option` for bad counts, seeds, levels or names
 * @throws AnalysisError `not-offered` for a smooth family (only exact refits are resampled), or for a scheme or limits that
 * would mislead on this design
 * @throws AnalysisError `not-estimable` when no family can be fitted or there are no residual degrees of freedom
 * @example
 * const data = { density: [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43], yield: [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192] };
 * const { agronomic } = bootstrapCurves(data, { resamples: 100 });
 * agronomic.interval.level; // => 0.95
 *
 * Source: Davison & Hinkley (1997), Bootstrap Methods and their Application, algorithm 6.1 and eq. 6.9.
 */
export function bootstrapCurves(data: IntervalData, options: BootstrapOptions = {}): BootstrapResult {
  checkShape(data, "data", intervalDataShape);
  checkShape(options, "options", bootstrapOptionsShape, "invalid-option");
  return finishBootstrap(bootstrapJob(prepareIntervalData(data), options), options);
}

/** The same for data that were checked before; `comparison` saves fitting them again. */
export function bootstrapPrepared(
  data: PreparedData | PreparedIntervalData,
  options: BootstrapOptions,
  comparison?: CurveComparison,
): BootstrapResult {
  return finishBootstrap(bootstrapJob(plainLayout(data), options, comparison), options);
}

/** Replicates of some streams of one bootstrap: what a worker sends back. */
export interface BootstrapPart {
  /** Streams `from` … `to` - 1. */
  readonly from: number;
  readonly to: number;
  readonly draws: CurveDraws;
}

/**
 * How many streams `bootstrapCurves` would use with these options: numbers to spread over workers.
 *
 * @example
 * bootstrapStreamCount({ resamples: 2000 }) >= 1; // => true
 */
export function bootstrapStreamCount(options: Pick<BootstrapOptions, "resamples">): number {
  checkShape(options, "options", { resamples: "number?" }, "invalid-option");
  const { resamples = 2000 } = options;
  return streamCount({ resamples });
}

/**
 * Makes streams `from` … `to` - 1 of a bootstrap. Any split over any number of workers gives the same replicates, bit by bit.
 *
 * @throws AnalysisError as `bootstrapCurves`, and `invalid-option` when the streams are not among those of the job
 * @example
 * const data = { density: [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43], yield: [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192] };
 * const options = { resamples: 100, seed: 7 };
 * const streams = bootstrapStreamCount(options);
 * const whole = bootstrapCurves(data, options);
 * const part = bootstrapStreams(data, options, 0, streams); // as many parts as there are workers
 * JSON.stringify(mergeBootstrap(data, options, [part])) === JSON.stringify(whole); // => true
 */
export function bootstrapStreams(
  data: IntervalData,
  options: BootstrapOptions,
  from: number,
  to: number,
): BootstrapPart {
  checkShape(data, "data", intervalDataShape);
  checkShape(options, "options", bootstrapOptionsShape, "invalid-option");
  checkShape(from, "from", "number", "invalid-option");
  checkShape(to, "to", "number", "invalid-option");
  const job = bootstrapJob(prepareIntervalData(data), options);
  const streams = streamCount(job);
  check(
    Number.isInteger(from) && Number.isInteger(to) && from >= 0 && from <= to && to <= streams,
    "invalid-option",
    `streams must satisfy 0 <= from <= to <= ${streams}, got ${from} and ${to}`,
  );
  return { from, to, draws: drawStreams(job, from, to) };
}

/**
 * The result of a bootstrap whose streams were made in parts; the same as `bootstrapCurves` with the same data and options.
 *
 * @param parts - in any order; together they must hold every stream once
 * @throws AnalysisError as `bootstrapCurves`, and `invalid-data` when a stream is missing or given twice
 * @example
 * const data = { density: [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43], yield: [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192] };
 * const options = { resamples: 100, seed: 7 };
 * const parts = [bootstrapStreams(data, options, 0, bootstrapStreamCount(options))];
 * mergeBootstrap(data, options, parts).resamples; // => 100
 */
export function mergeBootstrap(
  data: IntervalData,
  options: BootstrapOptions,
  parts: readonly BootstrapPart[],
): BootstrapResult {
  checkShape(data, "data", intervalDataShape);
  checkShape(options, "options", bootstrapOptionsShape, "invalid-option");
  checkShape(parts, "parts", "objects");
  const job = bootstrapJob(prepareIntervalData(data), options);
  const draws = emptyDraws(job.resamples);
  let next = 0;
  for (const part of [...parts].sort((a, b) => a.from - b.from || a.to - b.to)) {
    check(part.from === next, "invalid-data", `stream ${next} is missing or given twice`);
    next = part.to;
    const start = part.from * STREAM_SIZE;
    for (const name of ["family", "a", "b", "c", "rss"] as const) draws[name].set(part.draws[name], start);
  }
  check(next === streamCount(job), "invalid-data", `streams from ${next} on are missing`);
  return finishBootstrap(job, options, draws);
}

function finishBootstrap(
  job: BootstrapJob,
  { priceRatio, between, keep = false }: BootstrapOptions,
  draws: CurveDraws = drawStreams(job, 0, streamCount(job)),
): BootstrapResult {
  const { design } = job.data;
  const agronomic = optimumScalar(design, 0);
  const economic = priceRatio === undefined ? null : optimumScalar(design, checkedRatio(priceRatio));
  const flex = between === undefined ? null : flexScalar(design, between);
  const counts = new Int32Array(kernelFamilies.length);
  for (const family of draws.family) counts[family]++;
  const summary = (scalar: Scalar): BootstrapDistribution => distribution(job, draws, scalar);
  const plain = ({ scale }: Scalar, values: Float64Array): (number | null)[] =>
    Array.from(values, (value) => (Number.isNaN(value) ? null : scale(value)));
  const replicates = (scalar: Scalar): (number | null)[] => plain(scalar, readDraws(draws, scalar));
  return {
    schema: "standcurve/bootstrap/1",
    scheme: job.plan.scheme,
    drawn: job.plan.drawn,
    multipliers: job.plan.multipliers,
    limits: job.limits,
    quantile: job.quantile,
    seed: job.seed,
    resamples: job.resamples,
    streamSize: STREAM_SIZE,
    base: job.base.family,
    families: job.families,
    chosen: Object.fromEntries(job.families.map((family) => [family, counts[kernelFamilies.indexOf(family)]])),
    agronomic: summary(agronomic),
    economic: economic && summary(economic),
    flexScore: flex && summary(flex),
    replicates: keep
      ? {
          family: Array.from(draws.family, (family) => kernelFamilies[family]),
          agronomic: replicates(agronomic),
          economic: economic && replicates(economic),
          flexScore: flex && replicates(flex),
        }
      : null,
    warnings: job.warnings,
  };
}
