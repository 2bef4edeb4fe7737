import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { Trial } from "../trial/trial.ts";
import { literal } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { curvePicture } from "./curvePicture.ts";
import { figure, nameText } from "./figureText.ts";
import { inkOn, tint } from "./tint.ts";
import type { Row } from "./vegaLite.ts";

export interface FieldMapChartOptions extends ChartOptions {
  readonly trial: Trial;
  /** Default: the only environment, else it must be named. */
  readonly environment?: string;
}

/** In a map without room for numbers: smaller residuals, as a share of the largest, get no sign. */
const SIGN_FROM = 0.15;

/** What `FieldMapChartOptions` must look like. */
export const fieldMapChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  trial: "standcurve/trial/1",
  environment: "text?",
};

/**
 * Plots of one environment where they lay in the field, coloured by their residual from the chosen curves: patches and trends that the curves
 * do not know of. Each plot shows its number too, or its sign where there is no room, so nothing hangs on colour.
 *
 * Rows and columns come from the trial; without them plots are drawn in planting order, a line for each block.
 *
 * @throws AnalysisError `invalid-option` for an unknown environment; `not-estimable` when the plots have no positions
 * @example
 * fieldMapChart(analysis, { trial }).alt.startsWith("Map of"); // => true
 */
export function fieldMapChart(analysis: TrialAnalysis, options: FieldMapChartOptions): Chart {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", fieldMapChartOptionsShape, "invalid-option");
  const { trial } = options;
  const theme = chartTheme(options);
  const { environments } = analysis.trial;
  const environment = options.environment ?? (environments.length === 1 ? environments[0] : undefined);
  check(
    environment !== undefined && environments.includes(environment),
    "invalid-option",
    `environment must be one of ${environments.slice(0, 10).join(", ")}`,
  );
  const rows = analysis.hybrids.flatMap(({ pooled, environments: own }) => {
    const here = own.find((one) => one.environment === environment);
    const curve = here?.kind === "analysed" ? here : pooled;
    if (curve.kind !== "analysed") return [];
    return curvePicture(trial, curve, analysis.settings).rows.filter(({ plot }) => plot.environment === environment);
  });
  const gridded = rows.filter(({ plot }) => plot.position.row !== null && plot.position.column !== null);
  const ordered = rows.filter(({ plot }) => plot.position.order !== null);
  const onGrid = gridded.length > 0 && gridded.length >= ordered.length;
  const placed = onGrid ? gridded : ordered;
  check(
    placed.length > 0,
    "not-estimable",
    `the plots of ${environment} have neither row and column nor planting order`,
  );
  const blocks = [...new Set(placed.map(({ plot }) => plot.block))];
  const largest = placed.reduce((most, { residual }) => Math.max(most, Math.abs(residual)), 0) || 1;
  const inOrder = new Map(
    blocks.map((block) => [
      block,
      placed
        .filter(({ plot }) => plot.block === block)
        .map(({ plot }) => plot.position.order as number)
        .sort((a, b) => a - b),
    ]),
  );
  const decimals = largest >= 10 ? 0 : largest >= 1 ? 1 : 2;
  const columnOf = ({ plot }: (typeof placed)[number]): number =>
    onGrid
      ? (plot.position.column as number)
      : (inOrder.get(plot.block) ?? []).indexOf(plot.position.order as number) + 1;
  const columns = [...new Set(placed.map(columnOf))].sort((a, b) => a - b);
  const cell = Math.max(
    Math.min(Math.round(theme.width / columns.length), Math.round(theme.font * 3.6)),
    Math.round(theme.font * 1.5),
  );
  const roomy = cell >= theme.font * 2.4;
  const values: Row[] = placed.map((one) => {
    const { plot, residual } = one;
    const color = tint(
      residual >= 0 ? [0, 90, 156] : [190, 75, 0],
      pow(Math.abs(residual) / largest, 0.85),
      theme.paper,
    );
    return {
      column: columnOf(one),
      row: onGrid ? (plot.position.row as number) : blocks.indexOf(plot.block) + 1,
      color,
      ink: inkOn(color),
      text: roomy
        ? `${residual > 0 ? "+" : ""}${figure(residual, decimals)}`
        : Math.abs(residual) < SIGN_FROM * largest
          ? ""
          : residual > 0
            ? "+"
            : "\u2212",
    };
  });
  const lines = [...new Set(values.map((row) => row["row"] as number))].sort((a, b) => a - b);
  const x = { field: "column", type: "ordinal", sort: "ascending" } as const;
  const y = { field: "row", type: "ordinal", sort: "descending" } as const;
  const unit = analysis.trial.yieldUnit;
  const worst = placed.reduce((a, b) => (Math.abs(b.residual) > Math.abs(a.residual) ? b : a));
  const lineWords = onGrid ? "Row" : "Block";
  const where = onGrid
    ? `row ${worst.plot.position.row}, column ${worst.plot.position.column}`
    : `block ${nameText(worst.plot.block, 20)}, place ${worst.plot.position.order}`;
  return finishChart(
    theme,
    {
      title: options.title ?? `${nameText(environment)}: residuals over the field`,
      notes: [
        `Yield less the chosen curve and the block, ${unit}; blue: more than expected, orange: less.${roomy ? "" : " Signs: the larger ones."}${onGrid ? "" : " Plots in planting order, a line for each block; distances are not to scale."}`,
      ],
      alt: `Map of ${placed.length} plots of ${nameText(environment)} in ${lines.length} ${onGrid ? "rows" : "blocks"} and ${columns.length} ${onGrid ? "columns" : "places"}, each with its residual in ${unit}: from ${figure(Math.min(...placed.map(({ residual }) => residual)), decimals)} to ${figure(Math.max(...placed.map(({ residual }) => residual)), decimals)}. The largest lies in ${where}.`,
    },
    {
      width: cell * columns.length,
      height: Math.round(cell * 0.8) * lines.length,
      layer: [
        {
          data: { values },
          mark: { type: "rect", stroke: theme.paper, strokeWidth: 1.5 },
          encoding: { x, y, color: literal("color") },
        },
        {
          data: { values: values.filter(({ text }) => text !== "") },
          mark: { type: "text", fontSize: Math.min(theme.font, Math.round(cell / (roomy ? 2.9 : 1.4))) },
          encoding: { x, y, text: { field: "text", type: "nominal" }, color: literal("ink") },
        },
      ],
      encoding: {
        x: {
          axis: {
            title: onGrid ? "Column" : "Place in the block",
            labelAngle: 0,
            domain: false,
            ticks: false,
            labelOverlap: true,
          },
        },
        y: { axis: { title: lineWords, domain: false, ticks: false, labelOverlap: true } },
      },
    },
  );
}
