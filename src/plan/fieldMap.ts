import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { LayoutPlan, PlanPlot } from "./layoutPlan.ts";

/**
 * A plan drawn as text, as seen when driving up the field: row 1 at the bottom, column 1 on the left.
 *
 * A cell holds the letter of the hybrid and the rate; `|` and rules separate blocks, `..` is a border or filler.
 *
 * @param environment - needed when the plan has several
 * @returns lines with a legend; plain ASCII but for the names of hybrids
 * @throws AnalysisError `invalid-option` for an unknown environment
 * @example
 * const plan = layoutTrial({ hybrids: ["Amber 12"], rates: [20, 30, 40], densityUnit: "1000 plants/ac", blocks: 2 });
 * fieldMap(plan).includes("A 30"); // => true
 */
export function fieldMap(plan: LayoutPlan, environment?: string): string {
  checkShape(plan, "plan", "standcurve/layout-plan/1");
  checkShape(environment, "environment", "text?", "invalid-option");
  const several = plan.environments.length > 1;
  check(
    !several || (environment !== undefined && plan.environments.includes(environment)),
    "invalid-option",
    `environment must be one of ${plan.environments.join(", ")}, got ${environment}`,
  );
  const plots = several ? plan.plots.filter((plot) => plot.environment === environment) : plan.plots;
  const grid = Array.from({ length: plan.rows }, () => new Array<PlanPlot | null>(plan.columns).fill(null));
  for (const plot of plots) grid[plot.row - 1][plot.column - 1] = plot;
  const letters = new Map(plan.hybrids.map((hybrid, i) => [hybrid, letter(i)]));
  const text = (plot: PlanPlot | null): string =>
    plot === null || plot.hybrid === null ? ".." : `${letters.get(plot.hybrid)} ${plot.seedingRate}`;
  const width = Math.max(...grid.flat().map((plot) => text(plot).length), String(plan.columns).length);
  const side = String(plan.rows).length;
  const mark = (left: PlanPlot | null, right: PlanPlot | null): string =>
    group(left, plan) === group(right, plan) ? "  " : " |";
  const lines: string[] = [];
  for (let r = plan.rows - 1; r >= 0; r--) {
    const cells = grid[r].map(
      (plot, c) => `${text(plot).padEnd(width)}${c + 1 < plan.columns ? mark(plot, grid[r][c + 1]) : ""}`,
    );
    lines.push(`${String(r + 1).padStart(side)}  ${cells.join(" ").trimEnd()}`);
    if (r > 0) {
      const rule = grid[r].map((plot, c) =>
        (group(plot, plan) === group(grid[r - 1][c], plan) ? " " : "-").repeat(width + 3),
      );
      if (rule.some((part) => part.startsWith("-")))
        lines.push(
          `${" ".repeat(side + 2)}${rule.join("")}`.slice(0, side + 2 + plan.columns * (width + 3) - 3).trimEnd(),
        );
    }
  }
  const numbers = grid[0].map((_, c) => String(c + 1).padEnd(width)).join("   ");
  return [
    ...lines,
    "",
    `${" ".repeat(side + 2)}${numbers.trimEnd()}`,
    `${" ".repeat(side + 2)}^ first strip; row 1 is where planting starts`,
    "",
    ...plan.hybrids.map((hybrid) => `${letters.get(hybrid)} = ${hybrid}`),
    `rates in ${plan.densityUnit.replace("plants", "seeds")}`,
    "",
  ].join("\n");
}

/** Cells of one group stand together without a rule: a block, or in a Latin square the whole square. */
function group(plot: PlanPlot | null, { design, hybrids, rates }: LayoutPlan): number {
  if (plot === null || plot.kind !== "plot") return 0;
  return design === "latin-square" ? Math.ceil(plot.block / (hybrids.length * rates.length)) : plot.block;
}

/** A … Z, AA, AB … */
function letter(index: number): string {
  const first = index >= 26 ? letter(Math.floor(index / 26) - 1) : "";
  return first + String.fromCharCode(65 + (index % 26));
}
