import { quantileSorted as packageQuantile } from "simple-statistics";
import { check } from "../core/errors.ts";

/**
 * Quantile of ascending values, by linear interpolation between them (type 7, the default of R).
 *
 * @param sorted - values in ascending order, finite; shape [n], n >= 1; any unit
 * @param p - probability, 0 to 1
 * @returns the p-quantile, in the unit of `sorted`
 * @throws AnalysisError `invalid-option` when p is outside [0, 1], `invalid-data` when there are no values, or the values at
 * the quantile are not finite
 * @example
 * quantileSorted([1, 2, 3, 10], 0.5); // => 2.5
 *
 * Source: Hyndman & Fan (1996), The American Statistician 50(4), 361-365.
 */
export function quantileSorted(sorted: ArrayLike<number>, p: number): number {
  check(sorted.length > 0, "invalid-data", "a quantile needs at least one value");
  check(p >= 0 && p <= 1, "invalid-option", `p must be from 0 to 1, got ${p}`);
  // the package asks for a mutable array but only reads it
  const value = packageQuantile(sorted as number[], p);
  check(Number.isFinite(value), "invalid-data", `a quantile needs finite values, got ${value} at p = ${p}`);
  return value;
}

/**
 * Quantile of values in any order; see `quantileSorted`. The input is not changed.
 *
 * @throws AnalysisError `invalid-data` when a value is not a number
 */
export function quantile(values: ArrayLike<number>, p: number): number {
  const sorted = Float64Array.from(values).sort();
  // NaN sorts to the end
  check(!Number.isNaN(sorted[sorted.length - 1]), "invalid-data", "a quantile needs numbers, got NaN");
  return quantileSorted(sorted, p);
}
