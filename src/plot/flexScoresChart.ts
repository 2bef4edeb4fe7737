import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { literal, number, padded, words } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { densityAxisOf } from "./densityAxis.ts";
import { distinctLabels } from "./distinctLabels.ts";
import { figure, nameText, short } from "./figureText.ts";
import type { Row, UnitView } from "./vegaLite.ts";

export interface FlexScoresChartOptions extends ChartOptions {
  /** Hybrids shown; default all with a score. */
  readonly hybrids?: readonly string[];
}

/** What `FlexScoresChartOptions` must look like. */
export const flexScoresChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  hybrids: "labels?",
};

/**
 * Flex scores of the hybrids as points with their ranges, from the highest down; a line at 100, where missing plants are fully
 * made up.
 *
 * @throws AnalysisError `not-estimable` when no hybrid has a flex score
 * @example
 * flexScoresChart(analysis).alt.includes("Amber 12"); // => true
 */
export function flexScoresChart(analysis: TrialAnalysis, options: FlexScoresChartOptions = {}): Chart {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", flexScoresChartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const axis = densityAxisOf(analysis);
  const { between, byFlex } = analysis.comparison;
  const found = new Map(
    analysis.hybrids.flatMap(({ hybrid, pooled }) =>
      pooled.kind === "analysed" && pooled.flex.flex.score !== null ? [[hybrid, pooled.flex] as const] : [],
    ),
  );
  const chosen = byFlex.filter((hybrid) => found.has(hybrid) && (options.hybrids ?? byFlex).includes(hybrid));
  const labels = distinctLabels(chosen);
  const rows = chosen.map((hybrid, i) => {
    const report = found.get(hybrid) as NonNullable<ReturnType<typeof found.get>>;
    const { interval } = report;
    const score = report.flex.score as number;
    return {
      lane: labels[i],
      name: nameText(hybrid, 28),
      score,
      interval,
      group: report.group,
    };
  });
  check(
    between !== null && rows.length > 0,
    "not-estimable",
    "no hybrid has a flex score on a common range of densities",
  );
  const ends = rows.flatMap(({ score, interval }) => [score, interval?.lower ?? score, interval?.upper ?? score]);
  const domain = padded([...ends, 100], 0.06);
  const x = number("x", domain);
  const lanes = rows.map(({ lane }) => lane);
  const y = { field: "lane", type: "nominal", sort: lanes } as const;
  const shapes: Readonly<Record<string, string>> = {
    "needs plants": "triangle-up",
    "partly makes up": "diamond",
    "makes up": "circle",
    crowds: "square",
  };
  const colors: Readonly<Record<string, string>> = {
    "needs plants": theme.series[1],
    "partly makes up": theme.series[4],
    "makes up": theme.series[0],
    crowds: theme.series[3],
  };
  const values: Row[] = rows.map(({ lane, score, interval, group }) => ({
    lane,
    x: short(score),
    from: interval?.lower == null ? (interval === null ? short(score) : domain[0]) : short(interval.lower),
    to: interval?.upper == null ? (interval === null ? short(score) : domain[1]) : short(interval.upper),
    color: colors[group ?? ""] ?? theme.ink,
    shape: shapes[group ?? ""] ?? "circle",
    text: `${figure(score, 0)}${interval === null ? "" : ` (${interval.lower === null ? "open" : figure(interval.lower, 0)} to ${interval.upper === null ? "open" : figure(interval.upper, 0)})`} ${group ?? ""}`,
  }));
  const layer: UnitView[] = [
    { data: { values: [{ x: 100 }] }, mark: { type: "rule", color: theme.muted, strokeDash: [4, 3] }, encoding: { x } },
    {
      data: { values },
      mark: { type: "rule", strokeWidth: theme.stroke * 1.3 },
      encoding: { x: number("from", domain), x2: { field: "to" }, y, color: literal("color") },
    },
    {
      data: { values },
      mark: { type: "point", filled: true, opacity: 1, size: theme.symbol * 2.2, stroke: theme.paper, strokeWidth: 1 },
      encoding: { x, y, color: literal("color"), shape: literal("shape") },
    },
    {
      data: { values },
      mark: { type: "text", align: "left", dx: Math.round(theme.font * 0.8), color: theme.ink },
      encoding: {
        x: { datum: domain[1], type: "quantitative", scale: { domain, zero: false, nice: false } },
        y,
        text: words,
      },
    },
  ];
  const level = Math.round(1000 * analysis.settings.level) / 10;
  return finishChart(
    theme,
    {
      title: options.title ?? "Flex scores",
      notes: [
        `Between ${axis.text(between[0])} and ${axis.text(between[1])} ${axis.unit}; lines: ${level} % ranges, each for one hybrid by itself. 100: bigger ears fully make up for missing plants; lower: yield needs the plants; above: crowded.`,
      ],
      alt: `Flex scores of ${rows.length} hybrids between ${axis.text(between[0])} and ${axis.text(between[1])} ${axis.unit}: ${rows
        .slice(0, 20)
        .map(({ name }, i) => `${name} ${String(values[i]["text"])}`)
        .join("; ")}${rows.length > 20 ? "; and more" : ""}.`,
    },
    {
      width: Math.round(theme.width * 0.8),
      height: Math.round(theme.font * 1.8 * rows.length),
      layer,
      encoding: {
        x: { axis: { title: "Flex score", grid: true } },
        y: {
          axis: { title: null, domain: false, ticks: false, labelPadding: theme.font, labelLimit: theme.font * 22 },
        },
      },
    },
  );
}
