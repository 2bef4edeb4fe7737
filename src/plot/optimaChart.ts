import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { densityAxisOf } from "./densityAxis.ts";
import { distinctLabels } from "./distinctLabels.ts";
import { short } from "./figureText.ts";
import { laneLayers, lanePieces, laneText, type RangeLane } from "./rangeLane.ts";

export interface OptimaChartOptions extends ChartOptions {
  /** Default: the best-paying density when there are prices, else the highest-yielding. */
  readonly target?: "agronomic" | "economic";
  readonly hybrids?: readonly string[];
}

/** What `OptimaChartOptions` must look like. */
export const optimaChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  target: "text?",
  hybrids: "labels?",
};

/**
 * Optimum densities of all hybrids with their ranges, from the lowest up; arrows where the trial does not bound a range.
 *
 * @throws AnalysisError `not-estimable` when no hybrid was analysed, or the best-paying density is asked for and there were no prices
 * @example
 * optimaChart(analysis, { target: "agronomic" }).alt.startsWith("Highest-yielding"); // => true
 */
export function optimaChart(analysis: TrialAnalysis, options: OptimaChartOptions = {}): Chart {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", optimaChartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const axis = densityAxisOf(analysis);
  const target = options.target ?? (analysis.settings.prices === null ? "agronomic" : "economic");
  const paying = target === "economic";
  const found = analysis.hybrids.flatMap(({ hybrid, pooled }) => {
    if (pooled.kind !== "analysed" || (options.hybrids && !options.hybrids.includes(hybrid))) return [];
    const report = paying ? pooled.economic : pooled.agronomic;
    return report === null ? [] : [{ hybrid, report, curve: pooled }];
  });
  check(
    found.length > 0,
    "not-estimable",
    paying && analysis.settings.prices === null
      ? "the analysis had no prices: give `prices` to analyzeTrial"
      : "no hybrid was analysed",
  );
  found.sort(
    (a, b) =>
      (a.report.optimum.density ?? Number.POSITIVE_INFINITY) - (b.report.optimum.density ?? Number.POSITIVE_INFINITY),
  );
  const labels = distinctLabels(found.map(({ hybrid }) => hybrid));
  const lanes = found.map(({ report }, i): RangeLane => {
    const { kind, density } = report.optimum;
    const edge = kind === "lower-edge" ? "lower" : kind === "upper-edge" ? "upper" : null;
    const pieces = lanePieces(report.interval);
    return {
      label: labels[i],
      estimate: density,
      edge,
      pieces,
      text:
        density === null
          ? `no response${pieces.length > 0 ? ` (${laneText(null, null, pieces, axis.text)})` : ""}`
          : laneText(density, edge, pieces, axis.text),
      color: paying ? theme.economic : theme.agronomic,
      shape: paying ? "square" : "circle",
    };
  });
  const low = Math.min(...found.map(({ curve }) => curve.densities[0])) * axis.scale;
  const high = Math.max(...found.map(({ curve }) => curve.densities[curve.densities.length - 1])) * axis.scale;
  const domain = [short(low - (high - low) * 0.04), short(high + (high - low) * 0.04)] as const;
  const level = Math.round(1000 * analysis.settings.level) / 10;
  const what = paying ? "Best-paying" : "Highest-yielding";
  return finishChart(
    theme,
    {
      title: options.title ?? `${what} ${axis.place} of the hybrids`,
      notes: [
        `Lines: where this trial places it with ${level} % confidence, choice of curve included; arrows: not bounded on that side.`,
      ],
      alt: `${what} ${axis.place} of ${found.length} hybrids, with ${level} % ranges, in ${axis.unit}: ${lanes
        .slice(0, 20)
        .map(({ label, text }) => `${label.replace(/\u200b/g, "")} ${text}`)
        .join("; ")}${lanes.length > 20 ? "; and more" : ""}.`,
    },
    {
      width: Math.round(theme.width * 0.85),
      height: Math.round(theme.font * 1.8 * lanes.length),
      layer: laneLayers(lanes, theme, axis.scale, domain),
      encoding: {
        x: { axis: { title: axis.title, grid: true } },
        y: {
          axis: { title: null, domain: false, ticks: false, labelPadding: theme.font, labelLimit: theme.font * 22 },
        },
      },
    },
  );
}
