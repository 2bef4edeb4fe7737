import type { Interval } from "../core/interval.ts";

/** What a set of replicates says about one quantity. Nothing is dropped: ends and missing values are counted. */
export interface BootstrapDistribution {
  /** Percentile interval (type 7); an end that falls among the replicates at an end of the range is open. */
  readonly interval: Interval;
  /** Median of the replicates, those at the ends included; null when it falls on an end or there is none. */
  readonly median: number | null;
  /** Monte-Carlo standard error of each limit; null for an open end. */
  readonly lowerError: number | null;
  readonly upperError: number | null;
  readonly count: {
    readonly inside: number;
    readonly lowerEdge: number;
    readonly upperEdge: number;
    /** Replicates in which the quantity does not exist (no response, say). */
    readonly missing: number;
  };
}

/**
 * Percentile limits of replicates some of which are censored.
 *
 * Values at or below `range.low` (at or above `range.high`) count as "that end or beyond". Missing ones could be anywhere: they
 * count as below everything for the lower limit and above everything for the upper one, which can only widen the interval.
 *
 * @param values - one a replicate, NaN where the quantity does not exist; shape [B]
 * @param range - ends of the tested range on the scale of `values`, or null when the quantity has no ends
 * @param scale - from that scale to the caller's unit
 *
 * Source: quantile type 7, Hyndman & Fan (1996); standard error of a quantile from the binomial spread of its rank.
 */
export function summarise(
  values: Float64Array,
  level: number,
  range: { readonly low: number; readonly high: number } | null,
  scale: (value: number) => number,
): BootstrapDistribution {
  const total = values.length;
  const low = range?.low ?? Number.NEGATIVE_INFINITY;
  const high = range?.high ?? Number.POSITIVE_INFINITY;
  let lowerEdge = 0;
  let upperEdge = 0;
  let inside = 0;
  const kept = new Float64Array(total);
  for (let i = 0; i < total; i++) {
    const value = values[i];
    if (value <= low) lowerEdge++;
    else if (value >= high) upperEdge++;
    else if (!Number.isNaN(value)) kept[inside++] = value;
  }
  const sorted = kept.subarray(0, inside).sort();
  const missing = total - inside - lowerEdge - upperEdge;

  /** Value of 0-based rank among all replicates; null when it is not one of those inside. */
  const at = (rank: number, below: number): number | null => {
    const i = rank - below;
    return i >= 0 && i < inside ? sorted[i] : null;
  };
  const quantile = (p: number, below: number): number | null => {
    const h = (total - 1) * p;
    const a = at(Math.floor(h), below);
    const b = at(Math.ceil(h), below);
    return a === null || b === null ? null : a + (h - Math.floor(h)) * (b - a);
  };
  /** Half the distance between the values one binomial standard deviation of rank to either side. */
  const error = (p: number, below: number): number | null => {
    const spread = Math.sqrt(total * p * (1 - p));
    const a = at(Math.max(Math.floor((total - 1) * p - spread), 0), below);
    const b = at(Math.min(Math.ceil((total - 1) * p + spread), total - 1), below);
    return a === null || b === null ? null : (scale(b) - scale(a)) / 2;
  };
  const tail = (1 - level) / 2;
  const scaled = (value: number | null): number | null => (value === null ? null : scale(value));
  const lower = scaled(quantile(tail, lowerEdge + missing));
  const upper = scaled(quantile(1 - tail, lowerEdge));
  return {
    interval: {
      lower,
      upper,
      lowerOpen: lower === null,
      upperOpen: upper === null,
      level,
      method: "bootstrap-percentile",
    },
    median: scaled(quantile(0.5, lowerEdge + Math.floor(missing / 2))),
    lowerError: lower === null ? null : error(tail, lowerEdge + missing),
    upperError: upper === null ? null : error(1 - tail, lowerEdge),
    count: { inside, lowerEdge, upperEdge, missing },
  };
}
