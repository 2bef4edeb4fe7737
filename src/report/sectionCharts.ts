import type { TrialAnalysis } from "../analyze/result.ts";
import type { Chart, ChartOptions } from "../plot/chart.ts";
import { earComponentsChart } from "../plot/earComponentsChart.ts";
import { plantTitle } from "./plantText.ts";

/** Hybrids whose ears are drawn; with more the table is clearer. */
const MANY_EARS = 8;

/** Charts of the sections over all hybrids, by the section's title. */
export function sectionCharts(
  { plantResponse }: TrialAnalysis,
  look: ChartOptions,
): Readonly<Record<string, readonly Chart[]>> {
  const ears = plantResponse?.ears ?? null;
  const split = ears?.hybrids.filter(({ parts }) => parts.length > 0).length ?? 0;
  return {
    ...(ears !== null && split > 0 && split <= MANY_EARS ? { [plantTitle]: [earComponentsChart(ears, look)] } : {}),
  };
}
