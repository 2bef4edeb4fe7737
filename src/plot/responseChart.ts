import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { predictCurve } from "../fit/fittedCurve.ts";
import type { StandabilityLimit } from "../standability/standabilityLimit.ts";
import type { Trial } from "../trial/trial.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { type ChartTheme, chartTheme, finishChart, ringOpacity } from "./chartTheme.ts";
import { type CurvePicture, chosenFit, curveDensities, curvePicture } from "./curvePicture.ts";
import { type DensityAxis, densityAxisOf, yieldDecimals } from "./densityAxis.ts";
import { figure, moneyText, nameText, short } from "./figureText.ts";
import { type CurveChoice, curveChoiceShape, pickCurve } from "./pickCurve.ts";
import { laneLayers, lanePieces, laneText, type RangeLane } from "./rangeLane.ts";
import type { LayerView, Row, UnitView, View } from "./vegaLite.ts";

export interface ResponseChartOptions extends ChartOptions, CurveChoice {
  /** The trial analysed: adds its plots, the means and the band. */
  readonly trial?: Trial;
  /** Where too many stalks lodge; default: what the result says of the kind of lodging that its verdict rests on. Null: none. */
  readonly limit?: StandabilityLimit | null;
}

/** What `ResponseChartOptions` must look like. */
export const responseChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  ...curveChoiceShape,
  trial: "standcurve/trial/1?",
  limit: "standcurve/standability-limit/1|null?",
};

/**
 * Yield against density for one hybrid: plots, density means, the chosen curve with its band, the near-best range, both optima with
 * their ranges and the standability limit.
 *
 * Plots and means are shown without block effects, as the curve is that of the average block. The band is that of `curveBand`.
 *
 * @param analysis - from `analyzeTrial`
 * @returns a Vega-Lite specification and a text that says the same
 * @throws AnalysisError `invalid-option` for a name that is not in the result; `not-estimable` when the curve was not analysed
 * @example
 * responseChart(analysis, { hybrid: "Amber 12" }).alt.startsWith("Amber 12: yield against stand"); // => true
 */
export function responseChart(analysis: TrialAnalysis, given: ResponseChartOptions = {}): Chart {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(given, "given", responseChartOptionsShape, "invalid-option");
  const curve = pickCurve(analysis, given);
  const options = { ...given, limit: given.limit === undefined ? limitOf(curve) : given.limit };
  const theme = chartTheme(options);
  const axis = densityAxisOf(analysis);
  const picture = options.trial === undefined ? null : curvePicture(options.trial, curve, analysis.settings);
  const lanes = lanesOf(analysis, curve, axis, theme, options);
  const low = curve.densities[0] * axis.scale;
  const high = curve.densities[curve.densities.length - 1] * axis.scale;
  const pad = (high - low) * 0.04;
  const domain = [short(low - pad), short(high + pad)] as const;
  const name = nameText(curve.hybrid);
  const where = curve.environment === null ? "" : `, ${nameText(curve.environment)}`;
  const small = theme.size === "small";
  const top = responseView(analysis, curve, picture, axis, theme, domain, options);
  const view: View = small
    ? top
    : {
        vconcat: [
          top,
          {
            width: theme.width,
            height: Math.round(theme.font * 1.75 * lanes.length),
            layer: laneLayers(lanes, theme, axis.scale, domain),
            encoding: {
              x: { axis: { title: axis.title, grid: false } },
              y: {
                axis: {
                  title: null,
                  domain: false,
                  ticks: false,
                  grid: true,
                  labelPadding: theme.font,
                  labelLimit: theme.font * 24,
                },
              },
            },
          },
        ],
        spacing: Math.round(theme.font * 0.6),
      };
  const title = options.title ?? `${name}${where}${small ? "" : `: yield against ${axis.place}`}`;
  return finishChart(
    theme,
    { title, notes: notesOf(curve, picture), alt: altOf(analysis, curve, axis, lanes, picture) },
    view,
  );
}

/** The limit of the kind of lodging that decides, as counted last. */
function limitOf({ standability }: CurveAnalysis): StandabilityLimit | null {
  return standability?.lodging.find(({ last, kind }) => last && kind === standability.standing.basis)?.limit ?? null;
}

function notesOf(curve: CurveAnalysis, picture: CurvePicture | null): string[] {
  const shown = [`Line: ${curve.chosen} curve (${curve.plots} plots)`];
  if (picture !== null) {
    if (picture.band.reason === null) {
      const over = picture.band.method === "envelope" ? ", choice of curve included" : "";
      shown.push(`shaded: ${Math.round(picture.band.level * 1000) / 10} % band at each density${over}`);
    }
    shown.push(`rings: plots${curve.blocks > 1 ? " less their block effects" : ""}, diamonds: means`);
  }
  return [`${shown.join("; ")}.`];
}

function lanesOf(
  analysis: TrialAnalysis,
  curve: CurveAnalysis,
  axis: DensityAxis,
  theme: ChartTheme,
  { limit, currency = "" }: ResponseChartOptions,
): RangeLane[] {
  const lanes: RangeLane[] = [];
  const add = (
    label: string,
    report: Pick<CurveAnalysis["agronomic"], "optimum" | "interval">,
    color: string,
    shape: string,
  ): void => {
    const { kind, density } = report.optimum;
    const edge = kind === "lower-edge" ? "lower" : kind === "upper-edge" ? "upper" : null;
    const pieces = lanePieces(report.interval);
    const text = density === null ? "no response on this curve" : laneText(density, edge, pieces, axis.text);
    lanes.push({ label, estimate: density, edge, pieces, text, color, shape });
  };
  add("Yields most", curve.agronomic, theme.agronomic, "circle");
  if (curve.economic !== null) {
    add("Pays best", curve.economic, theme.economic, "square");
    const near = curve.economic.optimum.nearBest;
    if (near !== null)
      lanes.push(nearLane(`Costs less than ${moneyText(near.loss, currency)}`, near, axis, theme.economic));
  } else if (curve.agronomic.optimum.nearBest !== null) {
    const share = Math.round(analysis.settings.nearBestShare * 1000) / 10;
    lanes.push(nearLane(`Within ${share} % of the most`, curve.agronomic.optimum.nearBest, axis, theme.agronomic));
  }
  if (limit != null && (limit.interval !== null || limit.density !== null)) {
    const edge = limit.kind === "above-range" ? "upper" : limit.kind === "below-range" ? "lower" : null;
    const ends = curve.densities;
    const estimate = limit.density ?? (edge === "upper" ? ends[ends.length - 1] : edge === "lower" ? ends[0] : null);
    const pieces = lanePieces(limit.interval);
    lanes.push({
      label: `${Math.round(limit.tolerated * 1000) / 10} % lodge`,
      estimate,
      edge,
      pieces,
      text: laneText(estimate, edge, pieces, axis.text),
      color: theme.lodging,
      shape: "triangle-up",
    });
  }
  return lanes;
}

function nearLane(
  label: string,
  near: NonNullable<CurveAnalysis["agronomic"]["optimum"]["nearBest"]>,
  axis: DensityAxis,
  color: string,
): RangeLane {
  const pieces = (near.pieces ?? [[near.lower, near.upper] as const]).map(([lower, upper]) => ({ lower, upper }));
  const text = laneText(null, null, pieces, axis.text);
  return { label, estimate: null, pieces, text, color, shape: "circle", soft: true };
}

function responseView(
  analysis: TrialAnalysis,
  curve: CurveAnalysis,
  picture: CurvePicture | null,
  axis: DensityAxis,
  theme: ChartTheme,
  domain: readonly [number, number],
  { limit }: ResponseChartOptions,
): LayerView {
  const { scale } = axis;
  const fit = chosenFit(curve);
  const densities = curveDensities(fit);
  const line = predictCurve(fit, densities).map((y, i) => ({ x: short(densities[i] * scale), y: short(y) }));
  const small = theme.size === "small";
  const plots = picture?.rows ?? [];
  const seen = [
    ...line.map(({ y }) => y),
    ...(small ? [] : plots.map(({ adjusted }) => adjusted)),
    ...(picture?.means.map(({ mean }) => mean) ?? []),
    ...(picture ? [...picture.band.lower, ...picture.band.upper] : []),
  ];
  const least = Math.min(...seen);
  const most = Math.max(...seen);
  const room = (most - least || Math.abs(most) || 1) * 0.06;
  const headroom = limit?.kind === "interior" && !small ? 2 * room : room;
  const yDomain = [short(least - room), short(most + headroom)] as const;
  const x = { field: "x", type: "quantitative", scale: { domain, zero: false, nice: false } } as const;
  const y = { field: "y", type: "quantitative", scale: { domain: yDomain, zero: false, nice: false } } as const;
  const layers: UnitView[] = [];
  const add = (values: readonly Row[], mark: UnitView["mark"], encoding: UnitView["encoding"] = {}): void => {
    if (values.length > 0) layers.push({ data: { values }, mark, encoding: { x, y, ...encoding } });
  };

  if (limit?.kind === "interior" && limit.density !== null) {
    const at = short(limit.density * scale);
    layers.push({
      data: { values: [{ x: at, end: domain[1] }] },
      mark: { type: "rect", color: theme.shade, opacity: 0.16 },
      encoding: { x, x2: { field: "end" } },
    });
    add(
      [{ x: at }],
      { type: "rule", color: theme.lodging, strokeDash: [6, 3], strokeWidth: theme.stroke * 0.7 },
      { y: {} },
    );
    layers[layers.length - 1] = { ...layers[layers.length - 1], encoding: { x } };
    if (!small) {
      add(
        [{ x: at, y: yDomain[1], text: `more than ${Math.round(limit.tolerated * 100)} % lodge` }],
        {
          type: "text",
          align: at > (domain[0] + 2 * domain[1]) / 3 ? "right" : "left",
          baseline: "top",
          dx: at > (domain[0] + 2 * domain[1]) / 3 ? -6 : 6,
          dy: 3,
          color: theme.muted,
        },
        { text: { field: "text", type: "nominal" } },
      );
    }
  }
  if (picture !== null && picture.band.reason === null) {
    const { density, lower, upper } = picture.band;
    add(
      density.map((d, i) => ({ x: short(d * scale), y: short(lower[i]), top: short(upper[i]) })),
      { type: "area", color: theme.agronomic, opacity: 0.17, line: false },
      { y2: { field: "top" } },
    );
  }
  if (!small) {
    add(
      plots.map(({ density, adjusted }) => ({ x: short(density * scale), y: short(adjusted) })),
      {
        type: "point",
        filled: false,
        color: theme.muted,
        opacity: ringOpacity,
        size: theme.symbol * 0.6,
        strokeWidth: theme.stroke / 2,
      },
    );
  }
  add(line, { type: "line", color: theme.ink, strokeWidth: theme.stroke });
  add(picture?.means.map(({ density, mean }) => ({ x: short(density * scale), y: short(mean) })) ?? [], {
    type: "point",
    filled: true,
    shape: "diamond",
    color: theme.ink,
    opacity: 1,
    size: theme.symbol * (small ? 1.2 : 1.6),
    stroke: theme.paper,
    strokeWidth: 1,
  });
  const marks = [
    { report: curve.economic, color: theme.economic, shape: "square" },
    { report: curve.agronomic, color: theme.agronomic, shape: "circle" },
  ].flatMap(({ report, color, shape }) =>
    report?.optimum.density == null
      ? []
      : [{ x: short(report.optimum.density * scale), y: short(report.optimum.yield), base: yDomain[0], color, shape }],
  );
  const nominal = (field: string) => ({ field, type: "nominal", scale: null, legend: null }) as const;
  add(
    marks,
    { type: "rule", strokeDash: [2, 3], strokeWidth: theme.stroke * 0.6 },
    { y2: { field: "base" }, color: nominal("color") },
  );
  add(
    marks,
    {
      type: "point",
      filled: true,
      opacity: 1,
      size: theme.symbol * (small ? 2 : 3),
      stroke: theme.paper,
      strokeWidth: 1.2,
    },
    { color: nominal("color"), shape: nominal("shape") },
  );
  return {
    width: theme.width,
    height: theme.height,
    layer: layers,
    encoding: {
      x: { axis: small ? { title: null } : { title: null, labels: false, ticks: false, domain: true } },
      y: { axis: { title: small ? null : `Yield, ${analysis.trial.yieldUnit}` } },
    },
  };
}

function altOf(
  analysis: TrialAnalysis,
  curve: CurveAnalysis,
  axis: DensityAxis,
  lanes: readonly RangeLane[],
  picture: CurvePicture | null,
): string {
  const { yieldUnit } = analysis.trial;
  const where = curve.environment === null ? "" : ` in ${nameText(curve.environment)}`;
  const show = (y: number): string => figure(y, yieldDecimals[yieldUnit] ?? 1);
  const fit = chosenFit(curve);
  const ends = predictCurve(fit, fit.range);
  const top = curve.agronomic.optimum;
  const shape =
    top.kind === "interior" && top.density !== null ? `, through ${show(top.yield)} at ${axis.text(top.density)},` : "";
  const path = `The ${curve.chosen} curve runs from ${show(ends[0])} ${yieldUnit} at ${axis.text(fit.range[0])}${shape} to ${show(ends[1])} at ${axis.text(fit.range[1])} ${axis.unit}.`;
  const ranges = lanes.map(({ label, text }) => `${label}: ${text}`).join("; ");
  const means =
    picture === null
      ? ""
      : ` Means of the densities: ${picture.means.map(({ density, mean }) => `${show(mean)} at ${axis.text(density)}`).join(", ")}.`;
  return `${nameText(curve.hybrid)}${where}: yield against ${axis.place}. ${path} ${ranges}, in ${axis.unit}.${picture !== null && picture.means.length > 12 ? "" : means}`;
}
