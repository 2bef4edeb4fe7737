import { exp, hypot, log } from "../core/elementary.ts";
import type { Interval } from "../core/interval.ts";
import { type Estimate, estimateQuantile, likely } from "./estimate.ts";

/**
 * An interval on the trial's density axis carried to the seeding axis, establishment's own doubt included.
 *
 * rate = x / share. On the logarithm the two errors add, so each side is sqrt(side of x ^2 + side of the share ^2); an open end
 * stays open.
 *
 * @param estimate - the density inside the interval; null when it is an end of the range, then the ends are divided only
 * @param share - density axis per rate unit
 */
export function onSeedingAxis(interval: Interval, estimate: number | null, share: Estimate): Interval {
  const middle = likely(share);
  const tail = (1 - interval.level) / 2;
  const side = (end: number | null, shareEnd: number): number | null => {
    if (end === null) return null;
    if (estimate === null) return end / middle;
    const own = log(end / estimate);
    const reach = hypot(own, log(shareEnd / middle));
    return (estimate / middle) * exp(own < 0 ? 0 - reach : reach);
  };
  // A higher share needs fewer seeds: the lower end of the rate goes with the upper end of the share.
  const lower = side(interval.lower, estimateQuantile(share, 1 - tail));
  const upper = side(interval.upper, estimateQuantile(share, tail));
  const { pieces: _, ...rest } = interval;
  return { ...rest, lower, upper };
}
