import { checkShape, type Shape } from "../core/checkShape.ts";
import { csvCell } from "../core/csvCell.ts";
import { check } from "../core/errors.ts";
import type { YieldUnit } from "../trial/trial.ts";
import { type LengthUnit, type Measure, metresPer, yieldUnits } from "../trial/units.ts";
import type { LayoutPlan, PlanPlot } from "./layoutPlan.ts";

export interface LayoutCsvOptions {
  /**
   * Columns left empty for the harvest. `yield` (default): yield at standard moisture and moisture. `weight`: harvested weight and
   * moisture, with strip length and width filled in from the plan. `none`: the plan only.
   */
  readonly harvest?: "yield" | "weight" | "none";
  /** Unit of the yield column; default that of the density's area: bu/ac or t/ha. */
  readonly yieldUnit?: YieldUnit;
  /** Unit of the weight column; default "lb" for plans per acre, else "kg". */
  readonly weightUnit?: "lb" | "kg";
  /** Columns for counts of lodged plants; default true. */
  readonly lodging?: boolean;
  /** List borders and fillers too, marked as excluded; default false. */
  readonly borders?: boolean;
}

/** What `LayoutCsvOptions` must look like. */
export const layoutCsvOptionsShape: { readonly [property: string]: Shape } = {
  harvest: "text?",
  yieldUnit: "text?",
  weightUnit: "text?",
  lodging: "flag?",
  borders: "flag?",
};

/**
 * A plan as a CSV file to take to the field: one line a plot in planting order, with empty columns for stand, harvest and
 * lodging whose headers `readTrial` understands with their units.
 *
 * @throws AnalysisError `invalid-option` for an unknown unit, or weights without plot length and width in the plan
 * @example
 * const plan = layoutTrial({ hybrids: ["Amber 12"], rates: [20, 30, 40], densityUnit: "1000 plants/ac", blocks: 2 });
 * layoutCsv(plan).split("\n")[0]; // => "plot,block,field_row,field_column,order,hybrid,seeding_rate_1000_seeds_ac,stand_1000_plants_ac,yield_bu_ac,moisture_pct,stalk_lodged,root_lodged,plants_examined,exclude_reason"
 *
 * Source: RFC 4180 for the format.
 */
export function layoutCsv(plan: LayoutPlan, options: LayoutCsvOptions = {}): string {
  checkShape(plan, "plan", "standcurve/layout-plan/1");
  checkShape(options, "options", layoutCsvOptionsShape, "invalid-option");
  const perAcre = plan.densityUnit.endsWith("/ac") || plan.densityUnit.endsWith("/ft2");
  const {
    harvest = "yield",
    yieldUnit = perAcre ? "bu/ac" : "t/ha",
    weightUnit = perAcre ? "lb" : "kg",
    lodging = true,
    borders = false,
  } = options;
  check(
    ["yield", "weight", "none"].includes(harvest),
    "invalid-option",
    `harvest must be yield, weight or none, got "${harvest}"`,
  );
  check(
    yieldUnits.includes(yieldUnit),
    "invalid-option",
    `yieldUnit must be one of ${yieldUnits.join(", ")}, got "${yieldUnit}"`,
  );
  const columns: [header: string, cell: (plot: PlanPlot) => string | number | null][] = [];
  if (plan.environments.length > 0) columns.push(["environment", (plot) => plot.environment]);
  columns.push(["plot", (plot) => plot.plot], ["block", (plot) => plot.block]);
  if (plan.mainPlot !== null) columns.push(["main_plot", (plot) => plot.mainPlot]);
  columns.push(
    ["field_row", (plot) => plot.row],
    ["field_column", (plot) => plot.column],
    ["order", (plot) => plot.order],
    ["hybrid", (plot) => plot.hybrid ?? "border"],
    [`seeding_rate_${headerUnit(plan.densityUnit.replace("plants", "seeds"))}`, (plot) => plot.seedingRate],
  );
  const empty = (header: string): void => {
    columns.push([header, () => null]);
  };
  if (harvest !== "none") empty(`stand_${headerUnit(plan.densityUnit)}`);
  if (harvest === "yield") empty(`yield_${headerUnit(yieldUnit)}`);
  if (harvest === "weight") {
    const { plotLength, plotWidth } = plan;
    check(
      plotLength !== null && plotWidth !== null,
      "invalid-option",
      "a harvested weight becomes a yield only with the ground it came from: give the plan plotLength and plotWidth",
    );
    empty(`harvest_weight_${weightUnit}`);
    const unit = perAcre ? "ft" : "m";
    columns.push(
      [`strip_length_${unit}`, () => lengthIn(plotLength, unit)],
      [`strip_width_${unit}`, () => lengthIn(plotWidth, unit)],
    );
  }
  if (harvest !== "none") empty("moisture_pct");
  if (harvest !== "none" && lodging)
    for (const header of ["stalk_lodged", "root_lodged", "plants_examined"]) empty(header);
  if (harvest !== "none" || borders)
    columns.push(["exclude_reason", (plot) => (plot.kind === "plot" ? null : "border")]);
  const lines = plan.plots
    .filter((plot) => borders || plot.kind === "plot")
    .map((plot) => columns.map(([, cell]) => csvCell(cell(plot))).join(","));
  return `${[columns.map(([header]) => header).join(","), ...lines].join("\n")}\n`;
}

const headerUnit = (unit: string): string => unit.replace(/[^A-Za-z0-9]+/g, "_");

function lengthIn({ value, unit }: Measure<LengthUnit>, to: LengthUnit): number {
  return Number(((value * metresPer[unit]) / metresPer[to]).toPrecision(9));
}
