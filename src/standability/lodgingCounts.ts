import { lastCounts } from "../trial/countOrder.ts";
import type { LodgingCount, Plot } from "../trial/trial.ts";
import type { LodgingInput } from "./readLodging.ts";

export interface LodgingCountsOptions {
  /** One kind, or `all`: plants lodged in any way. Default `all`. */
  readonly kind?: LodgingCount["kind"] | "all";
  /** Date of the count as in the data; default: the last count of each plot, the nearest to harvest. */
  readonly date?: string;
}

/** Counts of some plots, ready for `fitLodging`, and which plots they came from. */
export interface LodgingCounts extends LodgingInput {
  readonly density: readonly number[];
  readonly lodged: readonly number[];
  /** Null when only shares are known. */
  readonly examined: readonly number[] | null;
  /** A block is a block of one environment. */
  readonly block: readonly string[];
  readonly environment: readonly string[];
  /** Null when the counts have no date, or several. */
  readonly date: string | null;
  /** Index into the plots given, per row. */
  readonly plot: readonly number[];
  readonly notes: readonly string[];
}

/** Dates on which lodging was counted on these plots, in text order (write dates as 2031-10-05). */
export function lodgingDates(plots: readonly Plot[]): string[] {
  return [
    ...new Set(plots.flatMap(({ lodging }) => lodging.flatMap(({ date }) => (date === null ? [] : [date])))),
  ].sort();
}

/**
 * Lodging counts of plots that are not excluded and have a density.
 *
 * For `all`, a count of kind `any` is taken where there is one, else the kinds are added, at most up to the plants examined.
 * Push and pinch tests never count as lodging.
 * Shares without counts are left out when other plots have counts. Counts worked out from percentages are rounded to whole
 * plants.
 *
 * @param plots - plots of one hybrid, for example
 * @returns arrays of equal length; empty when nothing was counted
 */
export function lodgingCounts(
  plots: readonly Plot[],
  { kind = "all", date }: LodgingCountsOptions = {},
): LodgingCounts {
  const rows = plots.flatMap((plot, index) => {
    if (plot.excluded !== null || plot.density === null) return [];
    const own = date === undefined ? lastCounts(plot.lodging) : plot.lodging.filter((count) => count.date === date);
    const count =
      kind === "all"
        ? together(own.filter((one) => one.kind !== "push" && one.kind !== "pinch"))
        : own.find((one) => one.kind === kind);
    return count ? [{ plot, index, density: plot.density, ...count }] : [];
  });
  const dates = [...new Set(rows.map((row) => row.date))];
  const counted = rows.filter(({ examined }) => examined !== null);
  const used = counted.length > 0 ? counted : rows;
  const notes: string[] = [];
  if (dates.length > 1) notes.push("Plots were counted on several dates; the last count of each was used.");
  if (used.length < rows.length) {
    notes.push(
      `${rows.length - used.length} plots with a lodged share but no count were left out beside plots with counts.`,
    );
  }
  if (
    used.some(({ lodged, examined }) => examined !== null && !(Number.isInteger(lodged) && Number.isInteger(examined)))
  ) {
    notes.push("Counts worked out from percentages or averages were rounded to whole plants.");
  }
  const examined = used.map((row) => (row.examined === null ? 1 : Math.max(1, Math.round(row.examined))));
  return {
    density: used.map((row) => row.density),
    lodged: used.map((row, i) => (row.examined === null ? row.lodged : Math.min(examined[i], Math.round(row.lodged)))),
    examined: counted.length > 0 ? examined : null,
    block: used.map(({ plot }) => JSON.stringify([plot.environment, plot.block])),
    environment: used.map(({ plot }) => plot.environment),
    date: dates.length === 1 ? (dates[0] ?? null) : null,
    plot: used.map(({ index }) => index),
    notes,
  };
}

/** Plants lodged in any way: kind `any` where counted, else the sum of the kinds. */
function together(counts: readonly LodgingCount[]): LodgingCount | undefined {
  const any = counts.find(({ kind }) => kind === "any");
  if (any || counts.length < 2) return any ?? counts[0];
  const examined = counts.map((count) => count.examined);
  const most = examined.some((m) => m === null) ? null : Math.max(...(examined as number[]));
  // Kinds counted on different numbers of plants are brought to the largest one.
  const lodged = counts.reduce(
    (sum, count) =>
      sum + (most === null ? count.lodged / (count.examined ?? 1) : (count.lodged / (count.examined as number)) * most),
    0,
  );
  return { ...counts[0], kind: "any", lodged: Math.min(lodged, most ?? 1), examined: most };
}
