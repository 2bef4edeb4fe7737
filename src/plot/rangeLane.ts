import type { Interval } from "../core/interval.ts";
import type { ChartTheme } from "./chartTheme.ts";
import { short } from "./figureText.ts";
import type { Row, UnitView } from "./vegaLite.ts";

/** One quantity on a horizontal lane: a point with its range; ends beyond the tested range are arrows. */
export interface RangeLane {
  readonly label: string;
  /** Null when the quantity does not exist. */
  readonly estimate: number | null;
  /** The estimate is an end of the tested range: "there or beyond". */
  readonly edge?: "lower" | "upper" | null;
  /** Parts of the range, ends null when open; empty without range. */
  readonly pieces: readonly { readonly lower: number | null; readonly upper: number | null }[];
  /** Written at the right. */
  readonly text: string;
  readonly color: string;
  readonly shape: string;
  /** A stated range of nearly equal results, drawn as a thick pale bar without a point. */
  readonly soft?: boolean;
}

/** Parts of an interval; none when it is empty. */
export function lanePieces(interval: Interval | null): RangeLane["pieces"] {
  if (interval === null) return [];
  const { lower, upper, lowerOpen, upperOpen } = interval;
  if (lower === null && upper === null && !lowerOpen && !upperOpen) return [];
  return interval.pieces ?? [{ lower, upper }];
}

/**
 * Marks of the lanes over a shared density axis.
 *
 * @param domain - ends of the axis, scaled, a little beyond the tested range: open ends run there and end in an arrow
 */
export function laneLayers(
  lanes: readonly RangeLane[],
  theme: ChartTheme,
  scale: number,
  domain: readonly [number, number],
  names: readonly string[] = lanes.map(({ label }) => label),
): UnitView[] {
  const { stroke, symbol, font, ink, paper } = theme;
  const x = { type: "quantitative", scale: { domain, zero: false, nice: false } } as const;
  const y = { field: "lane", type: "nominal", sort: names } as const;
  const segments = lanes.flatMap((lane) =>
    lane.pieces.map(({ lower, upper }) => ({
      lane: lane.label,
      from: lower === null ? domain[0] : short(lower * scale),
      to: upper === null ? domain[1] : short(upper * scale),
      color: lane.color,
      size: lane.soft ? stroke * 4.5 : stroke * 1.4,
      soft: lane.soft ? 0.45 : 1,
    })),
  );
  const arrows = lanes.flatMap((lane) =>
    lane.soft
      ? []
      : lane.pieces.flatMap(({ lower, upper }) => [
          ...(lower === null ? [{ lane: lane.label, at: domain[0], color: lane.color, shape: "triangle-left" }] : []),
          ...(upper === null ? [{ lane: lane.label, at: domain[1], color: lane.color, shape: "triangle-right" }] : []),
        ]),
  );
  const points = lanes.flatMap((lane) =>
    lane.estimate === null
      ? []
      : [
          {
            lane: lane.label,
            at: short(lane.estimate * scale),
            color: lane.color,
            shape: lane.shape,
            edge: lane.edge ?? "no",
          },
        ],
  );
  const color = (field: string) => ({ field, type: "nominal", scale: null, legend: null }) as const;
  const at = { field: "at", ...x, title: null } as const;
  const views: UnitView[] = [
    {
      data: { values: segments as Row[] },
      mark: { type: "rule", strokeCap: "butt" },
      encoding: {
        x: { field: "from", ...x },
        x2: { field: "to" },
        y,
        color: color("color"),
        size: { field: "size", type: "quantitative", scale: null, legend: null },
        opacity: { field: "soft", type: "quantitative", scale: null, legend: null },
      },
    },
    {
      data: { values: arrows },
      mark: { type: "point", filled: true, opacity: 1, size: symbol * 1.4 },
      encoding: { x: at, y, color: color("color"), shape: color("shape") },
    },
    {
      data: { values: points },
      mark: { type: "point", filled: true, opacity: 1, size: symbol * 2.2, stroke: paper, strokeWidth: 1 },
      encoding: { x: at, y, color: color("color"), shape: color("shape") },
    },
    {
      data: { values: lanes.map(({ label, text }) => ({ lane: label, text })) },
      mark: { type: "text", align: "left", dx: Math.round(font * 0.9), color: ink },
      encoding: {
        x: { datum: domain[1], ...x },
        y,
        text: { field: "text", type: "nominal" },
      },
    },
  ];
  return views.filter(({ data }) => (data?.values.length ?? 0) > 0);
}

/** "28.9 (26.4 to 30.6)", "43.5 or more", "not bounded". */
export function laneText(
  estimate: number | null,
  edge: "lower" | "upper" | null,
  pieces: RangeLane["pieces"],
  show: (value: number) => string,
): string {
  const end = edge === "lower" ? " or less" : edge === "upper" ? " or more" : "";
  const head = estimate === null ? "" : `${show(estimate)}${end}`;
  const parts = pieces.map(({ lower, upper }) =>
    lower === null
      ? upper === null
        ? "not bounded"
        : `${show(upper)} or less`
      : upper === null
        ? `${show(lower)} or more`
        : show(lower) === show(upper)
          ? show(lower)
          : `${show(lower)} to ${show(upper)}`,
  );
  if (parts.length === 0) return head;
  return head === "" ? parts.join(", or ") : `${head} (${parts.join(", or ")})`;
}
