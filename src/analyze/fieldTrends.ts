import { fieldTrend } from "../mixed/fieldTrend.ts";
import type { Plot } from "../trial/trial.ts";
import type { TogetherInput } from "./hybridsTogether.ts";
import { mixedReport } from "./mixedReport.ts";
import type { FieldTrendReport, FieldTrends } from "./togetherResult.ts";
import { unlessRefused, type Withheld, withheld } from "./withheld.ts";

/** Fewer plots do not carry a curve, a trend and a correlation together; a convention. */
const FEWEST_PLOTS = 10;

/** More curves with positions than this are not looked at one by one; a convention that keeps large trials quick. */
const MOST_CURVES = 40;

/** Why a trial has no trends when no plot has a place. */
export const noPositions = "the file gives no positions of plots in the field (planting order, row or column)";

/** Every hybrid in every environment whose plots have a position: its optimum with and without allowance for the field. */
export function fieldTrends(input: TogetherInput): FieldTrends | Withheld {
  const groups = new Map<string, Plot[]>();
  for (const plot of input.plots) {
    const key = JSON.stringify([plot.hybrid, plot.environment]);
    groups.set(key, [...(groups.get(key) ?? []), plot]);
  }
  const placed = [...groups.values()].flatMap((plots) => {
    const place = placeOf(plots);
    return place === null ? [] : [{ plots, ...place }];
  });
  if (placed.length === 0) return withheld(noPositions);
  const large = placed.filter(({ plots }) => plots.length >= FEWEST_PLOTS);
  if (large.length === 0) return withheld(`no hybrid has ${FEWEST_PLOTS} plots with a position in one environment`);
  if (large.length > MOST_CURVES)
    return withheld(`${large.length} curves with positions are too many to look at one by one (up to ${MOST_CURVES})`);
  return { kind: "trends", trends: large.map((one) => trendOf(one, input)) };
}

interface Place {
  readonly along: FieldTrendReport["along"];
  readonly position: readonly number[];
  readonly line: readonly number[] | null;
}

/** Where the plots lie: along a planting order, or along rows; null where some have no position. */
function placeOf(plots: readonly Plot[]): Place | null {
  const of = (key: "order" | "row" | "column"): number[] | null => {
    const values = plots.map(({ position }) => position[key]);
    return values.every((value) => value !== null) && new Set(values).size > 2 ? values : null;
  };
  const all = (key: "row" | "column"): number[] | null => {
    const values = plots.map(({ position }) => position[key]);
    return values.every((value) => value !== null) ? values : null;
  };
  const order = of("order");
  if (order !== null) return { along: "order", position: order, line: null };
  const column = of("column");
  const row = of("row");
  if (column !== null) {
    const lines = all("row");
    return { along: lines === null ? "column" : "column within row", position: column, line: lines };
  }
  return row === null ? null : { along: "row", position: row, line: all("column") };
}

function trendOf(
  { plots, along, position, line }: { readonly plots: readonly Plot[] } & Place,
  { settings, prices, axes }: TogetherInput,
): FieldTrendReport {
  const blocks = new Set(plots.map(({ block }) => block)).size;
  const result = unlessRefused(() =>
    fieldTrend(
      {
        density: plots.map((plot) => plot.density as number),
        yield: plots.map((plot) => plot.yield as number),
        position,
        ...(line === null ? {} : { line }),
        ...(blocks > 1 ? { block: plots.map(({ block }) => block) } : {}),
      },
      { level: settings.level, ...(prices === null ? {} : { prices }) },
    ),
  );
  const base = {
    hybrid: plots[0].hybrid,
    environment: plots[0].environment,
    along,
    target: prices === null ? ("agronomic" as const) : ("economic" as const),
  };
  if (result.kind !== "adjusted") return { ...base, outcome: withheld(result.reason) };
  const { naive, adjusted, shift, correlation, confounding, neighbourCorrelation, notes } = result;
  return {
    ...base,
    outcome: {
      kind: "adjusted",
      naive: mixedReport(naive.optimum, axes),
      adjusted: mixedReport(adjusted.optimum, axes),
      shift,
      correlation,
      confounding,
      neighbourCorrelation,
      notes,
    },
  };
}
