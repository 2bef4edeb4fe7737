import { checkShape } from "../core/checkShape.ts";
import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import { emptyField, type Field, type FieldGrid, fieldGrid, fillBlocks, fillSquares } from "./layoutField.ts";
import type { LayoutPlan, PlanPlot, Treatment } from "./layoutPlan.ts";
import { type LayoutOptions, layoutOptionsShape, layoutSettings } from "./layoutSettings.ts";
import { planCautions } from "./planCautions.ts";

const MOST_PLOTS = 100_000;

/**
 * Lays out a trial in random order.
 *
 * Rows run across the line of travel: column 1 is the first strip, row 1 the first tier of plots. Blocks fill the field from
 * the first corner, `blocksAcross` side by side, then the next ones behind them.
 *
 * @throws AnalysisError `invalid-option` when an option is out of bounds, or the strips do not fit the field (the message says
 * how many blocks do); `not-offered` when the neighbour rule cannot be kept
 * @example
 * const plan = layoutTrial({ hybrids: ["Amber 12"], rates: [20, 26, 32, 38, 44], densityUnit: "1000 plants/ac", seed: 7 });
 * plan.plots.length; // => 20
 *
 * Source: Cochran & Cox (1957), Experimental Designs, ch. 4 and 7; randomisation uniform over the orders that the rule allows.
 */
export function layoutTrial(options: LayoutOptions): LayoutPlan {
  checkShape(options, "options", layoutOptionsShape, "invalid-option");
  const settled = layoutSettings(options);
  const { design, hybrids, rates, blocks, environments, seed } = settled;
  const treatments = hybrids.flatMap((hybrid) => rates.map((rate): Treatment => ({ hybrid, rate })));
  const notes: string[] = [];
  let chained = false;
  const names = environments.length === 0 ? [null] : environments;
  const grid = fieldGrid(settled, treatments.length);
  const plots = names.flatMap((name, e) => {
    const random = streamRandom(seed, e);
    const field = emptyField(grid);
    const used =
      design === "latin-square"
        ? fillSquares(field, grid, settled, treatments, random)
        : fillBlocks(field, grid, settled, treatments, random);
    if (used === "swap-chain") chained = true;
    return numberPlots(field, grid, name, names.length > 1 ? e + 1 : null);
  });
  check(plots.length <= MOST_PLOTS, "invalid-option", `the plan has ${plots.length} plots; the limit is ${MOST_PLOTS}`);
  if (settled.mainPlot !== null)
    notes.push(
      `${settled.mainPlot === "hybrid" ? "hybrids" : "rates"} are compared between main plots, so with less precision than ${settled.mainPlot === "hybrid" ? "rates" : "hybrids"} within them; analyse with both errors`,
    );
  if (design === "latin-square")
    notes.push("rows of the square are the blocks of the analysis; columns are balanced too and are given as position");
  if (chained)
    notes.push(
      "the neighbour rule leaves so few orders that the layout was mixed by allowed swaps, not drawn outright",
    );
  if (rates.length < 4)
    notes.push(`${rates.length} rates say little about where the optimum is; five or six do better`);
  if (blocks < 3 && design !== "latin-square")
    notes.push(
      `${blocks} block${blocks === 1 ? "" : "s"} cannot show how repeatable the result is; four to six are usual`,
    );
  return {
    schema: "standcurve/layout-plan/1",
    design,
    mainPlot: settled.mainPlot,
    densityUnit: settled.densityUnit,
    hybrids,
    rates,
    blocks: grid.blocks,
    environments,
    neighbours: settled.neighbours,
    plotLength: settled.plotLength,
    plotWidth: settled.plotWidth,
    alley: settled.alley,
    rows: grid.rows,
    columns: grid.columns,
    plots,
    seed,
    randomisation: chained ? "swap-chain" : "uniform",
    notes,
    cautions: planCautions,
  };
}

/** Labels, borders and planting order: up one row, down the next. */
function numberPlots(field: Field, grid: FieldGrid, environment: string | null, number: number | null): PlanPlot[] {
  const position = new Map<number, number>();
  const plots: PlanPlot[] = [];
  const most = Math.max(...field.flat().map((cell) => cell?.block ?? 0), 1);
  const perBlock = grid.blockRows * grid.blockColumns;
  const hundred = pow(10, Math.max(2, String(perBlock).length));
  const prefix = number === null ? "" : `${number}-`;
  let order = 0;
  let free = 0;
  for (let r = 0; r < grid.rows; r++) {
    for (let step = 0; step < grid.columns; step++) {
      const c = r % 2 === 0 ? step : grid.columns - 1 - step;
      const cell = field[r][c];
      const inField = r >= grid.ends && r < grid.rows - grid.ends && c >= grid.sides && c < grid.columns - grid.sides;
      order++;
      const block = cell?.block ?? 0;
      const at = (position.get(block) ?? 0) + 1;
      position.set(block, at);
      plots.push({
        environment,
        plot: `${prefix}${cell === null ? `X${++free}` : String(block * hundred + at).padStart(String(most * hundred).length, "0")}`,
        kind: cell !== null ? "plot" : inField ? "filler" : "border",
        block,
        mainPlot: cell?.mainPlot ?? null,
        row: r + 1,
        column: c + 1,
        order,
        hybrid: cell?.treatment?.hybrid ?? null,
        seedingRate: cell?.treatment?.rate ?? null,
      });
    }
  }
  return plots;
}
