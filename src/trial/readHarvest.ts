import { standardMoistureYield } from "./moisture.ts";
import { numberText } from "./numberText.ts";
import { plausibleRange } from "./plausible.ts";
import { metres, reportImplausible } from "./readDensities.ts";
import type { ReadPlan } from "./readPlan.ts";
import type { RowCells } from "./rowCells.ts";
import type { Settings } from "./schema.ts";
import type { Crop, YieldUnit } from "./trial.ts";
import { convertYield, type YieldColumnUnit } from "./units.ts";

/** What was harvested on a row of the file. */
export interface Harvest {
  /** At standard moisture, in the trial's yield unit. */
  readonly yield: number | null;
  readonly moisture: number | null;
  /** Ground it came from, m2; null when not known. */
  readonly area: number | null;
}

/** Yield of a row at standard moisture, from a yield column or from weight and ground. */
export function readHarvest(cells: RowCells, plan: ReadPlan, unit: YieldUnit, crop: Crop, settings: Settings): Harvest {
  const moisture = plan.moistureOfYield === "row" ? cells.needed("moisture") : cells.number("moisture");
  const area = plan.yieldFrom === null ? null : harvestedArea(cells, plan, settings);
  const wet = harvested(cells, plan, area, unit, crop);
  const value = atStandardMoisture(cells, plan, wet, moisture);
  const role = plan.yieldFrom === "weight" ? "harvestWeight" : "yield";
  if (value !== null && convertible(unit, crop)) {
    const most = convertYield(plausibleRange(crop).yield[1], "kg/ha", unit, crop);
    if (value > most)
      reportImplausible(
        cells,
        role,
        `this is ${numberText(value, 3)} ${unit}, and ${crop.name} stays below ${numberText(most, 3)}`,
        settings,
      );
  }
  if (value === 0) {
    cells.report({
      severity: "warning",
      code: "zero-yield",
      column: cells.column(role)?.header ?? null,
      received: cells.cell(role),
      rule: "a yield of 0 counts as a total loss",
      remedy: "it was used; leave the cell empty if the plot was not harvested",
    });
  }
  if (wet === null && plan.yieldFrom !== null && cells.empty(role)) {
    cells.report({
      severity: "warning",
      code: "missing-yield",
      column: cells.column(role)?.header ?? null,
      rule: "no yield is recorded for this plot, so it stays out of the yield curves",
      remedy: "fill in the cell if it was harvested",
    });
  }
  return { yield: value, moisture, area };
}

function harvested(cells: RowCells, plan: ReadPlan, area: number | null, unit: YieldUnit, crop: Crop): number | null {
  if (plan.yieldFrom === "yield") {
    const value = cells.needed("yield");
    return value === null
      ? null
      : convertYield(value, (cells.column("yield")?.unit ?? unit) as YieldColumnUnit, unit, crop);
  }
  const weight = plan.yieldFrom === null ? null : cells.needed("harvestWeight");
  if (weight === null) return null;
  if (area !== null) return convertYield((weight / area) * 1000, "g/m2", unit, crop);
  if (cells.reasons.length === 0) {
    cells.refuse("no harvested area");
    cells.report({
      severity: "error",
      code: "missing-area",
      column: cells.column("harvestWeight")?.header ?? null,
      rule: "a harvested weight needs the length and width (or area) it came from",
      remedy: "fill in the cells of this row",
    });
  }
  return null;
}

function atStandardMoisture(
  cells: RowCells,
  plan: ReadPlan,
  wet: number | null,
  moisture: number | null,
): number | null {
  if (wet === null || plan.moistureOfYield === null) return wet;
  const from = plan.moistureOfYield === "row" ? moisture : plan.moistureOfYield;
  if (from !== null && from < 100) return standardMoistureYield(wet, from, plan.standardMoisture);
  if (cells.reasons.length === 0) {
    cells.refuse("no moisture");
    cells.report({
      severity: "error",
      code: "missing-moisture",
      column: cells.column("moisture")?.header ?? null,
      rule: `a harvest is stated at ${plan.standardMoisture} % moisture only when its own moisture (below 100 %) is known`,
      remedy: "fill in the cell",
    });
  }
  return null;
}

function harvestedArea(cells: RowCells, { areaFrom }: ReadPlan, settings: Settings): number | null {
  if (areaFrom === null) return null;
  if (areaFrom === "area") return cells.needed("plotArea");
  const length = cells.needed("stripLength");
  const rows = areaFrom === "length x rows" ? cells.needed("harvestRows") : 1;
  const width =
    areaFrom === "length x rows" ? metres(cells, "rowWidth", settings.rowWidth) : cells.needed("stripWidth");
  return length === null || rows === null || width === null ? null : length * rows * width;
}

const convertible = (unit: YieldUnit, crop: Crop): boolean => unit !== "bu/ac" || crop.poundsPerBushel !== null;
