import type { TrialAnalysis } from "../analyze/result.ts";
import type { Chart, ChartOptions } from "../plot/chart.ts";
import { earComponentsChart } from "../plot/earComponentsChart.ts";
import { fieldMapChart } from "../plot/fieldMapChart.ts";
import type { Trial } from "../trial/trial.ts";
import { fieldTitle } from "./fieldTrendText.ts";
import { plantTitle } from "./plantText.ts";

/** Hybrids whose ears are drawn; with more the table is clearer. */
const MANY_EARS = 8;

/** Environments whose plots are mapped; more maps would bury the page. */
const MOST_MAPS = 12;

/** Charts of the sections over all hybrids, by the section's title. */
export function sectionCharts(
  analysis: TrialAnalysis,
  look: ChartOptions,
  trial?: Trial,
): Readonly<Record<string, readonly Chart[]>> {
  const { plantResponse } = analysis;
  const maps = trial === undefined ? [] : fieldMaps(analysis, trial, look);
  const ears = plantResponse?.ears ?? null;
  const split = ears?.hybrids.filter(({ parts }) => parts.length > 0).length ?? 0;
  return {
    ...(ears !== null && split > 0 && split <= MANY_EARS ? { [plantTitle]: [earComponentsChart(ears, look)] } : {}),
    ...(maps.length > 0 ? { [fieldTitle]: maps } : {}),
  };
}

/** A map of each environment whose plots have a place, while an analysed hybrid has a plot there. */
function fieldMaps(analysis: TrialAnalysis, trial: Trial, look: ChartOptions): Chart[] {
  const drawn = new Set(
    analysis.hybrids.filter(({ pooled }) => pooled.kind === "analysed").map(({ hybrid }) => hybrid),
  );
  const placed = new Set(
    trial.plots
      .filter(
        ({ hybrid, position: { row, column, order } }) =>
          drawn.has(hybrid) && ((row !== null && column !== null) || order !== null),
      )
      .map(({ environment }) => environment),
  );
  const mapped = analysis.trial.environments.filter((environment) => placed.has(environment));
  const left = mapped.length > MOST_MAPS ? ` (${MOST_MAPS} of ${mapped.length} fields are mapped)` : "";
  return mapped.slice(0, MOST_MAPS).map((environment) =>
    fieldMapChart(analysis, {
      ...look,
      trial,
      environment,
      title: `${environment}: residuals over the field${left}`,
    }),
  );
}
