import type { TrialAnalysis } from "../analyze/result.ts";
import type { Interval } from "../core/interval.ts";
import type { TidyCell, TidyRow } from "./csvText.ts";

/** Columns of the table of crowding. */
export const plantColumns: readonly string[] = [
  "hybrid",
  "source",
  "trait",
  "plots",
  "density_slope",
  "lower",
  "upper",
  "level",
  "method",
  "flex_points",
  "share",
  "yield_slope",
  "yield_lower",
  "yield_upper",
  "flex_score",
  "reading",
];

/** A row for each ear component and plant trait of each hybrid: d ln / d ln(density) with what belongs to it. */
export function plantRows({ plantResponse }: TrialAnalysis): TidyRow[] {
  if (plantResponse === null) return [];
  const row = (cells: Readonly<Record<string, TidyCell>>): TidyRow =>
    Object.fromEntries(plantColumns.map((name) => [name, cells[name] ?? null]));
  const ends = (interval: Interval | null): Record<string, TidyCell> =>
    interval === null
      ? {}
      : { lower: interval.lower, upper: interval.upper, level: interval.level, method: interval.method };
  const ears = (plantResponse.ears?.hybrids ?? []).flatMap(({ hybrid, nobs, parts }) =>
    parts.map(({ component, slope, jointInterval, points, share }) =>
      row({
        hybrid,
        source: "ear",
        trait: component,
        plots: nobs,
        density_slope: slope,
        ...ends(jointInterval),
        flex_points: points,
        share,
      }),
    ),
  );
  const traits = plantResponse.sideBySide.map((one) =>
    row({
      hybrid: one.hybrid,
      source: "trait",
      trait: one.trait,
      plots: one.plots,
      density_slope: one.traitSlope,
      ...ends(one.traitInterval),
      yield_slope: one.yieldSlope,
      yield_lower: one.yieldInterval?.lower ?? null,
      yield_upper: one.yieldInterval?.upper ?? null,
      flex_score: one.flexScore,
      reading: one.reading?.words ?? null,
    }),
  );
  return [...ears, ...traits];
}
