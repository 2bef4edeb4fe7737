import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { PowerPoint, PowerResult } from "../plan/trialPower.ts";
import { endLabels, number } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, dashOf, finishChart, seriesShapes } from "./chartTheme.ts";
import { densityAxis } from "./densityAxis.ts";
import { figure, short } from "./figureText.ts";
import type { LayerView, Row, UnitView } from "./vegaLite.ts";

/** What is drawn against the size of the trial. */
export type PowerMeasure = "bounded" | "within" | "gain" | "covered" | "width" | "regret";

export interface PowerChartOptions extends ChartOptions {
  /** One or two measures, above each other; default the chance of a bounded optimum, and the width of its range. */
  readonly measures?: readonly PowerMeasure[];
}

/** What `PowerChartOptions` must look like. */
export const powerChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  measures: "list?",
};

interface Reading {
  readonly value: number | null;
  readonly error: number | null;
}

/**
 * What trials of several sizes can be expected to tell: chance or width against the number of blocks, sites, years or densities
 * (whichever varies most), a line for each other setting. Upright lines are two Monte-Carlo standard errors each way.
 *
 * @param result - from `trialPower`
 * @throws AnalysisError `invalid-option` for a measure that was not asked of the simulation
 * @example
 * const prior = { optimum: [30, 36], lossBelow: { distance: 10, loss: 8 }, bestYield: 200 };
 * const power = trialPower({ densities: [18, 23, 28, 33, 38, 43], blocks: [4, 8], prior, sigma: 5, simulations: 50 });
 * powerChart(power, { measures: ["bounded"] }).alt.includes("8 blocks"); // => true
 */
export function powerChart(result: PowerResult, options: PowerChartOptions = {}): Chart {
  checkShape(result, "result", "standcurve/trial-power/1");
  checkShape(options, "options", powerChartOptionsShape, "invalid-option");
  const measures = options.measures ?? ["bounded", "width"];
  check(
    measures.length === 1 || measures.length === 2,
    "invalid-option",
    `measures must name one or two, got ${measures.length}`,
  );
  for (const measure of measures)
    check(
      result.points.some((point) => reading(point, measure).value !== null),
      "invalid-option",
      `no design has the measure "${measure}"; was it asked of trialPower?`,
    );
  const theme = chartTheme(options);
  const highest = result.points.reduce((most, { densities }) => Math.max(most, ...densities), 0);
  const axis = densityAxis({ densityUnit: result.densityUnit, densityAxis: "mean-stand" }, highest);
  const size = sizeOf(result.points);
  const series = seriesOf(result.points, size);
  const views = measures.map((measure, k): LayerView => {
    const scale = measure === "width" ? axis.scale : measure === "regret" ? 1 : 100;
    const read = (point: PowerPoint): { readonly value: number; readonly error: number } | null => {
      const { value, error } = reading(point, measure);
      return value === null ? null : { value: value * scale, error: (error ?? 0) * scale };
    };
    const seen = result.points.flatMap((point) => {
      const one = read(point);
      return one === null ? [] : [one.value - 2 * one.error, one.value + 2 * one.error];
    });
    const chance = scale === 100;
    const yDomain = chance ? ([0, 100] as const) : ([0, short(1.08 * Math.max(...seen, 0))] as const);
    const xTitle = k === measures.length - 1 ? size.title : null;
    const sizes = result.points.map((point) => size.of(point));
    const [least, most] = [Math.min(...sizes), Math.max(...sizes)];
    const room = (most - least || 1) * 0.06;
    const xDomain = [least - room, most + room] as const;
    const x = number("x", xDomain);
    const y = number("y", yDomain);
    const lines = series.map(({ name, points }, i) => {
      const values = points.flatMap((point): Row[] => {
        const one = read(point);
        if (one === null) return [];
        const ends = chance
          ? [Math.max(one.value - 2 * one.error, 0), Math.min(one.value + 2 * one.error, 100)]
          : [one.value - 2 * one.error, one.value + 2 * one.error];
        return [{ x: size.of(point), y: short(one.value), from: short(ends[0]), to: short(ends[1]) }];
      });
      return { name, values, color: theme.series[i % theme.series.length], i };
    });
    const layer: UnitView[] = [
      ...(chance && measure === result.goal
        ? [
            {
              data: { values: [{ y: 100 * result.enough }] },
              mark: { type: "rule", color: theme.muted, strokeDash: [4, 3] },
              encoding: { y },
            } satisfies UnitView,
            {
              data: {
                values: [
                  { x: xDomain[0], y: 100 * result.enough, text: `enough: ${figure(100 * result.enough, 0)} %` },
                ],
              },
              mark: { type: "text", align: "left", baseline: "bottom", dx: 3, dy: -2, color: theme.muted },
              encoding: { x, y, text: { field: "text", type: "nominal" } },
            } satisfies UnitView,
          ]
        : []),
      ...lines.flatMap(({ values, color, i }): UnitView[] => [
        {
          data: { values },
          mark: { type: "line", color, strokeDash: dashOf(theme, i), strokeWidth: theme.stroke * 0.9 },
          encoding: { x, y },
        },
        {
          data: { values },
          mark: { type: "rule", color, strokeWidth: theme.stroke * 0.7 },
          encoding: { x, y: number("from", yDomain), y2: { field: "to" } },
        },
        {
          data: { values },
          mark: {
            type: "point",
            shape: seriesShapes[i % 6],
            filled: true,
            opacity: 1,
            color,
            size: theme.symbol * 1.8,
            stroke: theme.paper,
            strokeWidth: 1,
          },
          encoding: { x, y },
        },
      ]),
      ...(series.length > 1
        ? endLabels(
            lines.flatMap(({ name, values, color }) =>
              values.length === 0 ? [] : [{ y: Number(values[values.length - 1]["y"]), text: name, color }],
            ),
            theme,
            xDomain,
            yDomain,
            Math.round(theme.height * 0.6),
            most,
          )
        : []),
    ];
    const title = titles[measure].replace("{width}", axis.unit).replace("{yield}", result.yieldUnit);
    return {
      width: theme.width,
      height: Math.round(theme.height * 0.6),
      layer,
      encoding: {
        x: {
          axis: {
            title: xTitle,
            values: [...new Set(sizes)].sort((a, b) => a - b),
            tickCount: sizes.length,
            format: "d",
          },
        },
        y: { axis: { title, minExtent: theme.font * 2.5 } },
      },
    };
  });
  const smallest = result.smallest === null ? null : result.points[result.smallest];
  const told =
    smallest === null
      ? `No design reaches ${figure(100 * result.enough, 0)} %.`
      : `Smallest design that reaches ${figure(100 * result.enough, 0)} %: ${smallest.plots} plots (${smallest.blocks} blocks, ${count(smallest.sites, "site")}, ${count(smallest.years, "year")}).`;
  return finishChart(
    theme,
    {
      title: options.title ?? "What a trial of this size would tell",
      notes: [
        `${told} ${result.simulations} simulated trials a design; upright lines: two standard errors of the simulation each way.`,
      ],
      alt: `${measures.map((measure) => words[measure]).join(" and ")} against ${size.title.toLowerCase()}, by simulation, widths in ${axis.unit}. ${result.points
        .slice(0, 16)
        .map((point) => pointWords(point, measures, size, series, axis.scale))
        .join("; ")}${result.points.length > 16 ? "; and more" : ""}. ${told}`,
    },
    views.length === 1 ? views[0] : { vconcat: views, spacing: theme.font },
  );
}

const titles: Readonly<Record<PowerMeasure, string>> = {
  bounded: "Optimum bounded, %",
  within: "Narrow enough, %",
  gain: "Gain shown, %",
  covered: "Range holds truth, %",
  width: "Width, {width}",
  regret: "Yield lost, {yield}",
};

const words: Readonly<Record<PowerMeasure, string>> = {
  bounded: "Chance that the optimum is bounded",
  within: "chance that its range is narrow enough",
  gain: "chance that the gain is shown",
  covered: "share of ranges that hold the truth",
  width: "mean width of the bounded ranges",
  regret: "yield lost by planting the trial's best rate",
};

function reading({ optimum }: PowerPoint, measure: PowerMeasure): Reading {
  const none = { value: null, error: null };
  return measure === "gain" ? (optimum.gain?.seen ?? none) : (optimum[measure] ?? none);
}

interface Size {
  readonly title: string;
  readonly of: (point: PowerPoint) => number;
}

const measuresOfSize: readonly Size[] = [
  { title: "Blocks, count", of: ({ blocks }) => blocks },
  { title: "Sites, count", of: ({ sites }) => sites },
  { title: "Years, count", of: ({ years }) => years },
  { title: "Densities, count", of: ({ densities }) => densities.length },
];

/** Of the ways in which the designs differ the one with most values; blocks when they do not differ. */
function sizeOf(points: readonly PowerPoint[]): Size {
  const values = measuresOfSize.map(({ of }) => new Set(points.map(of)).size);
  return measuresOfSize[values.indexOf(Math.max(...values))];
}

/** Designs that share everything but their size, with a name for what they share. */
function seriesOf(points: readonly PowerPoint[], size: Size) {
  const groups = new Map<string, PowerPoint[]>();
  const varies = (of: (point: PowerPoint) => string | number): boolean => new Set(points.map(of)).size > 1;
  const several = {
    densities: varies(({ densities }) => densities.join()),
    blocks: varies(({ blocks }) => blocks) && size.title !== "Blocks, count",
    sites: varies(({ sites }) => sites) && size.title !== "Sites, count",
    years: varies(({ years }) => years) && size.title !== "Years, count",
  };
  const sameLength = !varies(({ densities }) => densities.length);
  for (const point of points) {
    const { densities } = point;
    const set =
      size.title === "Densities, count"
        ? ""
        : sameLength
          ? `${densities[0]} to ${densities[densities.length - 1]}`
          : `${densities.length} densities`;
    const name = [
      several.densities ? set : "",
      several.blocks ? count(point.blocks, "block") : "",
      several.sites ? count(point.sites, "site") : "",
      several.years ? count(point.years, "year") : "",
    ]
      .filter((part) => part !== "")
      .join(", ");
    groups.set(name, [...(groups.get(name) ?? []), point]);
  }
  // Different sets may share a name (same ends, same length): the whole list tells them apart.
  return [...groups].map(([name, all]) => ({ name, points: [...all].sort((a, b) => size.of(a) - size.of(b)) }));
}

function count(n: number, word: string): string {
  return `${n} ${word}${n === 1 ? "" : "s"}`;
}

function pointWords(
  point: PowerPoint,
  measures: readonly PowerMeasure[],
  size: Size,
  series: ReturnType<typeof seriesOf>,
  scale: number,
): string {
  const name = series.length > 1 ? (series.find(({ points }) => points.includes(point))?.name ?? "") : "";
  const read = measures.map((measure) => {
    const { value } = reading(point, measure);
    if (value === null) return "unknown";
    return measure === "width"
      ? figure(value * scale, 1)
      : measure === "regret"
        ? figure(value, 2)
        : `${figure(100 * value, 0)} %`;
  });
  return `${count(size.of(point), size.title.split("s,")[0].toLowerCase())}${name === "" ? "" : ` (${name})`} ${read.join(", ")}`;
}
