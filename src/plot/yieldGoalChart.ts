import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import type { DensityUnit, Trial, YieldUnit } from "../trial/trial.ts";
import { endLabels, number, padded } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, dashOf, finishChart } from "./chartTheme.ts";
import { densityAxis, yieldDecimals } from "./densityAxis.ts";
import { figure, nameText, short } from "./figureText.ts";
import type { UnitView } from "./vegaLite.ts";

/** What the chart needs of the response expected at one yield goal; an answer of `responseAtYieldGoal` fits. */
export interface YieldGoalView {
  readonly yieldGoal: number;
  readonly extrapolated: boolean;
  readonly curve: readonly { readonly density: number; readonly yield: number }[];
  readonly agronomic: YieldGoalOptimum;
  readonly economic: YieldGoalOptimum | null;
}

export interface YieldGoalOptimum {
  readonly kind: "interior" | "lower-edge" | "upper-edge";
  readonly density: number;
  readonly yield: number;
  readonly interval: Interval | null;
}

export interface YieldGoalChartOptions extends ChartOptions {
  readonly densityUnit?: DensityUnit;
  readonly yieldUnit?: YieldUnit;
  readonly densityAxis?: Trial["densityAxis"];
  readonly hybrid?: string;
}

/** What `YieldGoalChartOptions` must look like. */
export const yieldGoalChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  densityUnit: "text?",
  yieldUnit: "text?",
  densityAxis: "text?",
  hybrid: "text?",
};

/**
 * The family of curves expected at several yield goals, with their optima and the ranges of these; the line through the best densities shows
 * how, if at all, better fields want more plants.
 *
 * @throws AnalysisError `invalid-option` without any answer
 * @example
 * const curve = [18, 26, 34, 42].map((density) => ({ density, yield: 200 - 0.1 * (density - 32) ** 2 }));
 * const agronomic = { kind: "interior", density: 32, yield: 200, interval: null };
 * const answer = { yieldGoal: 200, extrapolated: false, curve, agronomic, economic: null };
 * yieldGoalChart([answer]).alt.includes("goal 200: 32.0"); // => true
 */
export function yieldGoalChart(answers: readonly YieldGoalView[], options: YieldGoalChartOptions = {}): Chart {
  checkShape(answers, "answers", "objects");
  for (const answer of answers)
    checkShape(answer, "answer", {
      yieldGoal: "number",
      agronomic: "object",
      economic: "object|null",
      curve: "objects",
    });
  checkShape(options, "options", yieldGoalChartOptionsShape, "invalid-option");
  check(answers.length > 0, "invalid-option", "give at least one answer of kind estimated");
  const theme = chartTheme(options);
  const sorted = [...answers].sort((a, b) => b.yieldGoal - a.yieldGoal);
  const densities = sorted.flatMap(({ curve }) => curve.map(({ density }) => density));
  const low = Math.min(...densities);
  const high = Math.max(...densities);
  const axis = densityAxis(
    { densityUnit: options.densityUnit ?? "1000 plants/ac", densityAxis: options.densityAxis ?? "mean-stand" },
    high,
  );
  const unit = options.yieldUnit ?? "bu/ac";
  const decimals = Math.max((yieldDecimals[unit] ?? 1) - 1, 0);
  const paying = sorted.every(({ economic }) => economic !== null);
  const best = (answer: YieldGoalView): YieldGoalOptimum =>
    paying ? (answer.economic as YieldGoalOptimum) : answer.agronomic;
  const xDomain = [
    short((low - (high - low) * 0.03) * axis.scale),
    short((high + (high - low) * 0.05) * axis.scale),
  ] as const;
  const yDomain = padded(sorted.flatMap(({ curve }) => curve.map((point) => point.yield)));
  const x = number("x", xDomain);
  const y = number("y", yDomain);
  const optima = sorted.map((answer) => ({
    x: short(best(answer).density * axis.scale),
    y: short(best(answer).yield),
  }));
  // An open range runs to the end of what was tested.
  const ranges = sorted.flatMap((answer) => {
    const { interval, yield: level } = best(answer);
    if (interval === null) return [];
    const from = short(Math.max(interval.lower ?? low, low) * axis.scale);
    return [{ x: from, to: short(Math.min(interval.upper ?? high, high) * axis.scale), y: short(level) }];
  });
  const layer: UnitView[] = [
    ...sorted.map(
      ({ curve }, i): UnitView => ({
        data: { values: curve.map((point) => ({ x: short(point.density * axis.scale), y: short(point.yield) })) },
        mark: {
          type: "line",
          interpolate: "monotone",
          color: theme.series[i % theme.series.length],
          strokeDash: dashOf(theme, i),
          strokeWidth: theme.stroke,
        },
        encoding: { x, y },
      }),
    ),
    {
      data: { values: optima },
      mark: { type: "line", color: theme.muted, strokeWidth: theme.stroke * 0.6 },
      encoding: { x, y, order: { field: "y", type: "quantitative" } },
    },
    ...(ranges.length === 0
      ? []
      : [
          {
            data: { values: ranges },
            mark: { type: "rule", color: paying ? theme.economic : theme.agronomic, strokeWidth: theme.stroke * 1.3 },
            encoding: { x, x2: { field: "to" }, y },
          } satisfies UnitView,
        ]),
    {
      data: { values: optima },
      mark: {
        type: "point",
        filled: true,
        opacity: 1,
        shape: paying ? "square" : "circle",
        color: paying ? theme.economic : theme.agronomic,
        size: theme.symbol * 2.2,
        stroke: theme.paper,
        strokeWidth: 1,
      },
      encoding: { x, y },
    },
  ];
  const end = ({ kind }: YieldGoalOptimum): string =>
    kind === "upper-edge" ? " or more" : kind === "lower-edge" ? " or less" : "";
  const told = (answer: YieldGoalView): string =>
    `goal ${figure(answer.yieldGoal, decimals)}: ${axis.text(best(answer).density)}${end(best(answer))}${answer.extrapolated ? ", beyond the fields seen" : ""}`;
  layer.push(
    ...endLabels(
      sorted.map((answer, i) => ({
        y: answer.curve[answer.curve.length - 1].yield,
        text: told(answer),
        color: theme.series[i % theme.series.length],
      })),
      theme,
      xDomain,
      yDomain,
      theme.height,
      short(high * axis.scale),
    ),
  );
  const name = options.hybrid === undefined ? "" : `${nameText(options.hybrid)}: `;
  const sure = sorted.map((answer) => best(answer).interval).find((interval) => interval !== null);
  const levelWords = sure == null ? "" : `; bars: their ${Number((100 * sure.level).toPrecision(4))} % ranges`;
  const what = paying ? "best-paying" : "highest-yielding";
  return finishChart(
    theme,
    {
      title: options.title ?? `${name}${name === "" ? "Response" : "response"} expected at several yield goals`,
      notes: [`Marks and labels: ${what} ${axis.place}, ${axis.unit}${levelWords}. Goals in ${unit}.`],
      alt: `${name}yield against ${axis.place} expected at ${sorted.length} yield goals (${unit}), with the ${what} ${axis.place}: ${sorted.map(told).join("; ")}, in ${axis.unit}.`,
    },
    {
      width: theme.width,
      height: theme.height,
      layer,
      encoding: { x: { axis: { title: axis.title } }, y: { axis: { title: `Yield, ${unit}` } } },
    },
  );
}
