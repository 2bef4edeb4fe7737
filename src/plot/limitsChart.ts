import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { NearBest } from "../derive/nearBest.ts";
import type { DensityLimit } from "../recommend/densityLimit.ts";
import type { FieldLimits } from "../recommend/densityLimits.ts";
import type { DensityUnit } from "../trial/trial.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { type ChartTheme, chartTheme, finishChart } from "./chartTheme.ts";
import { type DensityAxis, densityAxis } from "./densityAxis.ts";
import { moneyText, nameText, short } from "./figureText.ts";
import { laneLayers, lanePieces, laneText, type RangeLane } from "./rangeLane.ts";
import type { UnitView } from "./vegaLite.ts";

/** What the chart needs: a `Recommendation` or `DensityLimits` fits. */
export interface LimitsView {
  readonly hybrid: string;
  readonly rateUnit: DensityUnit;
  readonly limits: FieldLimits & { readonly acceptedStep?: DensityLimit };
  readonly field?: string | null;
  readonly rate?: number;
  readonly bindingLimit?: string;
  readonly nearBest?: NearBest;
}

/** What `LimitsView` must look like. */
export const limitsViewShape: { readonly [property: string]: Shape } = {
  hybrid: "text",
  rateUnit: "text",
  limits: "any",
  field: "text|null?",
  rate: "number?",
  bindingLimit: "text?",
  nearBest: "object?",
};

export interface LimitsChartOptions extends ChartOptions {
  /** Rate planted so far, in the unit of the rates. */
  readonly presentRate?: number;
}

/** What `LimitsChartOptions` must look like. */
export const limitsChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  presentRate: "number?",
};

/**
 * What bounds the seeding rate of one hybrid in one field: each limit with its interval, the rates that cost little, the rate chosen
 * and the present one, over the tested range. The limit that holds the rate where it is says so.
 *
 * Limits that do not exist or cannot be told have no lane; the words below name them.
 *
 * @param view - from `recommendRate` or `densityLimits`
 * @throws AnalysisError `not-estimable` when the tested range is not known
 * @example
 * const field = { hybrid: "Amber 12", prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } };
 * limitsChart(densityLimits(analysis, field)).alt.includes("pays best"); // => true
 */
export function limitsChart(view: LimitsView, options: LimitsChartOptions = {}): Chart {
  checkShape(view, "view", limitsViewShape);
  checkShape(options, "options", limitsChartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const { limits, rate, bindingLimit, nearBest } = view;
  const [low, high] = [limits.lowestTested.rate, limits.highestTested.rate];
  check(low !== null && high !== null, "not-estimable", "the limits name no tested range");
  const axis = densityAxis({ densityUnit: view.rateUnit, densityAxis: "seeding-rate" }, high);
  const { presentRate: present } = options;
  const ends = [low, high, rate ?? low, present ?? low].map((end) => end * axis.scale);
  const [least, most] = [Math.min(...ends), Math.max(...ends)];
  const pad = (most - least) * 0.05;
  const domain = [short(least - pad), short(most + pad)] as const;

  const named: readonly (readonly [string, DensityLimit | undefined, string, string])[] = [
    ["Pays best", limits.economicOptimum, theme.economic, "square"],
    ["Stands up to", limits.standability, theme.lodging, "triangle-up"],
    ["Field feeds up to", limits.feeding, theme.good, "diamond"],
    ["Nitrogen trial", limits.nitrogenFromData, theme.good, "cross"],
    ["Accepted step to", limits.acceptedStep, theme.muted, "triangle-down"],
  ];
  const lanes = named.flatMap(([label, limit, color, shape]) =>
    limit === undefined || limit.kind === "none" ? [] : [limitLane(label, limit, color, shape, axis, bindingLimit)],
  );
  if (nearBest !== undefined) {
    const pieces = (nearBest.pieces ?? [[nearBest.lower, nearBest.upper] as const]).map(([lower, upper]) => ({
      lower,
      upper,
    }));
    const label = `Costs less than ${moneyText(nearBest.loss, options.currency ?? "")}`;
    const text = laneText(null, null, pieces, axis.text);
    lanes.splice(1, 0, { label, estimate: null, pieces, text, color: theme.economic, shape: "square", soft: true });
  }
  const missing = [
    ["standability", limits.standability],
    ["feeding", limits.feeding],
  ].flatMap(([name, limit]) => ((limit as DensityLimit).kind === "none" ? [name as string] : []));
  const name = nameText(view.hybrid);
  const field = view.field == null ? "" : `, ${nameText(view.field)}`;
  const notes = [
    "Marks with lines: limits with their ranges; arrows: open on that side. Shaded: not tested.",
    ...(missing.length > 0 ? [`Not known here: ${missing.join(", ")}.`] : []),
  ];
  const said = [
    rate === undefined ? "" : `Rate ${axis.text(rate)}`,
    present === undefined ? "" : `present rate ${axis.text(present)}`,
    ...lanes.map(({ label, text }) => `${label.toLowerCase()}: ${text}`),
    `tested from ${axis.text(low)} to ${axis.text(high)}`,
    ...missing.map((one) => `${one} not known`),
  ].filter((part) => part !== "");
  return finishChart(
    theme,
    {
      title: options.title ?? `${name}${field}: what bounds the seeding rate`,
      notes,
      alt: `${name}${field}: seeding rate and its limits in ${axis.unit}. ${said.join("; ")}.`,
    },
    {
      width: theme.width,
      height: Math.round(theme.font * 2 * lanes.length),
      layer: [
        ...untested(theme, domain, low * axis.scale, high * axis.scale),
        ...ratesMarked(theme, axis, domain, rate, present),
        ...laneLayers(lanes, theme, axis.scale, domain),
      ],
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
  );
}

const words: Readonly<Record<string, string>> = {
  "Pays best": "economic-optimum",
  "Stands up to": "standability",
  "Field feeds up to": "feeding",
  "Nitrogen trial": "nitrogen-from-data",
  "Accepted step to": "accepted-step",
};

function limitLane(
  label: string,
  { kind, rate, interval }: DensityLimit,
  color: string,
  shape: string,
  axis: DensityAxis,
  binding: string | undefined,
): RangeLane {
  const edge = kind === "at-lowest" ? "lower" : kind === "at-highest" ? "upper" : null;
  // A range open on both sides says nothing: the mark at the end of the tested range alone is clearer.
  const pieces = lanePieces(interval).filter(({ lower, upper }) => lower !== null || upper !== null);
  const text = `${laneText(rate, edge, pieces, axis.text)}${words[label] === binding ? ", decides" : ""}`;
  return { label, estimate: rate, edge, pieces, text, color, shape };
}

/** Ground beyond the tested range. */
function untested(
  theme: ChartTheme,
  [from, to]: readonly [number, number],
  low: number,
  high: number,
): readonly UnitView[] {
  const x = { type: "quantitative", scale: { domain: [from, to], zero: false, nice: false } } as const;
  return [
    {
      data: {
        values: [
          { a: from, b: short(low) },
          { a: short(high), b: to },
        ],
      },
      mark: { type: "rect", color: theme.shade, opacity: 0.16 },
      encoding: { x: { field: "a", ...x }, x2: { field: "b" } },
    },
  ];
}

/** Upright lines through all lanes with their names on top: the rate, and the present one. */
function ratesMarked(
  theme: ChartTheme,
  axis: DensityAxis,
  domain: readonly [number, number],
  rate: number | undefined,
  present: number | undefined,
): readonly UnitView[] {
  const x = { field: "x", type: "quantitative", scale: { domain, zero: false, nice: false } } as const;
  const same = rate !== undefined && rate === present;
  const lines = [
    ...(rate === undefined
      ? []
      : [{ at: rate, text: `${same ? "rate, as now" : "rate"} ${axis.text(rate)}`, dash: [1, 0], color: theme.ink }]),
    ...(present === undefined || same
      ? []
      : [{ at: present, text: `now ${axis.text(present)}`, dash: [5, 3], color: theme.muted }]),
  ].sort((a, b) => a.at - b.at);
  const middle = (domain[0] + domain[1]) / 2;
  return lines.flatMap(({ at, text, dash, color }, i): UnitView[] => {
    const place = short(at * axis.scale);
    // Two names part from each other; one alone leans to the roomier side.
    const align = lines.length === 2 ? (i === 0 ? "right" : "left") : place > middle ? "right" : "left";
    return [
      {
        data: { values: [{ x: place }] },
        mark: { type: "rule", color, strokeDash: dash, strokeWidth: theme.stroke * 0.8 },
        encoding: { x },
      },
      {
        data: { values: [{ x: place, text }] },
        mark: { type: "text", align, baseline: "bottom", dx: align === "left" ? -2 : 2, dy: -3, color },
        encoding: { x, y: { value: 0 }, text: { field: "text", type: "nominal" } },
      },
    ];
  });
}
