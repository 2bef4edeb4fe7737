import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import type { Trial } from "../trial/trial.ts";
import { number, padded } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { chosenFit, curvePicture } from "./curvePicture.ts";
import { densityAxisOf, yieldDecimals } from "./densityAxis.ts";
import { figure, nameText, short } from "./figureText.ts";
import { type CurveChoice, curveChoiceShape, pickCurve } from "./pickCurve.ts";
import type { LayerView, Row, UnitView } from "./vegaLite.ts";

export interface ResidualChartOptions extends ChartOptions, CurveChoice {
  readonly trial: Trial;
}

/** What `ResidualChartOptions` must look like. */
export const residualChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  ...curveChoiceShape,
  trial: "standcurve/trial/1",
};

/**
 * Four views of the residuals of one curve: against density (does the curve miss somewhere?), against the fitted yield (does the scatter
 * grow?), by block (does one stand out?) and against normal scores (are the tails heavy?). Points beyond three standard deviations are squares.
 *
 * @throws AnalysisError as `responseChart`
 * @example
 * residualChart(analysis, { hybrid: "Amber 12", trial }).alt.includes("residuals"); // => true
 */
export function residualChart(analysis: TrialAnalysis, options: ResidualChartOptions): Chart {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", residualChartOptionsShape, "invalid-option");
  const curve = pickCurve(analysis, options);
  const theme = chartTheme(options);
  const axis = densityAxisOf(analysis);
  const { rows } = curvePicture(options.trial, curve, analysis.settings);
  const sigma = chosenFit(curve).sigma;
  const unit = analysis.trial.yieldUnit;
  const standardised = rows.every((row) => row.standardised !== null);
  const values = rows.map((row) => ({
    density: short(row.density * axis.scale),
    fitted: short(row.fitted),
    residual: short(row.residual),
    standardised: row.standardised === null ? 0 : short(row.standardised),
    score: row.normalScore === null ? 0 : short(row.normalScore),
    block: `${curve.environments > 1 ? `${row.plot.environment} ` : ""}${row.plot.block}`,
    far: Math.abs(row.standardised ?? 0) > 3,
  }));
  const width = Math.round(theme.width * 0.5);
  const height = Math.round(theme.height * 0.6);
  const yDomain = padded([...values.map(({ residual }) => residual), 0], 0.08);
  const blocks = [...new Set(values.map(({ block }) => block))];
  const panel = (
    field: "density" | "fitted" | "score",
    title: string,
    yField: "residual" | "standardised",
    yTitle: string,
    line: "zero" | "diagonal",
  ): LayerView => {
    const own = yField === "residual" ? yDomain : padded([...values.map((row) => row.standardised), -2, 2], 0.08);
    const xDomain = padded(
      values.map((row) => row[field]),
      0.05,
    );
    const ends = line === "zero" ? [0, 0] : [Math.max(xDomain[0], own[0]), Math.min(xDomain[1], own[1])];
    const guide: Row[] =
      line === "zero"
        ? [
            { x: xDomain[0], y: 0 },
            { x: xDomain[1], y: 0 },
          ]
        : ends.map((end) => ({ x: end, y: end }));
    const x = number(field, xDomain);
    const y = number(yField, own);
    const layer: UnitView[] = [
      {
        data: { values: guide },
        mark: { type: "line", color: theme.muted, strokeDash: [4, 3], strokeWidth: 1 },
        encoding: { x: number("x", xDomain), y: number("y", own) },
      },
      ...points(x, y, values),
    ];
    return {
      width,
      height,
      layer,
      encoding: { x: { axis: { title, tickCount: 5 } }, y: { axis: { title: yTitle, tickCount: 5 } } },
    };
  };
  const points = (
    x: NonNullable<UnitView["encoding"]>[string],
    y: NonNullable<UnitView["encoding"]>[string],
    all: readonly Row[],
  ): UnitView[] =>
    [
      {
        data: { values: all.filter((row) => row["far"] !== true) },
        mark: {
          type: "point",
          filled: false,
          color: theme.agronomic,
          opacity: 0.75,
          size: theme.symbol * 0.7,
          strokeWidth: 1.2,
        },
        encoding: { x, y },
      },
      {
        data: { values: all.filter((row) => row["far"] === true) },
        mark: {
          type: "point",
          filled: true,
          shape: "square",
          color: theme.economic,
          opacity: 1,
          size: theme.symbol * 1.4,
        },
        encoding: { x, y },
      },
    ].filter(({ data }) => data.values.length > 0) as UnitView[];
  const byBlock: LayerView = {
    width,
    height,
    layer: [
      {
        data: { values: [{ y: 0 }] },
        mark: { type: "rule", color: theme.muted, strokeDash: [4, 3] },
        encoding: { y: number("y", yDomain) },
      },
      ...points({ field: "block", type: "nominal", sort: blocks }, number("residual", yDomain), values),
    ],
    encoding: {
      x: {
        axis: {
          title: "Block",
          labelAngle: blocks.some((block) => block.length > 2) ? -40 : 0,
          labelLimit: theme.font * 11,
          labelOverlap: true,
        },
      },
      y: { axis: { title: `Residual, ${unit}`, tickCount: 5 } },
    },
  };
  const name = nameText(curve.hybrid);
  const where = curve.environment === null ? "" : `, ${nameText(curve.environment)}`;
  const worst = values.reduce((a, b) => (Math.abs(b.residual) > Math.abs(a.residual) ? b : a));
  const show = (value: number): string => figure(value, yieldDecimals[unit] ?? 1);
  const far = values.filter((row) => row.far).length;
  return finishChart(
    theme,
    {
      title: options.title ?? `${name}${where}: residuals of the ${curve.chosen} curve`,
      notes: [
        `${rows.length} plots${sigma === null ? "" : `; standard deviation ${show(sigma)} ${unit}`}.${far > 0 ? ` Squares: ${far} beyond three standard deviations.` : " None beyond three standard deviations."}`,
      ],
      alt: `${name}${where}: residuals of ${rows.length} plots around the ${curve.chosen} curve, from ${show(Math.min(...values.map((row) => row.residual)))} to ${show(Math.max(...values.map((row) => row.residual)))} ${unit}; the largest, ${show(worst.residual)}, at ${axis.text(worst.density / axis.scale)} ${axis.unit}. ${far} lie beyond three standard deviations.`,
    },
    {
      concat: [
        panel("density", axis.title, "residual", `Residual, ${unit}`, "zero"),
        panel("fitted", `Fitted yield, ${unit}`, "residual", `Residual, ${unit}`, "zero"),
        byBlock,
        ...(standardised ? [panel("score", "Normal score", "standardised", "Standardised residual", "diagonal")] : []),
      ],
      columns: 2,
      spacing: Math.round(theme.font * 2),
    },
  );
}
