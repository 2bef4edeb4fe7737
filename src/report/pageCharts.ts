import type { AcrossEnvironments } from "../analyze/environmentsResult.ts";
import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import type { Chart, ChartOptions } from "../plot/chart.ts";
import { familiesChart } from "../plot/familiesChart.ts";
import { flexCurvesChart } from "../plot/flexCurvesChart.ts";
import { flexScoresChart } from "../plot/flexScoresChart.ts";
import { lodgingChart } from "../plot/lodgingChart.ts";
import { optimaChart } from "../plot/optimaChart.ts";
import { responseChart } from "../plot/responseChart.ts";
import { returnChart } from "../plot/returnChart.ts";
import { yieldGoalChart } from "../plot/yieldGoalChart.ts";
import type { Trial } from "../trial/trial.ts";
import { sectionCharts } from "./sectionCharts.ts";
import { isUnjudged } from "./words.ts";

/** A drawn chart. */
export interface PageChart {
  /** One `<svg>` element. */
  readonly svg: string;
  readonly alt: string;
}

/** The drawn charts of a report. */
export interface PageCharts {
  readonly overview: readonly PageChart[];
  /** In the order of the result's hybrids. */
  readonly hybrids: readonly { readonly small: PageChart | null; readonly charts: readonly PageChart[] }[];
  /** Of the sections over all hybrids, by their titles. */
  readonly sections: Readonly<Record<string, readonly PageChart[]>>;
}

export interface PageChartsOptions {
  /** The trial analysed, for plots and bands; without it the curves alone are drawn. */
  readonly trial?: Trial;
  readonly currency?: string;
  /** Draws one chart: `renderChart` of `standcurve/node`, or Vega's own view in a browser. */
  readonly render: (chart: Chart) => Promise<string>;
  /** Called after each chart. */
  readonly onProgress?: (done: number, total: number) => void;
}

/** What `PageChartsOptions` must look like. */
export const pageChartsOptionsShape: { readonly [property: string]: Shape } = {
  trial: "standcurve/trial/1?",
  currency: "text?",
  render: "function",
  onProgress: "function?",
};

/** Up to this many hybrids each gets the charts of all curves and of prices too. */
const FEW_HYBRIDS = 8;

/**
 * Makes and draws the charts that a report of this trial shows: few hybrids get several each, many get one each and small multiples.
 *
 * @example
 * const charts = await pageCharts(analysis, { render: async (chart) => `<svg>${chart.alt.length}</svg>` });
 * charts.hybrids.length; // => 2
 */
export async function pageCharts(analysis: TrialAnalysis, options: PageChartsOptions): Promise<PageCharts> {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", pageChartsOptionsShape, "invalid-option");
  const { trial, currency, render } = options;
  const look: ChartOptions = currency === undefined ? {} : { currency };
  const few = analysis.hybrids.length <= FEW_HYBRIDS;
  const settled = analysis.hybrids.flatMap(({ pooled }) =>
    pooled.kind === "analysed" && !isUnjudged(pooled) ? [pooled] : [],
  );
  const scored = settled.filter(({ flex }) => flex.flex.score !== null).map(({ hybrid }) => hybrid);
  const overview: Chart[] = [];
  if (settled.length > 1)
    overview.push(optimaChart(analysis, { ...look, hybrids: settled.map(({ hybrid }) => hybrid) }));
  if (scored.length > 1 && analysis.comparison.between !== null) {
    overview.push(
      flexScoresChart(analysis, { ...look, hybrids: scored }),
      flexCurvesChart(analysis, { ...look, hybrids: scored }),
    );
  }
  const chosen = analysis.hybrids.map(({ pooled, acrossEnvironments }) => {
    if (pooled.kind !== "analysed") return { small: null, charts: [] };
    const of = { ...look, ...(trial === undefined ? {} : { trial }), hybrid: pooled.hybrid };
    return {
      small: analysis.hybrids.length > 3 ? responseChart(analysis, { ...of, size: "small" }) : null,
      charts: [
        responseChart(analysis, of),
        ...(few && !isUnjudged(pooled) ? moreCharts(analysis, pooled, of) : []),
        ...goalCharts(analysis, acrossEnvironments, { ...look, hybrid: pooled.hybrid }),
      ],
    };
  });
  const below = Object.entries(sectionCharts(analysis, look, trial));
  const total =
    overview.length +
    chosen.reduce((sum, { small, charts }) => sum + charts.length + (small === null ? 0 : 1), 0) +
    below.reduce((sum, [, charts]) => sum + charts.length, 0);
  let done = 0;
  const draw = async (chart: Chart): Promise<PageChart> => {
    const svg = await render(chart);
    done += 1;
    options.onProgress?.(done, total);
    return { svg, alt: chart.alt };
  };
  const drawAll = async (charts: readonly Chart[]): Promise<PageChart[]> => {
    const drawn: PageChart[] = [];
    for (const chart of charts) drawn.push(await draw(chart));
    return drawn;
  };
  const hybrids: PageCharts["hybrids"][number][] = [];
  const top = await drawAll(overview);
  for (const { small, charts } of chosen) {
    hybrids.push({ small: small === null ? null : await draw(small), charts: await drawAll(charts) });
  }
  const sections: Record<string, readonly PageChart[]> = {};
  for (const [title, charts] of below) sections[title] = await drawAll(charts);
  return { overview: top, hybrids, sections };
}

/** The family of curves at several yield goals, where a goal was asked for and levels vary. */
function goalCharts(
  { trial: { densityUnit, densityAxis, yieldUnit } }: TrialAnalysis,
  across: AcrossEnvironments | null,
  of: ChartOptions & { hybrid: string },
): Chart[] {
  const levels = across?.goalLevels ?? [];
  return levels.length === 0 ? [] : [yieldGoalChart(levels, { ...of, densityUnit, densityAxis, yieldUnit })];
}

function moreCharts(
  analysis: TrialAnalysis,
  curve: CurveAnalysis,
  of: ChartOptions & { hybrid: string; trial?: Trial },
): Chart[] {
  const { prices } = analysis.settings;
  const pays =
    prices !== null &&
    curve.economic?.optimum.density != null &&
    (prices.seedCostPerThousand > 0 || curve.chosen !== "flat");
  const lodging = curve.standability?.lodging.find(
    ({ last, kind }) => last && kind === curve.standability?.standing.basis,
  );
  const { densityUnit, densityAxis } = analysis.trial;
  return [
    familiesChart(analysis, of),
    ...(pays ? [returnChart(analysis, of)] : []),
    ...(lodging === undefined || lodging.flags.flags.length === 0
      ? []
      : [lodgingChart(lodging, { ...of, densityUnit, densityAxis })]),
  ];
}
