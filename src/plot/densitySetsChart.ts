import { checkShape } from "../core/checkShape.ts";
import type { DensityChoice, JudgedDensities } from "../plan/chooseDensities.ts";
import { number, words } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { densityAxis } from "./densityAxis.ts";
import { figure, short } from "./figureText.ts";
import type { Row, UnitView } from "./vegaLite.ts";

/**
 * Sets of densities compared: a row for each with its densities as marks and the chance that the optimum is bounded, over the range
 * where the optimum is thought to lie.
 *
 * @param choice - from `chooseDensities`
 * @example
 * const prior = { optimum: [30, 36], lossBelow: { distance: 10, loss: 8 }, bestYield: 200 };
 * const steps = { from: 16, to: 46, step: 6 };
 * densitySetsChart(chooseDensities({ prior, steps, count: 4, sigma: 5, simulations: 100 })).alt.includes("Recommended"); // => true
 */
export function densitySetsChart(choice: DensityChoice, options: ChartOptions = {}): Chart {
  checkShape(choice, "choice", "standcurve/density-choice/1");
  checkShape(options, "options", chartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const sets = setsOf(choice);
  const all = sets.flatMap(({ set }) => set.densities);
  const axis = densityAxis({ densityUnit: choice.densityUnit, densityAxis: "mean-stand" }, Math.max(...all));
  const [low, high] = [Math.min(...all) * axis.scale, Math.max(...all) * axis.scale];
  const pad = (high - low) * 0.05;
  const domain = [short(low - pad), short(high + pad)] as const;
  const x = number("x", domain);
  const lanes = sets.map(({ name }) => name);
  const y = { field: "lane", type: "nominal", sort: lanes } as const;
  const chance = ({ bounded }: JudgedDensities): string => {
    if (bounded.value === null) return "unknown";
    const either = 200 * (bounded.error ?? 0);
    return `${figure(100 * bounded.value, 0)} % ± ${figure(either, either < 1 ? 1 : 0)}`;
  };
  const values: Row[] = sets.flatMap(({ name, set }, i) =>
    set.densities.map((density) => ({
      lane: name,
      x: short(density * axis.scale),
      color: i === 0 ? theme.series[0] : theme.muted,
      shape: i === 0 ? "circle" : "square",
    })),
  );
  const { optimum } = choice.prior;
  const layer: UnitView[] = [
    ...(optimum === null
      ? []
      : [
          {
            data: {
              values: [
                {
                  x: short(Math.max(optimum[0] * axis.scale, domain[0])),
                  to: short(Math.min(optimum[1] * axis.scale, domain[1])),
                },
              ],
            },
            mark: { type: "rect", color: theme.economic, opacity: 0.18 },
            encoding: { x, x2: { field: "to" } },
          } satisfies UnitView,
        ]),
    {
      data: { values },
      mark: { type: "point", filled: true, opacity: 1, size: theme.symbol * 2 },
      encoding: {
        x,
        y,
        color: { field: "color", type: "nominal", scale: null, legend: null },
        shape: { field: "shape", type: "nominal", scale: null, legend: null },
      },
    },
    {
      data: { values: sets.map(({ name, set }) => ({ lane: name, text: chance(set) })) },
      mark: { type: "text", align: "left", dx: Math.round(theme.font * 0.9) },
      encoding: {
        x: { datum: domain[1], type: "quantitative", scale: { domain, zero: false, nice: false } },
        y,
        text: words,
      },
    },
  ];
  const level = figure(100 * choice.level, 0);
  const thought =
    optimum === null
      ? ""
      : ` Shaded: optimum thought to lie from ${axis.text(optimum[0])} to ${axis.text(optimum[1])}.`;
  return finishChart(
    theme,
    {
      title: options.title ?? "Densities compared",
      notes: [
        `At the right: chance that the ${level} % range of the optimum is bounded, give or take two standard errors of the simulation.${thought}`,
      ],
      alt: `Sets of densities compared, in ${axis.unit}, by the chance that the optimum is bounded with ${choice.blocks} blocks. ${sets
        .map(({ name, set }) => `${name}: ${set.densities.map(axis.text).join(", ")} (${chance(set)})`)
        .join("; ")}.${thought}`,
    },
    {
      width: Math.round(theme.width * 0.9),
      height: Math.round(theme.font * 2 * lanes.length),
      layer,
      encoding: {
        x: { axis: { title: axis.title.replace("Stand", "Density"), grid: true } },
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

/** The sets that differ, each under the first of its names. */
function setsOf({ recommended, best, even, compared }: DensityChoice) {
  const named: readonly (readonly [string, JudgedDensities])[] = [
    ["Recommended", recommended],
    ["Best to bound it", best.bounded],
    ["Best for precision", best.precision],
    ["Best to tell curves", best.discrimination],
    ["Evenly spread", even],
    ...compared.map((set, i) => [compared.length === 1 ? "Yours" : `Yours ${i + 1}`, set] as const),
  ];
  const seen = new Map<string, { name: string; set: JudgedDensities }>();
  for (const [name, set] of named) {
    const key = set.densities.join();
    const known = seen.get(key);
    if (known === undefined) seen.set(key, { name, set });
    else if (name.startsWith("Yours")) seen.set(key, { name: `${known.name}, ${name.toLowerCase()}`, set });
  }
  return [...seen.values()];
}
