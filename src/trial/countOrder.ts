import type { LodgingCount } from "./trial.ts";

/** Order of two counts in time: by days after maturity when both have them, else by date as text, undated first. */
export function countOrder(a: LodgingCount, b: LodgingCount): number {
  if (a.daysAfterMaturity !== undefined && b.daysAfterMaturity !== undefined)
    return a.daysAfterMaturity - b.daysAfterMaturity;
  const [first, second] = [a.date ?? "", b.date ?? ""];
  return first < second ? -1 : first > second ? 1 : 0;
}

/** The last count of each kind on a plot: the nearest to harvest. */
export function lastCounts(counts: readonly LodgingCount[]): LodgingCount[] {
  if (counts.length < 2) return [...counts];
  const last = new Map<LodgingCount["kind"], LodgingCount>();
  for (const count of counts) {
    const known = last.get(count.kind);
    if (known === undefined || countOrder(known, count) <= 0) last.set(count.kind, count);
  }
  return [...last.values()];
}
