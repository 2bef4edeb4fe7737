import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { returnCurve } from "../derive/returnCurve.ts";
import { convertDensity } from "../trial/units.ts";
import { endLabels, number } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, dashOf, finishChart, seriesShapes } from "./chartTheme.ts";
import { chosenFit, curveDensities } from "./curvePicture.ts";
import { densityAxisOf } from "./densityAxis.ts";
import { moneyText, nameText, short } from "./figureText.ts";
import { type CurveChoice, curveChoiceShape, pickCurve } from "./pickCurve.ts";
import type { UnitView } from "./vegaLite.ts";

export interface ReturnChartOptions extends ChartOptions, CurveChoice {
  /** Shares by which seed and grain prices move against each other; default [0.2]. Each gives a dear-seed and a cheap-seed line. */
  readonly changes?: readonly number[];
}

/** What `ReturnChartOptions` must look like. */
export const returnChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  ...curveChoiceShape,
  changes: "numbers?",
};

/**
 * What a rate costs against the best one, over a range of prices: money per area below the best, which is 0, for the prices given, for
 * dearer seed with cheaper grain, and for the reverse.
 *
 * Rates are seeds where establishment is known, else stands. Losses rather than returns, since a change of the grain price moves the
 * returns of all rates alike and would hide how little or much the rate matters.
 *
 * @throws AnalysisError `not-estimable` when the analysis had no prices; `invalid-option` for a change outside (0, 0.9]
 * @example
 * const priced = analyzeTrial(trial, { prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 }, resamples: 0 });
 * returnChart(priced, { hybrid: "Amber 12", currency: "$" }).alt.includes("prices as given"); // => true
 */
export function returnChart(analysis: TrialAnalysis, options: ReturnChartOptions = {}): Chart {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", returnChartOptionsShape, "invalid-option");
  const curve = pickCurve(analysis, options);
  const { prices } = analysis.settings;
  const { changes = [0.2], currency = "" } = options;
  check(
    prices !== null && curve.economic !== null,
    "not-estimable",
    "the analysis had no prices: give `prices` to analyzeTrial",
  );
  check(
    changes.every((change) => change > 0 && change <= 0.9),
    "invalid-option",
    "changes must be shares above 0, at most 0.9",
  );
  const theme = chartTheme(options);
  const axis = densityAxisOf(analysis);
  const { trial } = analysis;
  const fit = chosenFit(curve);
  const onRate = trial.densityAxis === "seeding-rate";
  const establishment = onRate ? 1 : (curve.establishment ?? 1);
  const inSeeds = onRate || curve.establishment !== null;
  const plants = convertDensity(1, trial.densityUnit, `plants/${trial.moneyArea}`);
  const yieldCost = prices.yieldCost ?? 0;
  const densities = curveDensities(fit);
  const scenarios = [
    { label: "prices as given", seed: 1, grain: 1 },
    ...changes.flatMap((change) => {
      const percent = `${Math.round(change * 1000) / 10} %`;
      return [
        { label: `seed ${percent} dearer, grain ${percent} cheaper`, seed: 1 + change, grain: 1 - change },
        { label: `seed ${percent} cheaper, grain ${percent} dearer`, seed: 1 - change, grain: 1 + change },
      ];
    }),
  ].flatMap((scenario) => {
    const grainPrice = prices.grainPrice * scenario.grain;
    if (grainPrice <= yieldCost) return [];
    const seedCost = (prices.seedCostPerThousand * scenario.seed * plants) / 1000;
    if (seedCost === 0 && fit.curve?.family === "flat") return [];
    return [{ ...scenario, result: returnCurve(fit, { grainPrice, seedCost, establishment, yieldCost }, densities) }];
  });
  check(scenarios.length > 0, "not-estimable", "at these prices every rate returns the same");
  const factor = inSeeds ? axis.scale / establishment : axis.scale;
  const low = fit.range[0] * factor;
  const high = fit.range[1] * factor;
  const xDomain = [short(low - (high - low) * 0.03), short(high + (high - low) * 0.05)] as const;
  const worst = Math.min(...scenarios.flatMap(({ result }) => result.loss));
  const yDomain = [short(worst * 1.04 - 0.01), short(-worst * 0.06 + 0.01)] as const;
  const x = number("x", xDomain);
  const y = number("y", yDomain);
  const layer: UnitView[] = scenarios.flatMap(({ result }, i) => {
    const look = {
      color: theme.series[i % theme.series.length],
      strokeWidth: i === 0 ? theme.stroke * 1.5 : theme.stroke,
    };
    return [
      {
        data: { values: result.density.map((d, k) => ({ x: short(d * factor), y: short(result.loss[k]) })) },
        mark: { type: "line", strokeDash: dashOf(theme, i), ...look },
        encoding: { x, y },
      },
      {
        data: { values: [{ x: short(result.best.density * factor), y: 0 }] },
        mark: {
          type: "point",
          filled: true,
          opacity: 1,
          shape: seriesShapes[i % seriesShapes.length],
          color: look.color,
          size: theme.symbol * 2.2,
          stroke: theme.paper,
          strokeWidth: 1,
        },
        encoding: { x, y },
      },
    ] satisfies UnitView[];
  });
  const text = (density: number): string => axis.text((density / axis.scale) * factor);
  const end = (kind: string): string => (kind === "upper-edge" ? " or more" : kind === "lower-edge" ? " or less" : "");
  layer.push(
    ...endLabels(
      scenarios.map(({ label, result }, i) => ({
        y: result.loss[result.loss.length - 1],
        text: `${label}: ${text(result.best.density)}${end(result.best.kind)}`,
        color: theme.series[i % theme.series.length],
      })),
      theme,
      xDomain,
      yDomain,
      theme.height,
      short(high),
    ),
  );
  const unit = inSeeds ? axis.seedUnit : axis.unit;
  const place = inSeeds ? "Seeding rate" : "Stand";
  const money = currency === "" ? "Money" : currency;
  const name = nameText(curve.hybrid);
  const where = curve.environment === null ? "" : `, ${nameText(curve.environment)}`;
  const base = scenarios[0].result;
  const per = trial.yieldUnit.split("/")[0];
  return finishChart(
    theme,
    {
      title: options.title ?? `${name}${where}: what a rate costs against the best`,
      notes: [
        `Prices given: grain ${moneyText(prices.grainPrice, currency)} per ${per}, seed ${moneyText(prices.seedCostPerThousand, currency)} per 1,000. At the best rate ${moneyText(base.best.return, currency)} per ${trial.moneyArea} is left after seed. Labels name the best rate.`,
      ],
      alt: `${name}${where}: money lost per ${trial.moneyArea} against the best ${place.toLowerCase()}. ${scenarios
        .map(({ label, result }) => {
          const ends = `${moneyText(result.loss[0], currency)} at ${text(fit.range[0])}, ${moneyText(result.loss[result.loss.length - 1], currency)} at ${text(fit.range[1])}`;
          return `${label}: best at ${text(result.best.density)}${end(result.best.kind)}; ${ends}`;
        })
        .join(". ")}; in ${unit}.`,
    },
    {
      width: theme.width,
      height: theme.height,
      layer,
      encoding: {
        x: { axis: { title: `${place}, ${unit}` } },
        y: { axis: { title: `Against the best rate, ${money} per ${trial.moneyArea}` } },
      },
    },
  );
}
