import type { Interval } from "../core/interval.ts";
import { tQuantile } from "../numeric/distributions.ts";

/**
 * Fieller set of the ratio a / b of two estimates: all r with (a - r b)^2 <= t^2 var(a - r b). One interval, or open on one or both sides
 * when b itself may be zero.
 *
 * @param at - confidence of this one set; `level` is what it is reported under
 *
 * Source: Fieller (1954), JRSS B 16, 175-185.
 */
export function ratioSet(
  a: number,
  b: number,
  varA: number,
  covariance: number,
  varB: number,
  dof: number,
  level: number,
  at: number,
): Interval {
  const t = tQuantile((1 + at) / 2, dof);
  const t2 = t * t;
  // Quadratic in r: (b^2 - t2 varB) r^2 - 2 (a b - t2 cov) r + (a^2 - t2 varA) <= 0.
  const square = b * b - t2 * varB;
  const half = a * b - t2 * covariance;
  const root = half * half - square * (a * a - t2 * varA);
  const base = { level, method: "fieller-bonferroni" };
  if (!(square > 0) || root < 0) return { ...base, lower: null, upper: null, lowerOpen: true, upperOpen: true };
  const reach = Math.sqrt(root);
  return {
    ...base,
    lower: (half - reach) / square,
    upper: (half + reach) / square,
    lowerOpen: false,
    upperOpen: false,
  };
}
