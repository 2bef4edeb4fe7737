import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import type { Family } from "../curves/family.ts";
import { comparePrepared } from "../fit/compareCurves.ts";
import {
  type BootstrapJob,
  bootstrapJob,
  distribution,
  drawStreams,
  estimateOf,
  type ResampleOptions,
  readDraws,
  resampleOptionsShape,
  streamCount,
} from "../interval/bootstrapJob.ts";
import {
  type IntervalData,
  intervalDataShape,
  type PreparedIntervalData,
  prepareIntervalData,
} from "../interval/intervalData.ts";
import { type BootstrapDistribution, summarise } from "../interval/limits.ts";
import { independenceWarning, optimumIntervalPrepared } from "../interval/optimumInterval.ts";
import { replicator } from "../interval/replicator.ts";
import type { Scalar } from "../interval/scalar.ts";
import { scalarInterval } from "../interval/scalarInterval.ts";
import { type CurveQuantity, describeQuantity, type Quantity, quantityScalar, ratioOf } from "./quantity.ts";

export interface QuantityIntervalOptions extends ResampleOptions {
  /**
   * `envelope` (default): test inversion over all candidate families. `profile`: the same within one family. `bootstrap`:
   * limits of the selection-inclusive bootstrap; the only one for a difference, and its default.
   */
  readonly method?: "envelope" | "profile" | "bootstrap";
  /** Family of `profile`; default: the chosen one. With `bootstrap`: no choice among families. */
  readonly family?: Family;
  /** Cut-off by simulation, as in `optimumInterval`; default true for the envelope, false for a profile. */
  readonly calibrate?: boolean;
  /** Simulations of the cut-off, default 999. */
  readonly simulations?: number;
  /** Thresholds, in the unit of the quantity: adds the probability of being above each, from the bootstrap. */
  readonly above?: number | readonly number[];
}

/** What `QuantityIntervalOptions` must look like. */
export const quantityIntervalOptionsShape: { readonly [property: string]: Shape } = {
  ...resampleOptionsShape,
  method: "text?",
  family: "text?",
  calibrate: "flag?",
  simulations: "count?",
  above: "any?",
};

/** How probable it is that a quantity lies above a threshold, as the share of replicates in which it does. */
export interface QuantityProbability {
  readonly above: number;
  /** Replicates of which it cannot be said (censored, or the quantity does not exist) count half. */
  readonly probability: number;
  readonly undetermined: number;
  /** Monte-Carlo standard error. */
  readonly error: number;
}

/** Interval of any derived quantity; open ends are null. */
export interface QuantityInterval extends Interval {
  /** The quantity in words. */
  readonly quantity: string;
  /** On the chosen curve; null when it does not exist there, or lies at an end of the tested range or beyond. */
  readonly estimate: number | null;
  /** Family of a profile or one-family bootstrap; null when the choice is part of the interval. */
  readonly family: Family | null;
  readonly probabilities: readonly QuantityProbability[];
  /** Replicates behind bootstrap limits and probabilities; null without them. */
  readonly bootstrap: BootstrapDistribution | null;
  readonly seed: number | null;
  readonly resamples: number | null;
  /** What an open end means, in words; null when there is nothing to say. */
  readonly reason: string | null;
  readonly warnings: readonly string[];
}

/**
 * Confidence interval of any derived quantity of a curve, or of the difference between two sets of plots.
 *
 * By default the envelope: all values that the quantity takes on curves of any candidate family that fit within the F cut-off
 * of the best. Probabilities and differences come from the bootstrap, in which all quantities are read off the same replicates
 * and those of two sets of plots are paired (the same draw where they share strips or environments).
 *
 * @throws AnalysisError `invalid-option`, `not-offered` or `not-estimable`, as `optimumInterval` and `bootstrapCurves`
 * @example
 * const density = [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43];
 * const yields = [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192];
 * quantityInterval({ density, yield: yields }, { kind: "gain", from: 23, to: 33 }).lowerOpen; // => false
 *
 * Source: test inversion as in `scalarInterval`; Davison & Hinkley (1997) for the bootstrap.
 */
export function quantityInterval(
  data: IntervalData,
  quantity: Quantity,
  options: QuantityIntervalOptions = {},
): QuantityInterval {
  checkShape(data, "data", intervalDataShape);
  checkShape(
    quantity,
    "quantity",
    { kind: "text", from: "number?", to: "number?", between: "numbers?" },
    "invalid-option",
  );
  checkShape(options, "options", quantityIntervalOptionsShape, "invalid-option");
  const { method = quantity.kind === "difference" ? "bootstrap" : "envelope", level = 0.95, family } = options;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(
    method === "envelope" || method === "profile" || method === "bootstrap",
    "invalid-option",
    `unknown method "${method}"; choose envelope, profile or bootstrap`,
  );
  const thresholds = options.above === undefined ? [] : [options.above].flat();
  const prepared = prepareIntervalData(data);
  if (quantity.kind === "difference") {
    check(method === "bootstrap", "not-offered", "a difference between two sets of plots has bootstrap limits only");
    return difference(prepared, prepareIntervalData(quantity.against), quantity.of, options, thresholds);
  }
  const scalar = quantityScalar(prepared.design, quantity);
  const resampling = method === "bootstrap" || thresholds.length > 0;
  const job = resampling ? bootstrapJob(prepared, oneFamily(options)) : null;
  const draws = job && drawStreams(job, 0, streamCount(job));
  const spread = job && draws && distribution(job, draws, scalar);
  const values = draws && readDraws(draws, scalar);
  const probabilities = values ? thresholds.map((above) => chance(bounds(values, scalar), above)) : [];
  const shared = {
    quantity: describeQuantity(quantity),
    probabilities,
    bootstrap: spread,
    seed: job?.seed ?? null,
    resamples: job?.resamples ?? null,
    warnings: job?.warnings ?? [],
  };
  if (method === "bootstrap" && job && spread) {
    return {
      ...spread.interval,
      ...shared,
      estimate: visible(estimateOf(job, scalar), scalar),
      family: family ?? null,
      reason: spread.note ?? openReason(spread),
    };
  }
  const estimate = chosenEstimate(prepared, scalar, options);
  const warnings = [...independenceWarning(prepared), ...shared.warnings];
  return { ...inverted(prepared, quantity, options, method), ...shared, warnings, estimate };
}

/** Envelope or profile; optima by their own exact sets, everything else by searching the region of compatible curves. */
function inverted(
  data: PreparedIntervalData,
  quantity: CurveQuantity,
  { level = 0.95, families, family, calibrate, simulations, seed }: QuantityIntervalOptions,
  method: "envelope" | "profile" | "bootstrap",
): Interval & { readonly family: Family | null; readonly reason: string | null } {
  const cutoff = {
    ...(calibrate === undefined ? {} : { calibrate }),
    ...(simulations === undefined ? {} : { simulations }),
    ...(seed === undefined ? {} : { seed }),
  };
  if (quantity.kind === "agronomic-optimum" || quantity.kind === "economic-optimum") {
    const economic = quantity.kind === "economic-optimum";
    const interval = optimumIntervalPrepared(data, {
      method: method === "profile" ? "profile" : "envelope",
      level,
      target: economic ? "economic" : "agronomic",
      ...(economic ? { priceRatio: ratioOf(quantity) } : {}),
      ...(families ? { families } : {}),
      ...(family && method === "profile" ? { family } : {}),
      ...cutoff,
    });
    const { target: _, flatNotExcluded: __, cutoff: ___, ...rest } = interval;
    return rest;
  }
  const one = method === "profile" ? (family ?? bestFamily(data, families)) : null;
  return scalarInterval(data, quantityScalar(data.design, quantity), {
    level,
    family: one,
    ...(families ? { families } : {}),
    ...cutoff,
  });
}

function bestFamily(data: PreparedIntervalData, families: readonly Family[] | undefined): Family {
  const { best } = comparePrepared(data, families ? { families } : {});
  check(best !== null, "not-estimable", "no family can be ranked on these plots; name one");
  return best;
}

function oneFamily({ family, families, ...rest }: QuantityIntervalOptions): ResampleOptions {
  const chosen = family ? [family] : families;
  return { ...rest, ...(chosen ? { families: chosen } : {}) };
}

/** The quantity on the chosen curve, without a bootstrap; null when no curve can be resampled. */
function chosenEstimate(
  data: PreparedIntervalData,
  scalar: Scalar,
  { family, families }: QuantityIntervalOptions,
): number | null {
  const { fits, best } = comparePrepared(data, family ? { families: [family] } : families ? { families } : {});
  const fit = fits.find((candidate) => candidate.family === best) ?? fits.find((one) => one.status === "converged");
  if (!fit) return null;
  return visible(estimateOf({ data, base: fit }, scalar), scalar);
}

function visible(value: number, { range, scale }: Scalar): number | null {
  if (Number.isNaN(value)) return null;
  return range && (value <= range.low || value >= range.high) ? null : scale(value);
}

function openReason({ interval, count }: BootstrapDistribution): string | null {
  if (!interval.lowerOpen && !interval.upperOpen) return null;
  const shares = [
    [count.lowerEdge, "at or below the lowest tested density"],
    [count.upperEdge, "at or beyond the highest tested density"],
    [count.missing, "without this quantity"],
  ] as const;
  const said = shares.flatMap(([share, where]) => (share > 0 ? [`${share} of the replicates ${where}`] : []));
  return `this trial does not bound the quantity: ${said.join(", ")}`;
}

/** What is known of the quantity in each replicate, in its own unit: a lowest and a highest possible value. */
interface Bounds {
  readonly low: Float64Array;
  readonly high: Float64Array;
}

function bounds(values: Float64Array, { range, scale }: Scalar): Bounds {
  return {
    low: values.map((value) =>
      Number.isNaN(value) || (range !== null && value <= range.low) ? Number.NEGATIVE_INFINITY : scale(value),
    ),
    high: values.map((value) =>
      Number.isNaN(value) || (range !== null && value >= range.high) ? Number.POSITIVE_INFINITY : scale(value),
    ),
  };
}

function chance({ low, high }: Bounds, above: number): QuantityProbability {
  check(Number.isFinite(above), "invalid-option", `above must hold finite numbers, got ${above}`);
  let yes = 0;
  let no = 0;
  for (let i = 0; i < low.length; i++) {
    if (low[i] > above) yes++;
    else if (high[i] <= above) no++;
  }
  const total = low.length;
  const undetermined = (total - yes - no) / total;
  const probability = yes / total + undetermined / 2;
  return { above, probability, undetermined, error: Math.sqrt((probability * (1 - probability)) / total) };
}

/** Random numbers of the second data set come from streams this far on, unless the two share what is drawn. */
const SECOND = 2147483648;

function difference(
  first: PreparedIntervalData,
  second: PreparedIntervalData,
  quantity: CurveQuantity,
  options: QuantityIntervalOptions,
  thresholds: readonly number[],
): QuantityInterval {
  const { limits = "percentile" } = options;
  check(limits === "percentile", "not-offered", `a difference has percentile limits only, not ${limits}`);
  const jobs = [bootstrapJob(first, oneFamily(options)), bootstrapJob(second, oneFamily(options))] as const;
  const order = sharedUnits(jobs);
  const sides = jobs.map((job, k) => {
    const machine = replicator(job.data, job.base, job.families, job.plan, order ?? undefined);
    const draws = drawStreams(job, 0, streamCount(job), order || k === 0 ? 0 : SECOND, machine);
    const scalar = quantityScalar(job.data.design, quantity);
    return { ...bounds(readDraws(draws, scalar), scalar), estimate: visible(estimateOf(job, scalar), scalar) };
  });
  const [a, b] = sides;
  const low = a.low.map((value, i) => value - b.high[i]);
  const high = a.high.map((value, i) => value - b.low[i]);
  const { level } = jobs[0];
  const same = (value: number): number => value;
  const from = summarise(low, level, null, same, { quantile: jobs[0].quantile });
  const to = summarise(high, level, null, same, { quantile: jobs[0].quantile });
  const known = low.map((value, i) => (value === high[i] ? value : Number.NaN));
  const middle = summarise(known, level, null, same);
  const interval = {
    ...from.interval,
    upper: to.interval.upper,
    upperOpen: to.interval.upperOpen,
  };
  const spread = { ...middle, interval, lowerError: from.lowerError, upperError: to.upperError };
  return {
    ...interval,
    quantity: describeQuantity({ kind: "difference", of: quantity, against: { density: [], yield: [] } }),
    estimate: a.estimate === null || b.estimate === null ? null : a.estimate - b.estimate,
    family: options.family ?? null,
    probabilities: thresholds.map((above) => chance({ low, high }, above)),
    bootstrap: spread,
    seed: jobs[0].seed,
    resamples: jobs[0].resamples,
    reason:
      interval.lowerOpen || interval.upperOpen
        ? "at least one of the two is not bounded by its trial, so neither is the difference"
        : null,
    warnings: [...new Set(jobs.flatMap((job) => job.warnings))],
  };
}

/** Labels of all units when both sides draw units and have some in common; null when they are independent. */
function sharedUnits(jobs: readonly [BootstrapJob, BootstrapJob]): string[] | null {
  const [a, b] = jobs.map(({ plan }) => (plan.strata ? null : plan.unit));
  if (!a || !b || jobs[0].plan.scheme !== jobs[1].plan.scheme) return null;
  if (!a.labels.some((label) => b.labels.includes(label))) return null;
  return [...new Set([...a.labels, ...b.labels])].sort();
}
