import { pow } from "../core/elementary.ts";
import type { Interval } from "../core/interval.ts";
import { normalCdf, normalQuantile } from "../numeric/distributions.ts";
import { type SortedValues, sortedWhereRead } from "../numeric/sortedWhereRead.ts";

/**
 * How limits are made from replicates t* of an estimate t. `percentile`: quantiles of t*. `basic`: 2 t minus the opposite
 * quantile. `bca`: percentile at levels corrected for bias and skewness. `studentised`: t - s q* with q* quantiles of
 * (t* - t) / s*.
 */
export type LimitKind = "percentile" | "basic" | "bca" | "studentised";

/** Quantile rule: 7 and 6 of Hyndman & Fan (1996), or interpolation on the normal scale (Davison & Hinkley 1997, eq. 5.8). */
export type QuantileRule = 7 | 6 | "normal";

export interface LimitOptions {
  /** Default "percentile". */
  readonly kind?: LimitKind;
  /** Default 7. */
  readonly quantile?: QuantileRule;
  /** The estimate, on the scale of the values; needed by all kinds but percentile. NaN when it does not exist. */
  readonly estimate?: number;
  /** Influence of each unit, (n - 1) (mean - t without it); needed by BCa. */
  readonly influence?: Float64Array;
  /** (t* - t) / s* of each replicate, NaN where it does not exist, and s; needed by studentised. */
  readonly pivots?: Float64Array;
  readonly standardError?: number;
}

/** What a set of replicates says about one quantity. Nothing is dropped: ends and missing values are counted. */
export interface BootstrapDistribution {
  /** An end that falls among the replicates at an end of the range is open. */
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
  /** Why limits of the kind asked for do not exist or are doubtful; only when there is something to say. */
  readonly note?: string;
}

/**
 * Limits of replicates some of which are censored.
 *
 * Values at or below `range.low` (at or above `range.high`) count as "that end or beyond". Missing ones could be anywhere: they
 * count as below everything for the lower limit and above everything for the upper one, which can only widen the interval.
 *
 * @param values - one a replicate, NaN where the quantity does not exist; shape [B]
 * @param range - ends of the tested range on the scale of `values`, or null when the quantity has no ends
 * @param scale - from that scale to the caller's unit, increasing
 *
 * Source: Davison & Hinkley (1997), Bootstrap Methods and their Application, chapter 5; Efron (1987), JASA 82, 171-185 for BCa;
 * standard error of a quantile from the binomial spread of its rank.
 */
export function summarise(
  values: Float64Array,
  level: number,
  range: { readonly low: number; readonly high: number } | null,
  scale: (value: number) => number,
  options: LimitOptions = {},
): BootstrapDistribution {
  const { kind = "percentile", quantile: rule = 7 } = options;
  const ranked = rank(values, range);
  const { total, inside, lowerEdge, upperEdge, missing } = ranked;
  const { lower, upper, note } = limits(ranked, (1 - level) / 2, rule, range, options);
  const error = (limit: Limit): number | null => {
    if (limit.value === null || limit.spread === null) return null;
    const [a, b] = limit.spread;
    return Math.abs(scale(b) - scale(a)) / 2;
  };
  const scaled = (value: number | null): number | null => (value === null ? null : scale(value));
  return {
    interval: {
      lower: scaled(lower.value),
      upper: scaled(upper.value),
      lowerOpen: lower.value === null,
      upperOpen: upper.value === null,
      level,
      method: `bootstrap-${kind}`,
    },
    median: scaled(quantileOf(ranked, 0.5, lowerEdge + Math.floor(missing / 2), total, 7)),
    lowerError: error(lower),
    upperError: error(upper),
    count: { inside, lowerEdge, upperEdge, missing },
    ...(note === null ? {} : { note }),
  };
}

/** Values in order with counts of what lies beyond. */
interface Ranked {
  readonly sorted: SortedValues;
  readonly total: number;
  readonly inside: number;
  readonly lowerEdge: number;
  readonly upperEdge: number;
  readonly missing: number;
}

function rank(values: Float64Array, range: { readonly low: number; readonly high: number } | null): Ranked {
  const low = range?.low ?? Number.NEGATIVE_INFINITY;
  const high = range?.high ?? Number.POSITIVE_INFINITY;
  const total = values.length;
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
  const missing = total - inside - lowerEdge - upperEdge;
  return { sorted: sortedWhereRead(kept, inside), total, inside, lowerEdge, upperEdge, missing };
}

/** Value of a 0-based rank when `below` values lie under the sorted ones; null when it is not one of them. */
function at({ sorted, inside }: Ranked, position: number, below: number): number | null {
  const i = position - below;
  return i >= 0 && i < inside ? sorted.at(i) : null;
}

/** Quantile of all values, censored ones included; null when it falls on a censored one. */
function quantileOf(ranked: Ranked, p: number, below: number, total: number, rule: QuantileRule): number | null {
  if (rule === 7) {
    const h = (total - 1) * p;
    const low = Math.floor(h);
    return between(at(ranked, low, below), at(ranked, Math.ceil(h), below), h - low);
  }
  const position = (total + 1) * p;
  const k = Math.min(Math.max(Math.floor(position + 4 * Number.EPSILON), 0), total);
  if (k < 1) return at(ranked, 0, below);
  if (k >= total) return at(ranked, total - 1, below);
  const share = Math.max(position - k, 0);
  if (share < 4 * Number.EPSILON * position) return at(ranked, k - 1, below);
  const left = at(ranked, k - 1, below);
  const right = at(ranked, k, below);
  if (rule === 6) return between(left, right, share);
  const from = normalQuantile(k / (total + 1));
  return between(left, right, (normalQuantile(p) - from) / (normalQuantile((k + 1) / (total + 1)) - from));
}

function between(a: number | null, b: number | null, share: number): number | null {
  if (a === null || b === null) return null;
  return a + share * (b - a);
}

interface Limit {
  readonly value: number | null;
  /** Values one binomial standard deviation of rank to either side. */
  readonly spread: readonly [number, number] | null;
}

const open: Limit = { value: null, spread: null };

function limit(ranked: Ranked, p: number, below: number, rule: QuantileRule): Limit {
  const { total } = ranked;
  const value = quantileOf(ranked, p, below, total, rule);
  const width = Math.sqrt(total * p * (1 - p));
  const a = at(ranked, Math.max(Math.floor((total - 1) * p - width), 0), below);
  const b = at(ranked, Math.min(Math.ceil((total - 1) * p + width), total - 1), below);
  return { value, spread: a === null || b === null ? null : [a, b] };
}

interface Limits {
  readonly lower: Limit;
  readonly upper: Limit;
  readonly note: string | null;
}

function limits(
  ranked: Ranked,
  tail: number,
  rule: QuantileRule,
  range: { readonly low: number; readonly high: number } | null,
  options: LimitOptions,
): Limits {
  const { kind = "percentile", estimate = Number.NaN } = options;
  const { lowerEdge, missing } = ranked;
  const lowerAt = (p: number): Limit => limit(ranked, p, lowerEdge + missing, rule);
  const upperAt = (p: number): Limit => limit(ranked, p, lowerEdge, rule);
  if (kind === "percentile") return { lower: lowerAt(tail), upper: upperAt(1 - tail), note: null };

  if (Number.isNaN(estimate)) return refused("the quantity does not exist on the fitted curve itself");
  if (range && (estimate <= range.low || estimate >= range.high)) {
    return refused("the estimate itself is at an end of the tested range, where only percentile limits exist");
  }
  if (kind === "basic") {
    const mirror = ({ value, spread }: Limit): Limit => ({
      value: value === null ? null : reflect(2 * estimate - value, range),
      spread: spread && [2 * estimate - spread[1], 2 * estimate - spread[0]],
    });
    return { lower: mirror(upperAt(1 - tail)), upper: mirror(lowerAt(tail)), note: null };
  }
  if (kind === "bca") return bca(ranked, tail, estimate, options.influence, lowerAt, upperAt);
  return studentised(estimate, tail, rule, range, options);
}

function refused(note: string): Limits {
  return { lower: open, upper: open, note };
}

/** A limit that a mirror image puts outside the range is open. */
function reflect(value: number, range: { readonly low: number; readonly high: number } | null): number | null {
  return range && (value <= range.low || value >= range.high) ? null : value;
}

/** Share of replicates at an end or missing above which BCa is doubted: our convention. */
const DOUBTFUL_SHARE = 0.05;

function bca(
  ranked: Ranked,
  tail: number,
  estimate: number,
  influence: Float64Array | undefined,
  lowerAt: (p: number) => Limit,
  upperAt: (p: number) => Limit,
): Limits {
  const { sorted, total, lowerEdge, missing, inside } = ranked;
  const known = influence ? influence.filter((value) => Number.isFinite(value)) : new Float64Array(0);
  const squares = known.reduce((sum, value) => sum + value * value, 0);
  if (!(squares > 0)) return refused("leaving one unit out never moves the estimate, so there is no acceleration");
  const acceleration = known.reduce((sum, value) => sum + value * value * value, 0) / (6 * pow(squares, 1.5));
  const share = (lowerEdge + sorted.below(estimate)) / (total - missing);
  if (!(share > 0 && share < 1)) return refused("all replicates lie on one side of the estimate");
  const z0 = normalQuantile(share);
  const corrected = (p: number): number => {
    const z = z0 + normalQuantile(p);
    return normalCdf(z0 + z / (1 - acceleration * z));
  };
  const doubtful = (total - inside) / total > DOUBTFUL_SHARE;
  return {
    lower: lowerAt(corrected(tail)),
    upper: upperAt(corrected(1 - tail)),
    note: doubtful
      ? `${Math.round((100 * (total - inside)) / total)} % of the replicates are at an end of the range or missing: BCa is too short in such trials`
      : null,
  };
}

function studentised(
  estimate: number,
  tail: number,
  rule: QuantileRule,
  range: { readonly low: number; readonly high: number } | null,
  { pivots, standardError }: LimitOptions,
): Limits {
  if (!pivots || standardError === undefined || !(standardError > 0)) {
    return refused("the estimate has no standard error (a join on a tested density, or no bend)");
  }
  const ranked = rank(pivots, null);
  const side = ({ value, spread }: Limit): Limit => ({
    value: value === null ? null : reflect(estimate - standardError * value, range),
    spread: spread && [estimate - standardError * spread[1], estimate - standardError * spread[0]],
  });
  return {
    lower: side(limit(ranked, 1 - tail, 0, rule)),
    upper: side(limit(ranked, tail, ranked.missing, rule)),
    note:
      ranked.missing > 0
        ? `${ranked.missing} of ${ranked.total} replicates have no standard error; they widen the interval`
        : null,
  };
}
