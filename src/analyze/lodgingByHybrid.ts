import { lodgingCounts } from "../standability/lodgingCounts.ts";
import { type LodgingInteraction, lodgingInteraction } from "../standability/lodgingInteraction.ts";
import { countRounds } from "./countRounds.ts";
import type { Group } from "./groups.ts";

/** Beyond, one test over all hybrids says little and costs much. */
const MOST_HYBRIDS = 12;

/** Hybrid x density on the last counts of lodging of any kind; null when fewer than two hybrids, or very many, were counted. */
export function lodgingByHybrid(groups: readonly Group[]): LodgingInteraction | null {
  const pooled = groups.filter(({ environment }) => environment === null);
  const counted = pooled.flatMap(({ hybrid, standing }) => {
    const [last] = countRounds(standing);
    const counts = last && lodgingCounts(last.plots);
    return counts && counts.density.length > 0 ? [{ hybrid, counts }] : [];
  });
  if (counted.length < 2 || counted.length > MOST_HYBRIDS) return null;
  const shares = counted.every(({ counts }) => counts.examined === null);
  if (!shares && counted.some(({ counts }) => counts.examined === null)) return null;
  return lodgingInteraction({
    density: counted.flatMap(({ counts }) => counts.density),
    lodged: counted.flatMap(({ counts }) => counts.lodged),
    examined: shares ? null : counted.flatMap(({ counts }) => counts.examined ?? []),
    block: counted.flatMap(({ counts }) => counts.block),
    group: counted.flatMap(({ hybrid, counts }) => counts.density.map(() => hybrid)),
  });
}
