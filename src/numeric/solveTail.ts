import { log } from "../core/elementary.ts";
import type { Tails } from "./incompleteBeta.ts";

/**
 * Solves tail(u) = p for u, where the lower tail rises with u: safeguarded Newton steps on the logarithm of whichever
 * tail is the smaller, so that far quantiles are as sharp as near ones.
 *
 * @param p - lower probability, 0 < p < 1
 * @param tails - both tails at u
 * @param density - derivative of the lower tail with respect to u
 * @param start - first guess; any number will do
 * @param min - u at which the lower tail is 0 to double precision
 * @param max - u at which the upper tail is 0 to double precision
 */
export function solveTail(
  p: number,
  tails: (u: number) => Tails,
  density: (u: number) => number,
  start: number,
  min: number,
  max: number,
): number {
  const useLower = p <= 0.5;
  const target = log(useLower ? p : 1 - p);
  let lo = min;
  let hi = max;
  let u = Math.min(max, Math.max(min, start));
  let width = 0.5;
  for (let i = 0; i < 300; i++) {
    const both = tails(u);
    const tail = useLower ? both.lower : both.upper;
    const excess = (useLower ? 1 : -1) * (log(tail) - target); // > 0: u is too high
    if (excess > 0) hi = u;
    else if (excess < 0) lo = u;
    else return u;
    let next = u - (excess * tail) / density(u);
    if (!(next > lo && next < hi)) {
      // outside the bracket: widen from the start, then halve
      if (excess > 0) next = lo === min ? Math.max(u - width, (u + lo) / 2) : (lo + hi) / 2;
      else next = hi === max ? Math.min(u + width, (u + hi) / 2) : (lo + hi) / 2;
      width *= 2;
    }
    if (next === u || Math.abs(next - u) <= 1e-16 * Math.abs(u) || hi - lo <= 2e-16 * Math.abs(u)) return next;
    u = next;
  }
  return u;
}
