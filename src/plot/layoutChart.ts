import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { LayoutPlan, PlanPlot } from "../plan/layoutPlan.ts";
import { literal } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { densityAxis } from "./densityAxis.ts";
import { nameText } from "./figureText.ts";
import { inkOn, tint } from "./tint.ts";
import type { Row } from "./vegaLite.ts";

export interface LayoutChartOptions extends ChartOptions {
  /** Needed when the plan has several. */
  readonly environment?: string;
}

/** What `LayoutChartOptions` must look like. */
export const layoutChartOptionsShape: { readonly [property: string]: Shape } = {
  ...chartOptionsShape,
  environment: "text?",
};

/**
 * A plan as seen when driving up the field: each plot with the letter of its hybrid and its rate, darker for more seeds; heavier
 * lines around blocks. Row 1 is at the bottom, column 1 on the left.
 *
 * @param plan - from `layoutTrial`
 * @throws AnalysisError `invalid-option` for an unknown environment, or none where the plan has several
 * @example
 * const plan = layoutTrial({ hybrids: ["Amber 12"], rates: [18, 26, 34], densityUnit: "1000 plants/ac", blocks: 4 });
 * layoutChart(plan).alt.includes("4 blocks"); // => true
 */
export function layoutChart(plan: LayoutPlan, options: LayoutChartOptions = {}): Chart {
  checkShape(plan, "plan", "standcurve/layout-plan/1");
  checkShape(options, "options", layoutChartOptionsShape, "invalid-option");
  const theme = chartTheme(options);
  const several = plan.environments.length > 1;
  const { environment } = options;
  check(
    !several || (environment !== undefined && plan.environments.includes(environment)),
    "invalid-option",
    `environment must be one of ${plan.environments.join(", ")}, got ${environment}`,
  );
  const plots = several ? plan.plots.filter((plot) => plot.environment === environment) : plan.plots;
  const axis = densityAxis({ densityUnit: plan.densityUnit, densityAxis: "seeding-rate" }, Math.max(...plan.rates));
  const [low, high] = [Math.min(...plan.rates), Math.max(...plan.rates)];
  const letters = new Map(plan.hybrids.map((hybrid, i) => [hybrid, plan.hybrids.length > 1 ? `${letter(i)} ` : ""]));
  const values = plots.map((plot): Row => {
    const { seedingRate: rate, hybrid } = plot;
    const share = rate === null ? 0 : high > low ? (rate - low) / (high - low) : 0.5;
    const color = rate === null || hybrid === null ? theme.paper : tint([0, 90, 156], 0.12 + 0.8 * share, theme.paper);
    return {
      column: plot.column,
      row: plot.row,
      color,
      ink: rate === null ? theme.muted : inkOn(color),
      text: rate === null || hybrid === null ? "" : `${letters.get(hybrid)}${trimmed(axis.text(rate))}`,
    };
  });
  const longest = Math.max(...values.map(({ text }) => String(text).length));
  const cell = Math.max(Math.min(theme.width / plan.columns, theme.font * 4.5), theme.font * (0.75 * longest + 0.6));
  const high1 = Math.round(Math.max(Math.min(cell * 0.75, theme.font * 2.6), theme.font * 1.7));
  const band = (field: string) => ({ field, type: "quantitative" as const });
  const domainX = [0.5, plan.columns + 0.5] as const;
  const domainY = [0.5, plan.rows + 0.5] as const;
  const x = { ...band("x"), scale: { domain: domainX, zero: false, nice: false } };
  const y = { ...band("y"), scale: { domain: domainY, zero: false, nice: false } };
  const boxes = values.map((row) => ({
    ...row,
    x: Number(row["column"]) - 0.5,
    to: Number(row["column"]) + 0.5,
    y: Number(row["row"]) - 0.5,
    top: Number(row["row"]) + 0.5,
    mx: Number(row["column"]),
    my: Number(row["row"]),
  }));
  const key =
    plan.hybrids.length > 1
      ? ` ${plan.hybrids.map((hybrid, i) => `${letter(i)}: ${nameText(hybrid, 24)}`).join(", ")}.`
      : ` Hybrid: ${nameText(plan.hybrids[0] ?? "", 24)}.`;
  const where = several || environment !== undefined ? `${nameText(String(environment))}: ` : "";
  const blocks = new Set(plots.map(({ block }) => block).filter((block) => block > 0)).size;
  const borders = plots.filter(({ kind }) => kind !== "plot").length;
  return finishChart(
    theme,
    {
      title: options.title ?? `${where}${where === "" ? "P" : "p"}lan of the field`,
      notes: [
        `Numbers: seeding rates, ${axis.unit}.${key} Heavy lines: ${plan.design === "latin-square" ? "the square" : "blocks"}${borders > 0 ? "; empty: border or filler" : ""}. Row 1 is where planting starts.`,
      ],
      alt: `${where}plan of ${plots.length - borders} plots in ${plan.rows} rows and ${plan.columns} columns, ${blocks} blocks, ${plan.hybrids.length} hybrids, seeding rates ${plan.rates.map((rate) => trimmed(axis.text(rate))).join(", ")} ${axis.unit}.${key}${borders > 0 ? ` ${borders} border or filler plots.` : ""}`,
    },
    {
      width: Math.round(cell * plan.columns),
      height: high1 * plan.rows,
      layer: [
        {
          data: { values: boxes },
          mark: { type: "rect", stroke: theme.paper, strokeWidth: 1 },
          encoding: { x, x2: { field: "to" }, y, y2: { field: "top" }, color: literal("color") },
        },
        {
          data: { values: boxes },
          mark: { type: "text" },
          encoding: {
            x: { ...x, field: "mx" },
            y: { ...y, field: "my" },
            text: { field: "text", type: "nominal" },
            color: literal("ink"),
          },
        },
        {
          data: { values: edges(plots, plan) },
          mark: { type: "rule", color: theme.ink, strokeWidth: theme.stroke * 0.9, strokeCap: "square" },
          encoding: { x, x2: { field: "to" }, y, y2: { field: "top" } },
        },
      ],
      encoding: {
        x: {
          axis: {
            title: "Column",
            values: counted(plan.columns),
            tickCount: plan.columns,
            format: "d",
            domain: false,
            ticks: false,
            grid: false,
            labelOverlap: false,
          },
        },
        y: {
          axis: {
            title: "Row",
            values: counted(plan.rows),
            tickCount: plan.rows,
            format: "d",
            domain: false,
            ticks: false,
            grid: false,
            labelOverlap: false,
          },
        },
      },
    },
  );
}

/** A, B … Z, AA, AB … */
function letter(i: number): string {
  return i < 26 ? String.fromCharCode(65 + i) : letter(Math.floor(i / 26) - 1) + letter(i % 26);
}

function trimmed(text: string): string {
  return text.replace(/\.0+$/, "");
}

function counted(n: number): number[] {
  const step = Math.ceil(n / 30);
  return Array.from({ length: n }, (_, i) => i + 1).filter((i) => i === 1 || i % step === 0);
}

/** Sides between plots of different blocks, and around them. */
function edges(plots: readonly PlanPlot[], { rows, columns, design }: LayoutPlan): Row[] {
  const block = new Map(
    plots.map((plot) => [
      `${plot.row},${plot.column}`,
      plot.kind === "border" ? 0 : design === "latin-square" ? 1 : plot.block,
    ]),
  );
  const at = (row: number, column: number): number => block.get(`${row},${column}`) ?? 0;
  const lines: Row[] = [];
  for (let row = 0; row <= rows; row++)
    for (let column = 0; column <= columns; column++) {
      if (at(row, column) !== at(row, column + 1) && row > 0)
        lines.push({ x: column + 0.5, to: column + 0.5, y: row - 0.5, top: row + 0.5 });
      if (at(row, column) !== at(row + 1, column) && column > 0)
        lines.push({ x: column - 0.5, to: column + 0.5, y: row + 0.5, top: row + 0.5 });
    }
  return lines;
}
