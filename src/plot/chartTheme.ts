import { check } from "../core/errors.ts";
import type { Chart, ChartOptions } from "./chart.ts";
import { chartTextWidth, type MeasuredText } from "./textWidth.ts";
import { type Title, type View, vegaLiteSchema } from "./vegaLite.ts";

/** Colours, sizes and strokes of one chart. */
export interface ChartTheme {
  readonly size: "page" | "slide" | "small";
  readonly paper: string;
  readonly ink: string;
  readonly muted: string;
  readonly grid: string;
  /** Soft fill for bands and forbidden ranges. */
  readonly shade: string;
  /** What yields most, what pays best, what lodges: the same colours everywhere. */
  readonly agronomic: string;
  readonly economic: string;
  readonly lodging: string;
  readonly good: string;
  /** Colours of series, in order of use. */
  readonly series: readonly string[];
  readonly font: number;
  readonly width: number;
  readonly height: number;
  readonly stroke: number;
  /** Area of a point symbol. */
  readonly symbol: number;
}

/**
 * Colours by Okabe & Ito (2008), Color Universal Design: told apart with every common colour vision. Meaning never hangs on colour
 * alone: series have dashes, symbols and labels of their own.
 */
const okabeIto = {
  black: "#000000",
  orange: "#E69F00",
  sky: "#56B4E9",
  green: "#009E73",
  yellow: "#F0E442",
  blue: "#0072B2",
  vermilion: "#D55E00",
  purple: "#CC79A7",
} as const;

export const seriesDashes: readonly (readonly number[])[] = [
  [1, 0],
  [7, 3],
  [2, 2],
  [8, 3, 2, 3],
  [4, 2],
  [10, 4],
  [2, 4],
];
export const seriesShapes: readonly string[] = [
  "circle",
  "square",
  "triangle-up",
  "diamond",
  "cross",
  "triangle-down",
  "stroke",
];

/** Rings of single plots: pale enough to stay behind curves, 3 to 1 against the paper in both modes. */
export const ringOpacity = 0.8;

const light = {
  paper: "#ffffff",
  ink: "#1c2126",
  muted: "#59636e",
  grid: "#e4e8ec",
  shade: "#8a96a3",
  agronomic: okabeIto.blue,
  economic: okabeIto.vermilion,
  lodging: "#6b2d5c",
  good: okabeIto.green,
  series: [
    okabeIto.blue,
    okabeIto.vermilion,
    okabeIto.green,
    okabeIto.purple,
    okabeIto.orange,
    okabeIto.sky,
    okabeIto.black,
  ],
} as const;

const dark = {
  paper: "#14181d",
  ink: "#e9edf1",
  muted: "#a7b1bc",
  grid: "#2c343d",
  shade: "#8a96a3",
  agronomic: okabeIto.sky,
  economic: okabeIto.orange,
  lodging: okabeIto.purple,
  good: "#2fbf95",
  series: [okabeIto.sky, okabeIto.orange, "#2fbf95", okabeIto.purple, okabeIto.yellow, okabeIto.vermilion, "#ffffff"],
} as const;

const sizes = {
  page: { font: 11, width: 480, height: 280, stroke: 2, symbol: 36 },
  slide: { font: 19, width: 820, height: 430, stroke: 3.5, symbol: 110 },
  small: { font: 9, width: 190, height: 120, stroke: 1.6, symbol: 16 },
} as const;

export function chartTheme({ size = "page", mode = "light" }: ChartOptions): ChartTheme {
  check(size in sizes, "invalid-option", `size must be page, slide or small, got "${size}"`);
  check(mode === "light" || mode === "dark", "invalid-option", `mode must be light or dark, got "${mode}"`);
  return { size, ...(mode === "dark" ? dark : light), ...sizes[size] };
}

/** Dashes of the i-th series, longer for thicker lines. */
export function dashOf({ stroke }: ChartTheme, i: number): number[] {
  return seriesDashes[i % seriesDashes.length].map((length) => Math.round(length * Math.max(stroke / 2, 1)));
}

/** Puts a view, its words and its colours together. */
export function finishChart(
  theme: ChartTheme,
  { title, notes, alt }: { readonly title: string; readonly notes: readonly string[]; readonly alt: string },
  view: View,
): Chart {
  const { paper, ink, muted, grid, font, size } = theme;
  const heading: Title = {
    text: wrapLines(title, theme, { fontSize: Math.round(font * 1.25), fontWeight: 600 }),
    ...(size === "small" || notes.length === 0
      ? {}
      : { subtitle: notes.flatMap((note) => wrapLines(note, theme, { fontSize: font })) }),
    anchor: "start",
    frame: size === "small" ? "group" : "bounds",
  };
  return {
    alt,
    spec: {
      $schema: vegaLiteSchema,
      description: alt,
      background: paper,
      padding: size === "small" ? 4 : 8,
      title: heading,
      ...view,
      config: {
        font: "Helvetica, Arial, 'DejaVu Sans', sans-serif",
        view: { stroke: null },
        title: {
          color: ink,
          fontSize: Math.round(font * 1.25),
          fontWeight: 600,
          subtitleColor: muted,
          subtitleFontSize: font,
          subtitlePadding: Math.round(font * 0.4),
          subtitleLineHeight: Math.round(font * 1.35),
          offset: Math.round(font * 0.9),
        },
        axis: {
          labelColor: ink,
          labelFontSize: font,
          titleColor: ink,
          titleFontSize: font,
          titleFontWeight: "normal",
          titlePadding: Math.round(font * 0.7),
          gridColor: grid,
          gridWidth: 1,
          domainColor: muted,
          tickColor: muted,
          tickCount: size === "small" ? 4 : 7,
          labelFlush: false,
        },
        axisX: { grid: false },
        axisY: { domain: false, ticks: false, tickCount: size === "small" ? 3 : 6 },
        text: { fontSize: font, color: ink },
        legend: {
          labelColor: ink,
          titleColor: ink,
          labelFontSize: font,
          titleFontSize: font,
          titleFontWeight: "normal",
          symbolStrokeColor: ink,
        },
        header: { labelColor: ink, titleColor: ink, labelFontSize: font, titleFontSize: font },
      },
    } as Chart["spec"],
  };
}

/** Breaks a line so that it does not make the picture wider than its plot. */
function wrapLines(text: string, { width, size }: ChartTheme, letters: MeasuredText): string[] {
  const room = width * (size === "small" ? 1.15 : 1.45);
  const lines: string[] = [];
  let line = "";
  for (const word of text.split(" ")) {
    const longer = line === "" ? word : `${line} ${word}`;
    if (line !== "" && chartTextWidth(letters, longer) > room) {
      lines.push(line);
      line = word;
    } else line = longer;
  }
  return [...lines, line];
}
