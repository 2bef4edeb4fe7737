import { square } from "../core/elementary.ts";

/** A chance estimated by simulation. */
export interface Share {
  /** Simulations in which it happened / simulations in which it could be judged; null when there was none. */
  readonly value: number | null;
  /** Monte-Carlo standard error; null with `value`. */
  readonly error: number | null;
  readonly count: number;
  readonly of: number;
}

/**
 * Share with its Monte-Carlo standard error, taken at (k + 2) / (n + 4): at 0 or n of n the plain formula would claim none.
 *
 * Source: Agresti & Coull (1998), The American Statistician 52(2), 119-126.
 */
export function shareOf(count: number, of: number): Share {
  if (of === 0) return { value: null, error: null, count, of };
  const p = (count + 2) / (of + 4);
  return { value: count / of, error: Math.sqrt((p * (1 - p)) / (of + 4)), count, of };
}

/** A mean estimated by simulation. */
export interface SimulatedMean {
  readonly value: number | null;
  /** Monte-Carlo standard error; null with fewer than two values. */
  readonly error: number | null;
  readonly of: number;
}

export function meanOf(values: ArrayLike<number>): SimulatedMean {
  const n = values.length;
  if (n === 0) return { value: null, error: null, of: 0 };
  let sum = 0;
  for (let i = 0; i < n; i++) sum += values[i];
  const mean = sum / n;
  let squares = 0;
  for (let i = 0; i < n; i++) squares += square(values[i] - mean);
  return { value: mean, error: n > 1 ? Math.sqrt(squares / (n - 1) / n) : null, of: n };
}

/** Quantile of ascending values by linear interpolation (type 7); null without values. */
export function quantileOf(sorted: ArrayLike<number>, p: number): number | null {
  if (sorted.length === 0) return null;
  const h = (sorted.length - 1) * p;
  const low = Math.floor(h);
  const a = sorted[low];
  const b = sorted[Math.ceil(h)];
  return a + (h - low) * (b - a);
}
