import { countOrder } from "../trial/countOrder.ts";
import type { LodgingCount, Plot } from "../trial/trial.ts";
import type { CountTime } from "./standability.ts";

/** Plots as they were found in one round of counting. */
export interface CountRound {
  readonly time: CountTime;
  /** Their `lodging` holds the counts of this round only, without dates. */
  readonly plots: readonly Plot[];
  /** Plots that were counted in some other round but not in this one. */
  readonly missed: number;
}

/**
 * Sorts dated counts into rounds, the last first.
 *
 * Rounds are matched from the last one backwards, since that is the nearest to harvest: by plot when all plots were counted
 * equally often (so that a round may take several days), else by date within each environment. A kind that nobody looked
 * at in a round keeps its last earlier count.
 */
export function countRounds(plots: readonly Plot[]): CountRound[] {
  const counted = plots.filter((plot) => plot.lodging.length > 0);
  const times = counted.map(({ lodging }) => distinct(lodging));
  const most = times.reduce((sum, own) => Math.max(sum, own.length), 0);
  const equal = times.every((own) => own.length === most);
  const byEnvironment = new Map<string, LodgingCount[]>();
  if (!equal) {
    for (const { environment, lodging } of counted) {
      byEnvironment.set(environment, distinct([...(byEnvironment.get(environment) ?? []), ...lodging]));
    }
  }
  /** Rounds after this count until the last. */
  const roundOf = (plot: number, count: LodgingCount): number => {
    const own = equal ? times[plot] : (byEnvironment.get(counted[plot].environment) ?? []);
    return own.length - 1 - own.findIndex((other) => countOrder(other, count) === 0);
  };
  const ranked = counted.map(({ lodging }, plot) => lodging.map((count) => ({ count, round: roundOf(plot, count) })));
  const rounds = ranked.flat().reduce((sum, { round }) => Math.max(sum, round + 1), 0);
  return Array.from({ length: rounds }, (_, round) => {
    const kinds = new Set(ranked.flat().flatMap((one) => (one.round === round ? [one.count.kind] : [])));
    const seen: LodgingCount[] = [];
    const found = counted.flatMap((plot, i) => {
      const known = new Map<LodgingCount["kind"], { count: LodgingCount; round: number }>();
      for (const one of ranked[i]) {
        const { kind } = one.count;
        if (one.round < round || (kinds.has(kind) && one.round !== round)) continue;
        const before = known.get(kind);
        if (before === undefined || one.round < before.round) known.set(kind, one);
      }
      const counts = [...known.values()];
      if (!counts.some((one) => one.round === round)) return [];
      seen.push(...counts.flatMap((one) => (one.round === round ? [one.count] : [])));
      return [{ ...plot, lodging: counts.map(({ count }) => ({ ...count, date: null })) }];
    });
    return { time: timeOf(seen), plots: found, missed: counted.length - found.length };
  });
}

/** Counts that stand for the different times, ascending. */
function distinct(counts: readonly LodgingCount[]): LodgingCount[] {
  const sorted = [...counts].sort(countOrder);
  return sorted.filter((count, i) => i === 0 || countOrder(sorted[i - 1], count) !== 0);
}

function timeOf(counts: readonly LodgingCount[]): CountTime {
  const dates = [...new Set(counts.flatMap(({ date }) => date ?? []))].sort();
  const days = counts.flatMap(({ daysAfterMaturity }) => daysAfterMaturity ?? []);
  return {
    date: dates.length < 2 ? (dates[0] ?? null) : `${dates[0]} to ${dates[dates.length - 1]}`,
    daysAfterMaturity: days.length === 0 ? null : [Math.min(...days), Math.max(...days)],
  };
}
