import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { BootstrapResult } from "../interval/bootstrap.ts";
import type { DensityUnit, Trial } from "../trial/trial.ts";
import { literal, number, words } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { densityAxis } from "./densityAxis.ts";
import { figure, nameText, short } from "./figureText.ts";
import { laneText } from "./rangeLane.ts";
import { chartTextWidth } from "./textWidth.ts";
import type { Row, UnitView } from "./vegaLite.ts";

export interface BootstrapChartOptions extends ChartOptions {
  /** Default `agronomic`. */
  readonly quantity?: "agronomic" | "economic" | "flexScore";
  readonly densityUnit?: DensityUnit;
  readonly densityAxis?: Trial["densityAxis"];
  readonly hybrid?: string;
  /** Ends of the tested range; needed for densities, so that replicates at the ends can be told from those inside. */
  readonly range?: readonly [number, number];
}

/** What `BootstrapChartOptions` must look like. */
export const bootstrapChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  quantity: "text?",
  densityUnit: "text?",
  densityAxis: "text?",
  hybrid: "text?",
  range: "numbers?",
};

const BINS = 30;

/**
 * Distribution of one quantity over the bootstrap replicates. Replicates at an end of the tested range stand apart as bars of their own,
 * with their share: "there or beyond", never a value. The percentile range lies beneath.
 *
 * @param result - from `bootstrapCurves` with `keep: true`
 * @throws AnalysisError `invalid-option` when the replicates were not kept, the quantity was not resampled or the range is missing
 * @example
 * const data = { density: [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43], yield: [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192] };
 * const boot = bootstrapCurves(data, { resamples: 100, keep: true });
 * bootstrapChart(boot, { range: [18, 43] }).alt.includes("95 % range"); // => true
 */
export function bootstrapChart(result: BootstrapResult, options: BootstrapChartOptions = {}): Chart {
  checkShape(result, "result", "standcurve/bootstrap/1");
  checkShape(options, "options", bootstrapChartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const { quantity = "agronomic" } = options;
  const values = result.replicates?.[quantity] ?? null;
  const summary = result[quantity];
  check(
    values !== null && summary !== null,
    "invalid-option",
    `there are no replicates of ${quantity}: keep: true and its options are needed`,
  );
  const density = quantity !== "flexScore";
  check(
    !density || options.range !== undefined,
    "invalid-option",
    "range is needed: the lowest and highest tested density",
  );
  const [low, high] = options.range ?? [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];
  const inside = values.filter(
    (value): value is number => value !== null && (!density || (value > low && value < high)),
  );
  const axis = densityAxis(
    { densityUnit: options.densityUnit ?? "1000 plants/ac", densityAxis: options.densityAxis ?? "mean-stand" },
    density ? high : 100,
  );
  const scale = density ? axis.scale : 1;
  const ends = density
    ? ([low, high] as const)
    : ([
        inside.reduce((a, b) => Math.min(a, b), Number.POSITIVE_INFINITY),
        inside.reduce((a, b) => Math.max(a, b), Number.NEGATIVE_INFINITY),
      ] as const);
  check(Number.isFinite(ends[0] + ends[1]) && ends[1] > ends[0], "not-estimable", "there are no replicates to draw");
  const step = (ends[1] - ends[0]) / BINS;
  const counts = new Array<number>(BINS).fill(0);
  for (const value of inside) counts[Math.min(Math.max(Math.floor((value - ends[0]) / step), 0), BINS - 1)] += 1;
  const total = values.length;
  const bars: Row[] = counts.flatMap((count, i) =>
    count === 0
      ? []
      : [
          {
            x: short((ends[0] + i * step) * scale),
            to: short((ends[0] + (i + 1) * step) * scale),
            y: short(count / total),
            zero: 0,
            color: theme.agronomic,
          },
        ],
  );
  const { lowerEdge, upperEdge, missing } = summary.count;
  const share = (count: number): string =>
    `${count > 0 && count / total < 0.01 ? "< 1" : Math.round((100 * count) / total)} %`;
  const beside = (side: string): string => (theme.size === "small" ? "" : ` at or ${side}`);
  const edges = density
    ? [
        {
          count: lowerEdge,
          from: ends[0] - 2.6 * step,
          to: ends[0] - 0.8 * step,
          text: `${share(lowerEdge)}${beside("below")}`,
        },
        {
          count: upperEdge,
          from: ends[1] + 0.8 * step,
          to: ends[1] + 2.6 * step,
          text: `${share(upperEdge)}${beside("above")}`,
        },
      ].filter(({ count }) => count > 0)
    : [];
  const tallest = Math.max(...bars.map((bar) => bar["y"] as number), ...edges.map(({ count }) => count / total), 0);
  const yDomain = [0, short(tallest * 1.22 || 1)] as const;
  const xDomain = [short((ends[0] - 3.4 * step) * scale), short((ends[1] + 3.4 * step) * scale)] as const;
  const x = number("x", xDomain);
  const y = number("y", yDomain);
  const edgeRows: Row[] = edges.map(({ count, from, to, text }) => {
    const left = from < ends[0];
    // The label stands above every bar that it reaches over.
    const reach = (chartTextWidth({ fontSize: theme.font }, text) / theme.width) * (xDomain[1] - xDomain[0]);
    const [first, last] = left ? [from * scale, from * scale + reach] : [to * scale - reach, to * scale];
    const under = bars.filter((one) => (one["to"] as number) > first && (one["x"] as number) < last);
    return {
      x: short(from * scale),
      to: short(to * scale),
      y: short(count / total),
      zero: 0,
      text,
      above: short(Math.max(count / total, ...under.map((one) => one["y"] as number))),
      left,
    };
  });
  const bar = { x2: { field: "to" }, y, y2: { field: "zero" } } as const;
  const { interval, median } = summary;
  const range = [
    {
      x: interval.lower === null ? xDomain[0] : short(interval.lower * scale),
      to: interval.upper === null ? xDomain[1] : short(interval.upper * scale),
      y: 0,
    },
  ];
  const layer: UnitView[] = [
    {
      data: { values: bars },
      mark: { type: "rect", stroke: theme.paper, strokeWidth: 1 },
      encoding: { x, ...bar, color: literal("color") },
    },
    {
      data: { values: edgeRows },
      mark: { type: "rect", color: theme.paper, stroke: theme.economic, strokeWidth: theme.stroke, strokeDash: [4, 2] },
      encoding: { x, ...bar },
    },
    ...(["left", "right"] as const).map(
      (align): UnitView => ({
        data: { values: edgeRows.filter((row) => row["left"] === (align === "left")) },
        mark: { type: "text", align, baseline: "bottom", dy: -5, color: theme.ink },
        encoding: { x: number(align === "left" ? "x" : "to", xDomain), y: number("above", yDomain), text: words },
      }),
    ),
    {
      data: { values: range },
      mark: { type: "rule", color: theme.ink, strokeWidth: theme.stroke * 2.2 },
      encoding: { x, x2: { field: "to" }, y },
    },
    {
      data: { values: median === null ? [] : [{ x: short(median * scale), y: 0 }] },
      mark: {
        type: "point",
        filled: true,
        opacity: 1,
        shape: "diamond",
        color: theme.ink,
        size: theme.symbol * 2.4,
        stroke: theme.paper,
        strokeWidth: 1,
      },
      encoding: { x, y },
    },
  ];
  const text = (value: number | null): string =>
    value === null ? "open" : density ? axis.text(value) : figure(value, 0);
  const what =
    quantity === "flexScore"
      ? "flex score"
      : quantity === "economic"
        ? `best-paying ${axis.place}`
        : `highest-yielding ${axis.place}`;
  const name = options.hybrid === undefined ? "" : `${nameText(options.hybrid)}: `;
  const level = Math.round(1000 * interval.level) / 10;
  const none = missing === 0 ? "" : ` ${share(missing)} do not respond to density and are not drawn.`;
  const unit = density ? ` ${axis.unit}` : "";
  const span = laneText(null, null, [interval], text);
  const middle = median === null ? "at an end" : text(median);
  const said = `${level} % range ${span}${unit}, median ${middle}.`;
  return finishChart(
    theme,
    {
      title: options.title ?? `${name}${what} over ${figure(total, 0)} resamples`,
      notes: [
        `Bar at the base: ${said} The curve is chosen anew in each resample.${none}${edges.length > 0 ? " Dashed boxes: at or beyond an end of the tested range." : ""}`,
      ],
      alt: `${name}distribution of the ${what} over ${total} resamples. ${said} Inside the tested range ${share(summary.count.inside)}${density ? `, at or below the lowest density ${share(lowerEdge)}, at or above the highest ${share(upperEdge)}` : ""}.${none}`,
    },
    {
      width: theme.width,
      height: Math.round(theme.height * 0.8),
      layer: layer.filter(({ data }) => (data?.values.length ?? 0) > 0),
      encoding: {
        x: { axis: { title: density ? axis.title : "Flex score" } },
        y: { axis: { title: "Share of resamples", format: "%" } },
      },
    },
  );
}
