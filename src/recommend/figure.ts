import type { Interval } from "../core/interval.ts";

/** An expected value with the interval that its draws span. */
export interface Figure {
  readonly mean: number;
  readonly interval: Interval;
}

/** Mean and percentile limits (type 7) of draws. */
export function figureOf(draws: Float64Array, level: number): Figure {
  const sorted = Float64Array.from(draws).sort();
  const tail = (1 - level) / 2;
  return {
    mean: meanOf(draws),
    interval: {
      lower: quantileOf(sorted, tail),
      upper: quantileOf(sorted, 1 - tail),
      lowerOpen: false,
      upperOpen: false,
      level,
      method: "draws",
    },
  };
}

export function meanOf(draws: Float64Array): number {
  let sum = 0;
  for (const value of draws) sum += value;
  return sum / draws.length;
}

/** Quantile of ascending values, type 7 of Hyndman & Fan (1996). */
export function quantileOf(sorted: Float64Array, p: number): number {
  const h = (sorted.length - 1) * p;
  const low = Math.floor(h);
  const high = Math.ceil(h);
  // Equal neighbours may be infinite, whose difference is not a number.
  return sorted[low] === sorted[high] ? sorted[low] : sorted[low] + (h - low) * (sorted[high] - sorted[low]);
}

/**
 * Percentile interval of densities, where -Infinity means "at or below the lowest tested one" and Infinity "at or above the
 * highest". An end that falls among those is open on its own side and the end of the range on the other.
 */
export function rangeInterval(
  draws: Float64Array,
  [lowest, highest]: readonly [number, number],
  level: number,
): Interval {
  const sorted = Float64Array.from(draws).sort();
  const tail = (1 - level) / 2;
  const end = (p: number, open: number): number | null => {
    const value = quantileOf(sorted, p);
    if (Number.isFinite(value)) return value;
    return value === open ? null : value < 0 ? lowest : highest;
  };
  const lower = end(tail, Number.NEGATIVE_INFINITY);
  const upper = end(1 - tail, Number.POSITIVE_INFINITY);
  return { lower, upper, lowerOpen: lower === null, upperOpen: upper === null, level, method: "draws" };
}
