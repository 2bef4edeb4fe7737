import type { LodgingReport } from "../analyze/standability.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { predictLodging } from "../standability/lodgedShare.ts";
import type { LodgingFit } from "../standability/lodgingFit.ts";
import type { StandabilityFlags, StandabilityState } from "../standability/standabilityFlags.ts";
import type { StandabilityLimit } from "../standability/standabilityLimit.ts";
import type { DensityUnit, Trial } from "../trial/trial.ts";
import { literal, number, words } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart, ringOpacity } from "./chartTheme.ts";
import { densityAxis } from "./densityAxis.ts";
import { figure, nameText, short } from "./figureText.ts";
import type { Row, UnitView } from "./vegaLite.ts";

export interface LodgingChartOptions extends ChartOptions {
  /** Unit and meaning of the densities; default thousand plants per acre, counted. */
  readonly densityUnit?: DensityUnit;
  readonly densityAxis?: Trial["densityAxis"];
  /** Name in the title. */
  readonly hybrid?: string;
  readonly flags?: StandabilityFlags;
  readonly limit?: StandabilityLimit;
}

/** What `LodgingChartOptions` must look like. */
export const lodgingChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  densityUnit: "text?",
  densityAxis: "text?",
  hybrid: "text?",
  flags: "standcurve/standability-flags/1?",
  limit: "standcurve/standability-limit/1?",
};

const stateWords: Readonly<Record<StandabilityState, string>> = {
  stands: "stands",
  "likely-stands": "likely stands",
  "likely-lodges": "likely lodges",
  lodges: "lodges",
};

/**
 * Lodged share against density: plots, the fitted curve, the share of each tested density with its range and verdict, the tolerated share and
 * the standability limit.
 *
 * @param source - from `fitLodging`, with each plot drawn; or one of the lodging reports of an analysis, with each density drawn
 * @throws AnalysisError `not-estimable` when a report holds no shares
 * @example
 * const fit = fitLodging({ density: [20, 25, 30, 35, 40], lodged: [1, 2, 6, 20, 45], examined: [100, 100, 100, 100, 100] });
 * lodgingChart(fit, { hybrid: "Amber 12", flags: standabilityFlags(fit) }).alt.includes("lodged share"); // => true
 */
export function lodgingChart(source: LodgingFit | LodgingReport, options: LodgingChartOptions = {}): Chart {
  checkShape(source, "source", { fit: "object?", data: "object?" });
  if (!("data" in source && source.data !== undefined))
    checkShape(source, "source", { fit: "object", flags: "object", limit: "object" });
  checkShape(options, "options", lodgingChartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const { densityUnit = "1000 plants/ac" } = options;
  const whole = "data" in source ? null : source;
  const flags = options.flags ?? whole?.flags;
  const limit = options.limit ?? whole?.limit;
  const { status } = "data" in source ? source : source.fit;
  const { density, share } = "data" in source ? plotShares(source) : densityShares(source);
  check(density.length > 0, "not-estimable", "there are no lodging counts to draw");
  const low = Math.min(...density);
  const high = Math.max(...density);
  const axis = densityAxis({ densityUnit, densityAxis: options.densityAxis ?? "mean-stand" }, high);
  const { grid, curve } = "data" in source ? fittedShares(source, low, high) : flaggedShares(source);
  const rows = flags?.flags ?? [];
  const tolerated = limit?.tolerated ?? flags?.tolerated ?? null;
  const most = Math.max(
    ...share,
    ...curve,
    ...rows.map(({ interval }) => interval.upper ?? 1),
    (tolerated ?? 0) * 1.3,
    0.02,
  );
  const span = high - low || 1;
  const xDomain = [short((low - span * 0.05) * axis.scale), short((high + span * 0.05) * axis.scale)] as const;
  const yDomain = [0, short(Math.min(most * 1.08, 1))] as const;
  const x = number("x", xDomain);
  const y = number("y", yDomain);
  const layer: UnitView[] = [];
  if (limit?.kind === "interior" && limit.density !== null) {
    const at = short(limit.density * axis.scale);
    const ends = limit.interval;
    layer.push({
      data: {
        values: [
          {
            x: ends?.lower == null ? xDomain[0] : short(ends.lower * axis.scale),
            to: ends?.upper == null ? xDomain[1] : short(ends.upper * axis.scale),
          },
        ],
      },
      mark: { type: "rect", color: theme.lodging, opacity: 0.13 },
      encoding: { x, x2: { field: "to" } },
    });
    layer.push({
      data: { values: [{ x: at }] },
      mark: { type: "rule", color: theme.lodging, strokeDash: [6, 3], strokeWidth: theme.stroke * 0.8 },
      encoding: { x },
    });
  }
  if (tolerated !== null) {
    layer.push({
      data: { values: [{ y: tolerated }] },
      mark: { type: "rule", color: theme.ink, strokeDash: [3, 3] },
      encoding: { y },
    });
    layer.push({
      data: { values: [{ x: xDomain[0], y: tolerated, text: `${percent(tolerated)} tolerated` }] },
      mark: { type: "text", align: "left", baseline: "bottom", dx: 4, dy: -3, color: theme.muted },
      encoding: { x, y, text: words },
    });
  }
  layer.push({
    data: { values: density.map((d, i) => ({ x: short(d * axis.scale), y: short(share[i]) })) },
    mark: {
      type: "point",
      filled: false,
      color: theme.muted,
      opacity: ringOpacity,
      size: theme.symbol * 0.6,
      strokeWidth: theme.stroke / 2,
    },
    encoding: { x, y },
  });
  if (curve.length > 0) {
    layer.push({
      data: { values: grid.map((d, i) => ({ x: short(d * axis.scale), y: short(curve[i]) })) },
      mark: { type: "line", interpolate: "monotone", color: theme.ink, strokeWidth: theme.stroke },
      encoding: { x, y },
    });
  }
  const colors: Readonly<Record<StandabilityState, string>> = {
    stands: theme.good,
    "likely-stands": theme.good,
    "likely-lodges": theme.economic,
    lodges: theme.economic,
  };
  const shapes: Readonly<Record<StandabilityState, string>> = {
    stands: "circle",
    "likely-stands": "diamond",
    "likely-lodges": "triangle-up",
    lodges: "square",
  };
  const marks: Row[] = rows.map((flag) => ({
    x: short(flag.density * axis.scale),
    y: short(flag.share),
    from: short(flag.interval.lower ?? 0),
    to: short(Math.min(flag.interval.upper ?? 1, yDomain[1])),
    color: colors[flag.state],
    shape: shapes[flag.state],
  }));
  layer.push(
    {
      data: { values: marks },
      mark: { type: "rule", strokeWidth: theme.stroke },
      encoding: { x, y: number("from", yDomain), y2: { field: "to" }, color: literal("color") },
    },
    {
      data: { values: marks },
      mark: { type: "point", filled: true, opacity: 1, size: theme.symbol * 2, stroke: theme.paper, strokeWidth: 1 },
      encoding: { x, y, color: literal("color"), shape: literal("shape") },
    },
  );
  const seen = [...new Set(rows.map(({ state }) => state))];
  const signs: Readonly<Record<StandabilityState, string>> = {
    stands: "●",
    "likely-stands": "◆",
    "likely-lodges": "▲",
    lodges: "■",
  };
  const name = options.hybrid === undefined ? "" : `${nameText(options.hybrid)}: `;
  const verdict = limitWords(limit, axis.text, axis.unit);
  const notes = [
    ...(verdict === null ? [] : [verdict]),
    `Line: fitted share, rings: ${whole === null ? "plots" : "shares counted"}${seen.length > 0 ? `; ${seen.map((state) => `${signs[state]} ${stateWords[state]}`).join(", ")}` : ""}.`,
  ];
  const told = rows.map((flag) => `${percent(flag.share)} at ${axis.text(flag.density)} (${stateWords[flag.state]})`);
  const ends =
    curve.length > 0
      ? ` The fitted share goes from ${percent(curve[0])} at ${axis.text(low)} to ${percent(curve[curve.length - 1])} at ${axis.text(high)} ${axis.unit}.`
      : ` No curve could be fitted (${status}).`;
  return finishChart(
    theme,
    {
      title: options.title ?? `${name}${name === "" ? "Lodged" : "lodged"} plants against ${axis.place}`,
      notes: theme.size === "small" ? [] : notes,
      alt: `${name}lodged share against ${axis.place}.${ends}${verdict === null ? "" : ` ${verdict}`}${told.length > 0 ? ` Tested densities: ${told.slice(0, 20).join(", ")}.` : ""}`,
    },
    {
      width: theme.width,
      height: theme.height,
      layer: layer.filter(({ data }) => (data?.values.length ?? 0) > 0),
      encoding: {
        x: { axis: { title: axis.title } },
        y: { axis: { title: "Lodged plants", format: "%" } },
      },
    },
  );
}

function percent(share: number): string {
  const value = 100 * share;
  return `${figure(value, value > 0 && value < 9.95 ? 1 : 0).replace(/\.0$/, "")} %`;
}

function limitWords(limit: StandabilityLimit | undefined, text: (x: number) => string, unit: string): string | null {
  if (limit === undefined) return null;
  const share = percent(limit.tolerated);
  if (limit.kind === "above-range") return `Even the highest tested density stays within ${share}.`;
  if (limit.kind === "below-range") return `Even the lowest tested density lodges more than ${share}.`;
  if (limit.kind === "none" || limit.density === null) return limit.reason;
  const ends = limit.interval;
  const range =
    ends === null
      ? ""
      : ends.lower === null
        ? ends.upper === null
          ? "; its range is not bounded"
          : `, at most ${text(ends.upper)}`
        : ends.upper === null
          ? `, at least ${text(ends.lower)}`
          : `, range ${text(ends.lower)} to ${text(ends.upper)}`;
  return `${share} lodge at ${text(limit.density)} ${unit}${range}.`;
}

interface Shares {
  readonly density: readonly number[];
  readonly share: readonly number[];
}

function plotShares({ data: { density, lodged, examined } }: LodgingFit): Shares {
  return { density, share: lodged.map((count, i) => (examined === null ? count : count / examined[i])) };
}

function densityShares({ flags: { flags } }: LodgingReport): Shares {
  return {
    density: flags.map(({ density }) => density),
    share: flags.map(({ lodged, examined }) => (examined === null ? lodged : lodged / examined)),
  };
}

function fittedShares(
  fit: LodgingFit,
  low: number,
  high: number,
): { readonly grid: readonly number[]; readonly curve: readonly number[] } {
  if (fit.working === null && fit.status !== "none-lodged" && fit.status !== "all-lodged")
    return { grid: [], curve: [] };
  const grid = Array.from({ length: 61 }, (_, i) => low + ((high - low) * i) / 60);
  return { grid, curve: predictLodging(fit, grid) };
}

function flaggedShares({ flags: { flags } }: LodgingReport): {
  readonly grid: readonly number[];
  readonly curve: readonly number[];
} {
  return { grid: flags.map(({ density }) => density), curve: flags.map(({ share }) => share) };
}
