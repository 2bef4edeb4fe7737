import { checkShape, type Shape } from "../core/checkShape.ts";
import type { StepPlan } from "../recommend/stepPlan.ts";
import { number, padded, words } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { densityAxis } from "./densityAxis.ts";
import { moneyText, nameText, short } from "./figureText.ts";
import type { Row, UnitView, View } from "./vegaLite.ts";

export interface StepPlanChartOptions extends ChartOptions {}

/** What `StepPlanChartOptions` must look like. */
export const stepPlanChartOptionsShape: { readonly [property: string]: Shape } = { ...chartOptionsShape };

/**
 * The way from the present rate to the better one, season by season, and what each season's rate is expected to bring against the
 * present one, with its range.
 *
 * @param plan - from `stepPlan`
 * @example
 * const field = { hybrid: "Amber 12", presentRate: 34, acceptedStep: 2, prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } };
 * stepPlanChart(stepPlan(analysis, field)).alt.startsWith("Amber 12: seeding rate by season"); // => true
 */
export function stepPlanChart(plan: StepPlan, options: StepPlanChartOptions = {}): Chart {
  checkShape(plan, "plan", "standcurve/step-plan/1");
  checkShape(options, "options", stepPlanChartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const currency = options.currency ?? plan.currency;
  const { present, target, steps } = plan;
  const axis = densityAxis(
    { densityUnit: plan.rateUnit, densityAxis: "seeding-rate" },
    Math.max(present, target, ...steps.map(({ rate }) => rate)),
  );
  const way = [{ season: 0, rate: present }, ...steps];
  const last = way[way.length - 1];
  const xDomain = [-0.4, Math.max(last.season, 1) + 0.6] as const;
  const yDomain = padded(
    [present, target, ...steps.map(({ rate }) => rate)].map((rate) => rate * axis.scale),
    0.18,
  );
  const x = number("x", xDomain);
  const y = number("y", yDomain);
  const stairs = way.flatMap(({ season, rate }, i) => {
    const at = short(rate * axis.scale);
    return i === 0
      ? [
          { x: -0.4, y: at },
          { x: season, y: at },
        ]
      : [
          { x: season - 0.5, y: at },
          { x: season, y: at },
        ];
  });
  const up = target >= present;
  const points: Row[] = way.map(({ season, rate }) => ({
    x: season,
    y: short(rate * axis.scale),
    text: axis.text(rate),
  }));
  const seasons = way.map(({ season }) => season);
  const name = (label: string) => `datum.value == 0 ? 'now' : '${label}' + datum.value`;
  const xAxis = {
    title: null,
    values: seasons,
    tickCount: seasons.length,
    labelExpr: name("season "),
    format: "d",
    grid: false,
  } as const;
  const top: View = {
    width: theme.width,
    height: Math.round(theme.height * 0.62),
    layer: [
      {
        data: { values: [{ y: short(target * axis.scale) }] },
        mark: { type: "rule", color: theme.economic, strokeDash: [5, 3], strokeWidth: theme.stroke * 0.7 },
        encoding: { y },
      },
      {
        data: { values: [{ x: xDomain[1], y: short(target * axis.scale), text: `better rate ${axis.text(target)}` }] },
        mark: { type: "text", align: "right", baseline: up ? "bottom" : "top", dy: up ? -3 : 4, color: theme.economic },
        encoding: { x, y, text: words },
      },
      {
        data: { values: [...stairs, { x: short(last.season + 0.4), y: points[points.length - 1]["y"] as number }] },
        mark: { type: "line", interpolate: "step-after", color: theme.ink, strokeWidth: theme.stroke },
        encoding: { x, y },
      },
      {
        data: { values: points },
        mark: { type: "point", filled: true, opacity: 1, size: theme.symbol * 2, color: theme.ink },
        encoding: { x, y },
      },
      {
        data: { values: target === present ? points : points.filter(({ y: at }) => at !== short(target * axis.scale)) },
        mark: { type: "text", baseline: up ? "top" : "bottom", dy: up ? 7 : -7 },
        encoding: { x, y, text: words },
      },
    ],
    encoding: { x: { axis: xAxis }, y: { axis: { title: `Rate, ${axis.unit}` } } },
  };
  const gains = steps.flatMap(({ season, fromPresent }) =>
    fromPresent === null ? [] : [{ season, gain: fromPresent.return }],
  );
  const said = steps.map(({ season, rate, fromPresent }) => {
    const money =
      fromPresent === null ? "" : `, ${moneyText(fromPresent.return.mean, currency)} per ${plan.moneyArea} expected`;
    return `season ${season}: ${axis.text(rate)}${money}`;
  });
  return finishChart(
    theme,
    {
      title: options.title ?? `${nameText(plan.hybrid)}: the way to the better rate`,
      notes:
        steps.length === 0
          ? ["No step: the present rate is kept."]
          : [
              `Lower part: what a season's rate is expected to bring against the present one, with its range. Decide after each season anew.`,
            ],
      alt: `${nameText(plan.hybrid)}: seeding rate by season in ${axis.unit}, from ${axis.text(present)} now to ${axis.text(target)}. ${steps.length === 0 ? "No step" : said.join("; ")}.`,
    },
    gains.length === 0
      ? top
      : { vconcat: [top, moneyView(gains, theme, xDomain, plan.moneyArea, currency, xAxis)], spacing: theme.font },
  );
}

function moneyView(
  gains: readonly {
    readonly season: number;
    readonly gain: NonNullable<StepPlan["steps"][number]["fromPresent"]>["return"];
  }[],
  theme: ReturnType<typeof chartTheme>,
  xDomain: readonly [number, number],
  area: string,
  currency: string,
  xAxis: Readonly<Record<string, string | number | boolean | readonly number[] | null>>,
): View {
  const ends = gains.flatMap(({ gain }) => [
    gain.mean,
    gain.interval.lower ?? gain.mean,
    gain.interval.upper ?? gain.mean,
  ]);
  const yDomain = padded([0, ...ends], 0.15);
  const x = number("x", xDomain);
  const values: Row[] = gains.map(({ season, gain }) => ({
    x: season,
    y: short(gain.mean),
    from: short(gain.interval.lower ?? gain.mean),
    to: short(gain.interval.upper ?? gain.mean),
    text: moneyText(gain.mean, currency),
  }));
  const layer: UnitView[] = [
    { data: { values: [{ y: 0 }] }, mark: { type: "rule", color: theme.muted }, encoding: { y: number("y", yDomain) } },
    {
      data: { values },
      mark: { type: "rule", color: theme.economic, strokeWidth: theme.stroke * 1.3 },
      encoding: { x, y: number("from", yDomain), y2: { field: "to" } },
    },
    {
      data: { values },
      mark: {
        type: "point",
        shape: "square",
        filled: true,
        opacity: 1,
        size: theme.symbol * 2,
        color: theme.economic,
        stroke: theme.paper,
        strokeWidth: 1,
      },
      encoding: { x, y: number("y", yDomain) },
    },
    {
      data: { values },
      mark: { type: "text", align: "left", dx: Math.round(theme.font * 0.8) },
      encoding: { x, y: number("y", yDomain), text: words },
    },
  ];
  const unit = currency === "" ? "money" : currency;
  return {
    width: theme.width,
    height: Math.round(theme.height * 0.4),
    layer,
    encoding: { x: { axis: xAxis }, y: { axis: { title: `Gain, ${unit} per ${area}` } } },
  };
}
