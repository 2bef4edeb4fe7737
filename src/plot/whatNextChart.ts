import { checkShape } from "../core/checkShape.ts";
import type { Addition, WhatNext } from "../plan/whatNext.ts";
import { number, padded, words } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { type ChartTheme, chartTheme, finishChart } from "./chartTheme.ts";
import { densityAxis } from "./densityAxis.ts";
import { figure, nameText, short } from "./figureText.ts";
import type { LayerView, Row } from "./vegaLite.ts";

/**
 * What one addition to a finished trial would buy: the chance that the optimum is then bounded, and the yield that a better choice of
 * rate saves, with two standard errors of the simulation each way.
 *
 * @param next - from `whatNext`
 * @example
 * const next = whatNext(analysis, { hybrid: "Amber 12", blocks: [4], sites: [], densities: [], simulations: 20 });
 * whatNextChart(next).alt.startsWith("Amber 12"); // => true
 */
export function whatNextChart(next: WhatNext, options: ChartOptions = {}): Chart {
  checkShape(next, "next", "standcurve/what-next/1");
  checkShape(options, "options", chartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const axis = densityAxis(
    { densityUnit: next.densityUnit, densityAxis: "mean-stand" },
    Math.max(...next.now.densities, ...next.additions.map(({ density }) => density ?? 0)),
  );
  const rows = next.additions.map((addition, i) => ({
    addition,
    lane: `${addition.label} (${addition.plots} plots)`,
    chosen: i === next.recommended,
  }));
  const lanes = rows.map(({ lane }) => lane);
  const percent = rows.flatMap(({ lane, addition: { bounded }, chosen }) =>
    bounded.value === null
      ? []
      : [
          point(
            lane,
            100 * bounded.value,
            100 * (bounded.error ?? 0),
            chosen,
            [0, 100],
            `${figure(100 * bounded.value, 0)} %`,
          ),
        ],
  );
  const decimals = 2;
  const saved = rows.flatMap(({ lane, addition: { saved: one }, chosen }) =>
    one.value === null ? [] : [point(lane, one.value, one.error ?? 0, chosen, null, figure(one.value, decimals))],
  );
  const now = next.now.bounded
    ? `bounded now: ${next.now.lower === null ? "" : axis.text(next.now.lower)} to ${next.now.upper === null ? "" : axis.text(next.now.upper)} ${axis.unit}`
    : "not bounded now";
  const best =
    next.recommended === null
      ? "None stands out of the simulation's error."
      : `Buys most: ${next.additions[next.recommended].label} (filled).`;
  const [least, most] = padded([0, ...saved.flatMap((row) => [row.from, row.to])], 0.05);
  // Room for the figures at the right ends.
  const savedDomain = [least, short(most + 0.2 * (most - least))] as const;
  return finishChart(
    theme,
    {
      title: options.title ?? `${nameText(next.hybrid)}: what one addition would buy`,
      notes: [
        `The optimum is ${now}. ${best} Lines: two standard errors of ${next.simulations} simulated outcomes each way.`,
      ],
      alt: `${nameText(next.hybrid)}: chance of a bounded optimum and yield saved (${next.yieldUnit}) by one addition to a trial of ${next.now.plots} plots; ${now}. ${rows.map(({ addition }) => rowWords(addition, decimals)).join("; ")}. ${best}`,
    },
    {
      hconcat: [
        view(percent, theme, lanes, [0, 120], "Optimum bounded, %", theme.width * 0.36, true),
        view(saved, theme, lanes, savedDomain, `Yield saved, ${next.yieldUnit}`, theme.width * 0.36, false),
      ],
      spacing: Math.round(theme.font * 1.5),
    },
  );
}

function point(
  lane: string,
  value: number,
  error: number,
  chosen: boolean,
  ends: readonly [number, number] | null,
  text: string,
) {
  const [from, to] = [value - 2 * error, value + 2 * error];
  return {
    lane,
    x: short(value),
    from: short(ends === null ? from : Math.max(from, ends[0])),
    to: short(ends === null ? to : Math.min(to, ends[1])),
    text,
    chosen,
  };
}

function view(
  rows: readonly ReturnType<typeof point>[],
  theme: ChartTheme,
  lanes: readonly string[],
  domain: readonly [number, number],
  title: string,
  width: number,
  named: boolean,
): LayerView {
  const x = number("x", domain);
  const y = { field: "lane", type: "nominal", sort: lanes } as const;
  const color = theme.series[0];
  const dots = (chosen: boolean) => rows.filter((row) => row.chosen === chosen) as readonly Row[];
  const mark = { type: "point", shape: "circle", opacity: 1, size: theme.symbol * 2, stroke: color } as const;
  return {
    width: Math.round(width),
    height: Math.round(theme.font * 2 * lanes.length),
    layer: [
      {
        data: { values: rows },
        mark: { type: "rule", color, strokeWidth: theme.stroke },
        encoding: { x: number("from", domain), x2: { field: "to" }, y },
      },
      {
        data: { values: dots(false) },
        mark: { ...mark, filled: true, fill: theme.paper, strokeWidth: 1.5 },
        encoding: { x, y },
      },
      {
        data: { values: dots(true) },
        mark: { ...mark, filled: true, fill: color, size: theme.symbol * 3 },
        encoding: { x, y },
      },
      {
        data: { values: rows },
        mark: { type: "text", align: "left", dx: Math.round(theme.font * 0.7) },
        encoding: { x: number("to", domain), y, text: words },
      },
    ].filter(({ data }) => data.values.length > 0) as LayerView["layer"],
    encoding: {
      x: { axis: { title, grid: true, ...(named ? { values: [0, 25, 50, 75, 100] } : { tickCount: 3 }) } },
      y: {
        axis: named
          ? {
              title: null,
              domain: false,
              ticks: false,
              grid: true,
              labelPadding: theme.font,
              labelLimit: theme.font * 36,
            }
          : { title: null, domain: false, ticks: false, grid: true, labels: false },
      },
    },
  };
}

function rowWords({ label, bounded, saved }: Addition, decimals: number): string {
  const chance = bounded.value === null ? "unknown" : `${figure(100 * bounded.value, 0)} %`;
  return `${label}: ${chance}, ${saved.value === null ? "unknown" : figure(saved.value, decimals)}`;
}
