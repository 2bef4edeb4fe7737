import { cellNumber } from "./cellNumber.ts";
import type { Column, ColumnMap } from "./columns.ts";
import type { IssueLog } from "./issueLog.ts";
import { numberText } from "./numberText.ts";
import { likelyDensityUnits, likelyYieldUnits, plausibleRange } from "./plausible.ts";
import type { Role } from "./roles.ts";
import { roleWords } from "./roleWords.ts";
import type { Settings } from "./schema.ts";
import type { Table } from "./table.ts";
import type { Crop, DensityUnit, YieldUnit } from "./trial.ts";
import { convertDensity, convertYield, type YieldColumnUnit, yieldUnits } from "./units.ts";

const rowsLooked = 20_000;

/** Median of the numbers in a column, in the column's own unit; null when it has none. */
export function columnMedian(table: Table, column: Column, decimal: "." | ","): { median: number; row: number } | null {
  const found: { value: number; row: number }[] = [];
  for (let i = 0; i < Math.min(table.rows.length, rowsLooked); i++) {
    const parsed = cellNumber(table.rows[i]?.[column.index] ?? "", decimal, new Set());
    if (parsed.kind === "number" && parsed.value > 0) found.push({ value: parsed.value, row: table.lines[i] ?? 0 });
  }
  found.sort((a, b) => a.value - b.value);
  const middle = found[Math.floor((found.length - 1) / 2)];
  return middle === undefined ? null : { median: middle.value, row: middle.row };
}

/**
 * Do the columns that decide densities and yields carry a unit, and does the unit fit the numbers? False when one does
 * not: units are never guessed, but the issue says which unit is likely.
 */
export function checkUnits(
  table: Table,
  columns: readonly Column[],
  { crop, assumed }: { readonly crop: Crop; readonly assumed: boolean },
  yieldUnit: YieldUnit,
  decimal: "." | ",",
  settings: Settings,
  log: IssueLog,
): boolean {
  let good = !bushelsUnknown(columns, crop, yieldUnit, log);
  for (const column of columns) {
    const middle = columnMedian(table, column, decimal);
    if (column.unit === null && ["density", "yield", "length", "mass", "area"].includes(column.kind)) {
      reportMissing(column, middle?.median ?? null, crop, log);
      good = false;
      continue;
    }
    if (middle !== null && !fits(column, middle, crop, assumed, settings, log))
      good = settings.acceptMagnitudes === true && good;
  }
  return good;
}

/** Bushels cannot be had without their weight, neither in the file nor in the result. */
function bushelsUnknown(columns: readonly Column[], crop: Crop, yieldUnit: YieldUnit, log: IssueLog): boolean {
  const column = columns.find((one) => one.unit === "bu/ac");
  if (crop.poundsPerBushel !== null || (column === undefined && yieldUnit !== "bu/ac")) return false;
  log.add({
    severity: "error",
    code: "bushel-weight-unknown",
    column: column?.header ?? null,
    received: "bu/ac",
    rule: `a yield in bu/ac needs the weight of a bushel, and ${crop.name} has none in the crop table`,
    remedy: "declare schema.crop { name, poundsPerBushel, standardMoisture }, or use lb/ac",
  });
  return true;
}

function reportMissing(column: Column, median: number | null, crop: Crop, log: IssueLog): void {
  const likely = median === null ? [] : likelyUnits(column, median, crop);
  const example: Readonly<Record<string, string>> = {
    density: "plants/ac",
    yield: "bu/ac",
    length: "ft",
    mass: "lb",
    area: "ac",
  };
  const unit = likely[0] ?? example[column.kind] ?? "";
  const guess =
    likely.length === 0
      ? ""
      : `; numbers around ${numberText(median ?? 0, 4)} look like ${likely.slice(0, 2).join(" or ")}`;
  log.add({
    severity: "error",
    code: "missing-unit",
    column: column.header,
    rule: `the ${roleWords(column.role)} must have a unit, and units are never guessed${guess}`,
    remedy: `put it in the header, as in "${column.header} (${unit})", or declare schema.units { ${column.role}: "${unit}" }`,
  });
}

function fits(
  column: Column,
  { median, row }: { median: number; row: number },
  crop: Crop,
  assumed: boolean,
  settings: Settings,
  log: IssueLog,
): boolean {
  const severity = settings.acceptMagnitudes === true ? "warning" : "error";
  const range = plausibleRange(crop);
  if (column.kind === "percent" && median <= 1 && column.unit !== "fraction") {
    log.add({
      severity,
      code: "unit-magnitude",
      row,
      column: column.header,
      received: numberText(median, 4),
      rule: `the ${roleWords(column.role)} must be in percent, but half of the numbers are ${numberText(median, 4)} or less, which looks like a share of 1`,
      remedy: `declare schema.units { ${column.role}: "fraction" }, or write percent`,
    });
    return false;
  }
  const [value, [low, high], shown] =
    column.kind === "density"
      ? [convertDensity(median, column.unit as DensityUnit, "plants/m2"), range.density, "plants/m2"]
      : column.kind === "yield" && !(column.unit === "bu/ac" && crop.poundsPerBushel === null)
        ? [convertYield(median, column.unit as YieldColumnUnit, "kg/ha", crop), range.yield, "kg/ha"]
        : [1, [0, 2], ""];
  if (value >= low && value <= high) return true;
  const likely = likelyUnits(column, median, crop).filter((unit) => unit !== column.unit);
  const other =
    likely.length === 0
      ? "check the unit"
      : `the likely unit is ${likely.slice(0, 2).join(" or ")}: correct the header or declare schema.units { ${column.role}: "${likely[0]}" }`;
  const remedy = assumed
    ? `if the crop is not ${crop.name}, which was only assumed, declare schema.crop; else ${other}`
    : other;
  log.add({
    severity,
    code: "unit-magnitude",
    row,
    column: column.header,
    received: numberText(median, 4),
    rule: `a ${roleWords(column.role)} of ${numberText(median, 4)} ${column.unit?.replace("1000 ", "thousand ")} (the median) contradicts its unit: that is ${numberText(value, 4)} ${shown}, and ${crop.name} lies between ${numberText(low)} and ${numberText(high)}`,
    remedy: `${remedy}; if the numbers are right, set schema.acceptMagnitudes`,
  });
  return false;
}

function likelyUnits(column: Column, median: number, crop: Crop): string[] {
  if (column.kind === "density") {
    const units = likelyDensityUnits(median, crop);
    return column.role === "seedingRate" ? units.map((unit) => unit.replace("plants", "seeds")) : units;
  }
  return column.kind === "yield" ? likelyYieldUnits(median, crop) : [];
}

/** The density unit of the trial: as declared, else that of the rates, else of the stands, else by the lengths' system. */
export function trialDensityUnit({ byRole }: ColumnMap, settings: Settings): DensityUnit {
  const column = byRole.get("seedingRate") ?? byRole.get("targetDensity") ?? byRole.get("stand");
  const declared = settings.densityUnit ?? (column?.unit as DensityUnit | null | undefined);
  return declared ?? (metric(byRole, settings, ["countLength", "rowWidth"]) ? "plants/m2" : "1000 plants/ac");
}

/** The yield unit of the trial: as declared, else that of the yield column, else bu/ac or t/ha by the strips' system. */
export function trialYieldUnit({ byRole }: ColumnMap, crop: Crop, settings: Settings): YieldUnit {
  if (settings.yieldUnit !== undefined) return settings.yieldUnit;
  const written = byRole.get("yield")?.unit as YieldColumnUnit | null | undefined;
  if (written !== undefined && written !== null)
    return (yieldUnits as readonly string[]).includes(written) ? (written as YieldUnit) : "t/ha";
  if (metric(byRole, settings, ["harvestWeight", "stripLength", "plotArea"])) return "t/ha";
  return crop.poundsPerBushel === null ? "lb/ac" : "bu/ac";
}

function metric(byRole: ReadonlyMap<Role, Column>, settings: Settings, roles: readonly Role[]): boolean {
  const units = roles.map((role) => byRole.get(role)?.unit ?? settings.rowWidth?.unit ?? null);
  return units.some((unit) => unit !== null && ["m", "cm", "mm", "kg", "g", "t", "ha", "m2"].includes(unit));
}
