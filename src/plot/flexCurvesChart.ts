import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { predictCurve } from "../fit/fittedCurve.ts";
import { endLabels, number, padded } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, dashOf, finishChart } from "./chartTheme.ts";
import { chosenFit } from "./curvePicture.ts";
import { densityAxisOf } from "./densityAxis.ts";
import { figure, nameText, short } from "./figureText.ts";
import type { UnitView } from "./vegaLite.ts";

export interface FlexCurvesChartOptions extends ChartOptions {
  /** Hybrids shown; default: all with a score. More than eight: the highest and lowest four are named, the rest are grey. */
  readonly hybrids?: readonly string[];
}

/** What `FlexCurvesChartOptions` must look like. */
export const flexCurvesChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  hybrids: "labels?",
};

const POINTS = 40;
const NAMED = 8;

/**
 * Curves of several hybrids on a common relative axis: yield as percent of that at the lower reference density. Thin lines show where flex
 * scores of 70, 80, 90, 100 and 110 would run, so a score can be read off at the right end.
 *
 * @throws AnalysisError `not-estimable` when no hybrid has a flex score
 * @example
 * flexCurvesChart(analysis).alt.includes("Flex scores"); // => true
 */
export function flexCurvesChart(analysis: TrialAnalysis, options: FlexCurvesChartOptions = {}): Chart {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", flexCurvesChartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const axis = densityAxisOf(analysis);
  const { between, byFlex } = analysis.comparison;
  const pooled = new Map(
    analysis.hybrids.flatMap(({ hybrid, pooled: one }) => (one.kind === "analysed" ? [[hybrid, one] as const] : [])),
  );
  const wanted = options.hybrids ?? byFlex;
  const curves = byFlex
    .filter((hybrid) => wanted.includes(hybrid))
    .map((hybrid) => pooled.get(hybrid) as CurveAnalysis);
  check(
    between !== null && curves.length > 0,
    "not-estimable",
    "no hybrid has a flex score on a common range of densities",
  );
  const [x1, x2] = between;
  const named = (i: number): boolean => curves.length <= NAMED || i < NAMED / 2 || i >= curves.length - NAMED / 2;
  const densities = Array.from({ length: POINTS + 1 }, (_, i) => x1 * pow(x2 / x1, i / POINTS));
  const lines = curves.map((curve, i) => {
    const yields = predictCurve(chosenFit(curve), densities);
    const relative = yields.map((y) => (100 * y) / yields[0]);
    return { curve, relative, named: named(i), color: named(i) ? theme.series[i % theme.series.length] : theme.grid };
  });
  const fan = [70, 80, 90, 100, 110].map((score) => ({
    score,
    relative: densities.map((x) => 100 * pow(x / x1, 1 - score / 100)),
  }));
  const yDomain = padded(
    lines.flatMap(({ relative }) => relative),
    0.12,
  );
  const shownFan = fan.filter(({ relative }) => relative[POINTS] >= yDomain[0] && relative[POINTS] <= yDomain[1]);
  const scaled = [short(x1 * axis.scale), short(x2 * axis.scale)] as const;
  const xDomain = [scaled[0], short(scaled[1] + (scaled[1] - scaled[0]) * 0.06)] as const;
  const x = number("x", xDomain);
  const y = number("y", yDomain);
  const path = (relative: readonly number[]) =>
    relative.map((value, k) => ({ x: short(densities[k] * axis.scale), y: short(value) }));
  const layer: UnitView[] = [
    ...shownFan.map(
      ({ relative, score }): UnitView => ({
        data: { values: path(relative) },
        mark: {
          type: "line",
          color: theme.muted,
          opacity: 0.6,
          strokeWidth: score === 100 ? 1.4 : 0.8,
          strokeDash: [1, 3],
        },
        encoding: { x, y },
      }),
    ),
    {
      data: {
        values: shownFan.map(({ score, relative }) => ({
          x: short(densities[Math.round(POINTS * 0.86)] * axis.scale),
          y: short(relative[Math.round(POINTS * 0.86)]),
          text: `score ${score}`,
        })),
      },
      mark: {
        type: "text",
        fontStyle: "italic",
        color: theme.muted,
        baseline: "bottom",
        dy: -1,
        fontSize: theme.font * 0.9,
      },
      encoding: { x, y, text: { field: "text", type: "nominal" } },
    },
    ...[...lines]
      .sort((a, b) => Number(a.named) - Number(b.named))
      .map((line): UnitView => {
        const i = lines.indexOf(line);
        return {
          data: { values: path(line.relative) },
          mark: {
            type: "line",
            color: line.color,
            strokeDash: line.named ? dashOf(theme, i) : [1, 0],
            strokeWidth: line.named ? theme.stroke : theme.stroke * 0.6,
          },
          encoding: { x, y },
        };
      }),
    ...endLabels(
      lines.flatMap(({ curve, relative, color, named: shown }) =>
        shown
          ? [
              {
                y: relative[POINTS],
                text: `${nameText(curve.hybrid, 24)}: ${figure(curve.flex.flex.score as number, 0)}`,
                color,
              },
            ]
          : [],
      ),
      theme,
      xDomain,
      yDomain,
      theme.height,
      scaled[1],
    ),
  ];
  const range = `${axis.text(x1)} to ${axis.text(x2)} ${axis.unit}`;
  return finishChart(
    theme,
    {
      title: options.title ?? "How far bigger ears make up for missing plants",
      notes: [
        `Yield as percent of that at ${axis.text(x1)} ${axis.unit}; labels give flex scores from ${range}. At score 100 missing plants are fully made up, and the line is level; steeper lines need their plants.`,
      ],
      alt: `Relative yield of ${curves.length} hybrids from ${range}. Flex scores: ${lines
        .filter((line) => line.named)
        .map(
          ({ curve, relative }) =>
            `${nameText(curve.hybrid, 24)}: ${figure(curve.flex.flex.score as number, 0)} (${figure(relative[POINTS], 0)} % at the high end)`,
        )
        .join(", ")}${curves.length > NAMED ? "; the hybrids between are not named" : ""}.`,
    },
    {
      width: theme.width,
      height: theme.height,
      layer,
      encoding: { x: { axis: { title: axis.title } }, y: { axis: { title: `Yield, % of that at ${axis.text(x1)}` } } },
    },
  );
}
