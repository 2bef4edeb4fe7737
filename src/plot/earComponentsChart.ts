import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { literal, number, words } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { figure, nameText, short } from "./figureText.ts";
import type { Row, UnitView, View } from "./vegaLite.ts";

/** What the chart needs of the ear components of a hybrid; the result of `earComponents` fits. */
export interface EarComponentsView {
  readonly level: number;
  readonly hybrids: readonly {
    readonly hybrid: string;
    readonly flexScore: number | null;
    readonly parts: readonly {
      readonly component: string;
      readonly meaning: string;
      readonly points: number;
      /** Of the slope d ln(component) / d ln(density); -100 x it are points. */
      readonly jointInterval: Interval | null;
    }[];
  }[];
}

/** What `EarComponentsView` must look like. */
export const earComponentsViewShape: { readonly [property: string]: Shape } = { level: "number", hybrids: "list" };

const componentWords: Readonly<Record<string, string>> = {
  earsPerPlant: "Ears per plant",
  rowsPerEar: "Rows per ear",
  kernelsPerRow: "Kernels per row",
  kernelMass: "Kernel mass",
};

/**
 * Which part of the ear makes up for missing plants: points of the flex score that ears per plant, rows, kernels per row and kernel mass
 * carry, as bars from 0 with joint ranges. The bars of a hybrid add up to its flex score.
 *
 * @throws AnalysisError `not-estimable` when no hybrid has components
 * @example
 * const ears = [24, 28, 32].map((density) => ({ density, earsPerPlant: 1, rowsPerEar: 16, kernelsPerRow: 912 / density, kernelMass: 300 }));
 * earComponentsChart(earComponents(ears)).alt.includes("kernels per row"); // => true
 */
export function earComponentsChart(components: EarComponentsView, options: ChartOptions = {}): Chart {
  checkShape(components, "components", earComponentsViewShape);
  checkShape(options, "options", chartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const hybrids = components.hybrids.filter(({ parts }) => parts.length > 0);
  check(hybrids.length > 0, "not-estimable", "no hybrid has ear components that can be split");
  const range = (interval: Interval | null): readonly [number | null, number | null] =>
    interval === null
      ? [null, null]
      : [
          interval.upper === null ? null : -100 * interval.upper,
          interval.lower === null ? null : -100 * interval.lower,
        ];
  const all = hybrids.flatMap(({ parts }) =>
    parts.flatMap(({ points, jointInterval }) => [points, ...range(jointInterval).filter((end) => end !== null)]),
  );
  const most = Math.max(...all, 0);
  const least = Math.min(...all, 0);
  const domain = [short(least - (least < 0 ? (most - least) * 0.05 : 0)), short(most + (most - least) * 0.05)] as const;
  const names = hybrids[0].parts.map(({ component }) => componentWords[component] ?? component);
  const y = { field: "part", type: "nominal", sort: names } as const;
  const panel = ({ hybrid, flexScore, parts }: (typeof hybrids)[number], last: boolean): View => {
    const values: Row[] = parts.map(({ component, points, jointInterval }, i) => {
      const [from, to] = range(jointInterval);
      const told =
        jointInterval === null
          ? ""
          : ` (${from === null ? "open" : figure(from, 0)} to ${to === null ? "open" : figure(to, 0)})`;
      return {
        part: componentWords[component] ?? component,
        x: short(points),
        zero: 0,
        from: from === null ? domain[0] : short(from),
        to: to === null ? domain[1] : short(to),
        ranged: jointInterval !== null,
        color: theme.series[i % theme.series.length],
        text: `${figure(points, 0)}${told}`,
      };
    });
    const layer: UnitView[] = [
      {
        data: { values },
        mark: { type: "bar", height: Math.round(theme.font * 1.1), opacity: 0.75 },
        encoding: { x: { ...number("x", domain), stack: null }, x2: { field: "zero" }, y, color: literal("color") },
      },
      {
        data: { values: values.filter((row) => row["ranged"] === true) },
        mark: { type: "rule", color: theme.ink, strokeWidth: theme.stroke * 0.8 },
        encoding: { x: number("from", domain), x2: { field: "to" }, y },
      },
      {
        data: { values: [{ x: 0 }] },
        mark: { type: "rule", color: theme.muted },
        encoding: { x: number("x", domain) },
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
    return {
      width: Math.round(theme.width * 0.75),
      height: Math.round(theme.font * 1.8 * parts.length),
      title: {
        text: `${nameText(hybrid)}${flexScore === null ? "" : `: ${figure(flexScore, 0)} in all`}`,
        anchor: "start",
        fontSize: theme.font * 1.05,
        offset: 4,
      },
      layer: layer.filter(({ data }) => (data?.values.length ?? 0) > 0),
      encoding: {
        x: {
          axis: last
            ? { title: "Points of the flex score", grid: true }
            : { title: null, labels: false, ticks: false, grid: true },
        },
        y: {
          axis: { title: null, domain: false, ticks: false, labelPadding: theme.font, labelLimit: theme.font * 14 },
        },
      },
    };
  };
  const level = Math.round(1000 * components.level) / 10;
  return finishChart(
    theme,
    {
      title: options.title ?? "Which part of the ear makes up for missing plants",
      notes: [
        `Bars add up to the flex score of the log-log line; lines: ${level} % ranges, the four of a hybrid together. Below 0: the part shrinks the answer.`,
      ],
      alt: `Points of the flex score by ear component. ${hybrids
        .map(
          ({ hybrid, flexScore, parts }) =>
            `${nameText(hybrid)}${flexScore === null ? "" : ` (${figure(flexScore, 0)} in all)`}: ${parts.map(({ component, points }) => `${(componentWords[component] ?? component).toLowerCase()} ${figure(points, 0)}`).join(", ")}`,
        )
        .join(". ")}.`,
    },
    {
      vconcat: hybrids.map((hybrid, i) => panel(hybrid, i === hybrids.length - 1)),
      spacing: Math.round(theme.font * 1.2),
    },
  );
}
