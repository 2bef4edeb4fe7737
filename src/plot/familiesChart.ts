import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { predictCurve } from "../fit/fittedCurve.ts";
import type { Trial } from "../trial/trial.ts";
import { endLabels, literal, number, padded } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, dashOf, finishChart } from "./chartTheme.ts";
import { curveDensities, curvePicture } from "./curvePicture.ts";
import { densityAxisOf, yieldDecimals } from "./densityAxis.ts";
import { figure, nameText, short } from "./figureText.ts";
import { type CurveChoice, curveChoiceShape, pickCurve } from "./pickCurve.ts";
import type { UnitView } from "./vegaLite.ts";

export interface FamiliesChartOptions extends ChartOptions, CurveChoice {
  /** The trial analysed: adds the means of the densities. */
  readonly trial?: Trial;
}

/** What `FamiliesChartOptions` must look like. */
export const familiesChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  ...curveChoiceShape,
  trial: "standcurve/trial/1?",
};

/**
 * All curves that were fitted to one hybrid, drawn over each other, with their Akaike weights and where each is highest.
 *
 * @throws AnalysisError as `responseChart`
 * @example
 * familiesChart(analysis, { hybrid: "Amber 12" }).alt.includes("5 response curves"); // => true
 */
export function familiesChart(analysis: TrialAnalysis, options: FamiliesChartOptions = {}): Chart {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", familiesChartOptionsShape, "invalid-option");
  const curve = pickCurve(analysis, options);
  const theme = chartTheme(options);
  const axis = densityAxisOf(analysis);
  const means = options.trial === undefined ? [] : curvePicture(options.trial, curve, analysis.settings).means;
  const drawn = curve.comparison.fits.flatMap((fit, i) => {
    const rank = curve.comparison.ranking[i];
    if (fit.curve === null || fit.status !== "converged") return [];
    const densities = curveDensities(fit);
    const yields = predictCurve(fit, densities);
    return [{ fit, rank, densities, yields }];
  });
  const low = curve.densities[0] * axis.scale;
  const high = curve.densities[curve.densities.length - 1] * axis.scale;
  const xDomain = [short(low - (high - low) * 0.03), short(high + (high - low) * 0.06)] as const;
  const yDomain = padded([...drawn.flatMap(({ yields }) => yields), ...means.map(({ mean }) => mean)]);
  const x = number("x", xDomain);
  const y = number("y", yDomain);
  const layer: UnitView[] = drawn.map(({ densities, yields, fit }, i) => ({
    data: { values: densities.map((d, k) => ({ x: short(d * axis.scale), y: short(yields[k]) })) },
    mark: {
      type: "line",
      color: theme.series[i % theme.series.length],
      strokeDash: dashOf(theme, i),
      strokeWidth: fit.family === curve.chosen ? theme.stroke * 1.6 : theme.stroke,
    },
    encoding: { x, y },
  }));
  if (means.length > 0) {
    layer.unshift({
      data: { values: means.map(({ density, mean }) => ({ x: short(density * axis.scale), y: short(mean) })) },
      mark: { type: "point", filled: true, shape: "diamond", color: theme.ink, opacity: 0.8, size: theme.symbol },
      encoding: { x, y },
    });
  }
  const tops = drawn.flatMap(({ fit, rank, yields, densities }, i) => {
    if (rank?.optimum == null) return [];
    const at = rank.optimum.density;
    const near = densities.reduce((best, d, k) => (Math.abs(d - at) < Math.abs(densities[best] - at) ? k : best), 0);
    const color = theme.series[i % theme.series.length];
    return [
      { x: short(at * axis.scale), y: short(fit.range[1] === at ? yields[yields.length - 1] : yields[near]), color },
    ];
  });
  layer.push({
    data: { values: tops },
    mark: { type: "point", filled: true, opacity: 1, size: theme.symbol * 1.8, stroke: theme.paper, strokeWidth: 1 },
    encoding: { x, y, color: literal("color") },
  });
  const share = (weight: number): string => (weight > 0 && weight < 0.005 ? "< 1 %" : `${Math.round(100 * weight)} %`);
  layer.push(
    ...endLabels(
      drawn.map(({ fit, rank, yields }, i) => ({
        y: yields[yields.length - 1],
        text: `${fit.family}${rank?.delta == null ? "" : ` ${share(rank.weight)}`}${fit.family === curve.chosen ? ", chosen" : ""}`,
        color: theme.series[i % theme.series.length],
      })),
      theme,
      xDomain,
      yDomain,
      theme.height,
      short(high),
    ),
  );
  const name = nameText(curve.hybrid);
  const where = curve.environment === null ? "" : `, ${nameText(curve.environment)}`;
  const unit = analysis.trial.yieldUnit;
  const told = drawn.map(({ fit, rank }) => {
    const place =
      rank?.optimum == null
        ? "no response"
        : `highest at ${axis.text(rank.optimum.density)}${rank.optimum.kind === "upper-edge" ? " or more" : rank.optimum.kind === "lower-edge" ? " or less" : ""}`;
    return `${fit.family} (weight ${share(rank?.weight ?? 0)}, ${place})`;
  });
  const [bottom, top] = [
    Math.min(...drawn.flatMap(({ yields }) => yields)),
    Math.max(...drawn.flatMap(({ yields }) => yields)),
  ];
  const show = (value: number): string => figure(value, yieldDecimals[unit] ?? 1);
  return finishChart(
    theme,
    {
      title: options.title ?? `${name}${where}: the curves compared`,
      notes: [
        `Shares are Akaike weights: how strongly the plots speak for each curve. Dots: where each is highest.${means.length > 0 ? " Diamonds: means less block effects." : ""}`,
      ],
      alt: `${name}${where}: ${drawn.length} response curves over each other, between ${show(bottom)} and ${show(top)} ${unit}: ${told.join("; ")}, in ${axis.unit}.`,
    },
    {
      width: theme.width,
      height: theme.height,
      layer,
      encoding: { x: { axis: { title: axis.title } }, y: { axis: { title: `Yield, ${unit}` } } },
    },
  );
}
