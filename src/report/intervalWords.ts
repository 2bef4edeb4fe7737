import type { Interval } from "../core/interval.ts";
import type { NearBest } from "../derive/nearBest.ts";
import type { OptimumKind } from "../derive/optimum.ts";

/** "26.4 to 30.6", "28.9 or more", "not bounded", "17.0 or less, or 24.1 to 29.3"; `unit` is put where it reads well. */
export function intervalText(interval: Interval, show: (value: number) => string, unit = ""): string {
  const pieces = interval.pieces ?? [{ lower: interval.lower, upper: interval.upper }];
  if (isEmpty(interval)) return "none";
  if (pieces.length === 1 && interval.lower === null && interval.upper === null) return "not bounded";
  const named = unit === "" ? show : (value: number): string => `${show(value)} ${unit}`;
  return pieces
    .map(({ lower, upper }, i) => {
      const last = i === pieces.length - 1;
      if (lower === null || upper === null) return pieceText(lower, upper, last || i === 0 ? named : show);
      return pieceText(lower, upper, show) + (last && unit !== "" ? ` ${unit}` : "");
    })
    .join(", or ");
}

/** Without scatter there is nothing to judge a range by: both ends are missing, and neither is open. */
export function isEmpty({ lower, upper, lowerOpen, upperOpen }: Interval): boolean {
  return lower === null && upper === null && !lowerOpen && !upperOpen;
}

function pieceText(lower: number | null, upper: number | null, show: (value: number) => string): string {
  if (lower === null) return upper === null ? "not bounded" : `${show(upper)} or less`;
  if (upper === null) return `${show(lower)} or more`;
  return show(lower) === show(upper) ? show(lower) : `${show(lower)} to ${show(upper)}`;
}

/** One cell of a table: the outermost ends, with a star where the interval has several parts. */
export function intervalCell(interval: Interval, show: (value: number) => string): string {
  const { pieces, ...whole } = interval;
  const text = intervalText(whole, show);
  return pieces === undefined ? text : text === "not bounded" ? "not bounded *" : `${text} *`;
}

/** "30.5", "43.5 or more", "17.6 or less": an optimum at an end of the tested range is there or beyond. */
export function optimumCell(
  kind: OptimumKind,
  value: number | null,
  show: (value: number) => string,
  unit = "",
): string {
  if (value === null) return "none";
  const named = unit === "" ? show(value) : `${show(value)} ${unit}`;
  if (kind === "upper-edge") return `${named} or more`;
  return kind === "lower-edge" ? `${named} or less` : named;
}

/** All densities nearly as good: "27.1 to 30.6", "17.0 to 18.2 or 35.0 to 41.0". */
export function nearBestText(range: NearBest, show: (value: number) => string): string {
  const parts = range.pieces ?? [[range.lower, range.upper] as const];
  return parts
    .map(([lower, upper]) => (show(lower) === show(upper) ? show(lower) : `${show(lower)} to ${show(upper)}`))
    .join(" or ");
}
