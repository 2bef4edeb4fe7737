import { cellNumber, isMissing } from "./cellNumber.ts";
import type { Column, ColumnMap } from "./columns.ts";
import type { Draft } from "./draft.ts";
import { type LabelReader, labelReader } from "./labels.ts";
import { lodgingReader } from "./lodgingCells.ts";
import { standardMoistureYield } from "./moisture.ts";
import { plausibleRange } from "./plausible.ts";
import { type NumberContext, type Quantity, readQuantity } from "./quantities.ts";
import type { ReadPlan } from "./readPlan.ts";
import type { Role } from "./roles.ts";
import type { Settings } from "./schema.ts";
import type { Cell, Table } from "./table.ts";
import type { Crop, DensityUnit, YieldUnit } from "./trial.ts";
import { convertDensity, convertYield, metresPer, type YieldColumnUnit } from "./units.ts";

/** Units and crop that the rows are read for. */
export interface RowTarget {
  readonly crop: Crop;
  readonly densityUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
}

const nothing: Quantity = { value: null, reason: null };

/** Reads every row of a table into a draft of a plot; a row that cannot be used keeps its place, with the reason. */
export function readRows(
  table: Table,
  columns: ColumnMap,
  plan: ReadPlan,
  target: RowTarget,
  settings: Settings,
  context: NumberContext,
): Draft[] {
  const { byRole, traits } = columns;
  const { log, missing, decimal } = context;
  const label = labelReader(log);
  const lodging = lodgingReader(columns, context);
  const range = plausibleRange(target.crop);
  const width = table.header.length;
  const kilogramsPerHectare = convertYield(1, target.yieldUnit, "kg/ha", target.crop);

  return table.rows.map((cells, i): Draft => {
    const row = table.lines[i] ?? i + 1;
    const reasons: string[] = [];
    const cell = (role: Role): Cell => cells[byRole.get(role)?.index ?? -1] ?? "";
    const quantity = (role: Role): Quantity => {
      const column = byRole.get(role);
      return column === undefined ? nothing : readQuantity(cells[column.index] ?? "", column, row, context);
    };
    const needed = (role: Role): number | null => {
      const { value, reason } = quantity(role);
      if (reason !== null) reasons.push(reason);
      return value;
    };
    if (cells.length !== width) checkWidth(cells, width, row, reasons, log);

    const place = readPlace(cell, byRole, label, row, settings, missing);
    reasons.push(...place.reasons);
    for (const problem of place.problems) log.add(problem);

    const rate = densityOf(plan.rateFrom, needed, byRole, target.densityUnit);
    const stand =
      plan.standFrom === "count"
        ? countedStand(needed, byRole, settings, target.densityUnit)
        : densityOf(plan.standFrom, needed, byRole, target.densityUnit);
    for (const [value, role] of [
      [rate, plan.rateFrom],
      [stand, plan.standFrom === "count" ? "standCount" : plan.standFrom],
    ] as const) {
      if (value === null || role === null) continue;
      const perSquareMetre = convertDensity(value, target.densityUnit, "plants/m2");
      if (perSquareMetre < range.density[0] / 4 || perSquareMetre > range.density[1] * 4) {
        reportImplausible(
          byRole.get(role),
          cell(role),
          row,
          `${shown(perSquareMetre)} plants/m2, and ${target.crop.name} lies between ${range.density.join(" and ")}`,
          settings,
          reasons,
          log,
        );
      }
    }
    if (rate === null && stand === null && reasons.length === 0) {
      reasons.push("no density");
      const column = byRole.get(plan.rateFrom ?? "stand") ?? byRole.get("standCount");
      log.add({
        severity: "error",
        code: "missing-density",
        row,
        column: column?.header ?? null,
        rule: "every plot needs a seeding rate or a stand",
        remedy: "fill in the cell, or delete the row if it is not a plot",
      });
    }

    const moisture = quantity("moisture");
    const area = areaOf(plan, quantity, settings);
    const harvest = harvestOf(plan, needed, area, moisture, reasons, row, byRole, target, log);
    if (harvest !== null && harvest * kilogramsPerHectare > range.yield[1] * 1.5) {
      const role = plan.yieldFrom === "weight" ? "harvestWeight" : "yield";
      reportImplausible(
        byRole.get(role),
        cell(role),
        row,
        `${shown(harvest)} ${target.yieldUnit}, and ${target.crop.name} stays below ${shown(range.yield[1] / kilogramsPerHectare)}`,
        settings,
        reasons,
        log,
      );
    }
    const mark = readExclusion(cell("exclude"), cell("excludeReason"), missing);
    if (mark !== null) reasons.unshift(mark);
    const weight = needed("weight");
    if (weight === 0) reasons.push("weight 0");

    return {
      row,
      plot:
        byRole.has("plot") && !isMissing(String(cell("plot")), missing)
          ? label(cell("plot"), byRole.get("plot")?.header ?? "", row)
          : null,
      environment: place.environment,
      site: place.site,
      year: place.year,
      block: place.block,
      hybrid: place.hybrid,
      seedingRate: rate,
      stand,
      yield: harvest,
      area,
      moisture: moisture.value,
      testWeight: quantity("testWeight").value,
      weight: weight === null || weight === 0 ? 1 : weight,
      lodging: lodging(cells, row),
      traits: traits.flatMap(({ index, name }) => {
        const value = traitValue(cells[index] ?? "", decimal, missing);
        return value === null ? [] : [[name, value] as const];
      }),
      position: {
        row: quantity("positionRow").value,
        column: quantity("positionColumn").value,
        order: quantity("order").value,
      },
      excluded: reasons.length === 0 ? null : reasons.slice(0, 3).join("; "),
    };
  });
}

function checkWidth(
  cells: readonly Cell[],
  width: number,
  row: number,
  reasons: string[],
  log: NumberContext["log"],
): void {
  const extra = cells.slice(width).filter((text) => String(text).trim() !== "");
  if (cells.length > width && extra.length === 0) return;
  const long = cells.length > width;
  if (long) reasons.push("the row has too many cells");
  log.add({
    severity: long ? "error" : "warning",
    code: long ? "long-row" : "short-row",
    row,
    received: long ? (extra[0] ?? null) : null,
    rule: `the header has ${width} cells but this row has ${cells.length}`,
    remedy: long
      ? "put cells with a separator inside them in double quotes (34,000 and 12,5 in a comma-separated file); the row was left out, because its cells may be shifted"
      : "the missing cells at its end were read as empty",
  });
}

interface Place {
  readonly environment: string;
  readonly site: string | null;
  readonly year: string | null;
  readonly block: string;
  readonly hybrid: string;
  readonly reasons: string[];
  readonly problems: Parameters<NumberContext["log"]["add"]>[0][];
}

function readPlace(
  cell: (role: Role) => Cell,
  byRole: ReadonlyMap<Role, Column>,
  label: LabelReader,
  row: number,
  settings: Settings,
  missing: ReadonlySet<string>,
): Place {
  const reasons: string[] = [];
  const problems: Place["problems"] = [];
  const read = (role: Role): string | null => {
    const column = byRole.get(role);
    const value = column === undefined ? "" : cell(role);
    return column === undefined || isMissing(String(value), missing) ? null : label(value, column.header, row);
  };
  const required = (role: Role, what: string): string | null => {
    const value = read(role);
    if (value === null && byRole.has(role)) {
      reasons.push(`no ${what}`);
      problems.push({
        severity: "error",
        code: `missing-${what}`,
        row,
        column: byRole.get(role)?.header ?? null,
        rule: `every plot needs its ${what}`,
        remedy: "fill in the cell; if the one above was meant, copy it down",
      });
    }
    return value;
  };
  const site = read("site");
  const field = read("field");
  const year = read("year");
  const parts = [site, field, year, read("season")].filter((part) => part !== null);
  let environment = byRole.has("environment") ? required("environment", "environment") : parts.join(" ");
  if (!byRole.has("environment") && parts.length === 0) {
    environment = settings.environment ?? "trial";
    const column = byRole.get("site") ?? byRole.get("field") ?? byRole.get("year");
    if (column !== undefined) {
      reasons.push("no environment");
      problems.push({
        severity: "error",
        code: "missing-environment",
        row,
        column: column.header,
        rule: "every plot needs its site and year",
        remedy: "fill in the cell; if the one above was meant, copy it down",
      });
    }
  }
  const block = byRole.has("block") ? required("block", "block") : null;
  const replicate = byRole.has("replicate")
    ? byRole.has("block")
      ? read("replicate")
      : required("replicate", "block")
    : null;
  return {
    environment: environment ?? "(none)",
    site,
    year,
    block:
      block !== null && replicate !== null && block !== replicate
        ? `${replicate}/${block}`
        : (block ?? replicate ?? (byRole.has("block") || byRole.has("replicate") ? "(none)" : "1")),
    hybrid: required("hybrid", "hybrid") ?? (byRole.has("hybrid") ? "(none)" : (settings.hybrid ?? "all plots")),
    reasons,
    problems,
  };
}

function densityOf(
  role: "seedingRate" | "targetDensity" | "stand" | null,
  needed: (role: Role) => number | null,
  byRole: ReadonlyMap<Role, Column>,
  unit: DensityUnit,
): number | null {
  if (role === null) return null;
  const value = needed(role);
  return value === null ? null : convertDensity(value, (byRole.get(role)?.unit ?? unit) as DensityUnit, unit);
}

function countedStand(
  needed: (role: Role) => number | null,
  byRole: ReadonlyMap<Role, Column>,
  settings: Settings,
  unit: DensityUnit,
): number | null {
  const given = (measure: Settings["rowWidth"]): number | null =>
    measure === undefined ? null : measure.value * metresPer[measure.unit];
  const count = needed("standCount");
  const length = byRole.has("countLength") ? needed("countLength") : given(settings.countLength);
  const width = byRole.has("rowWidth") ? needed("rowWidth") : given(settings.rowWidth);
  const rows = byRole.has("countRows") ? needed("countRows") : (settings.countRows ?? 1);
  if (count === null || length === null || width === null || rows === null) return null;
  return convertDensity(count / (length * width * rows), "plants/m2", unit);
}

function areaOf({ areaFrom }: ReadPlan, quantity: (role: Role) => Quantity, settings: Settings): number | null {
  if (areaFrom === null) return null;
  if (areaFrom === "area") return quantity("plotArea").value;
  const length = quantity("stripLength").value;
  if (length === null) return null;
  if (areaFrom === "length x width") {
    const width = quantity("stripWidth").value;
    return width === null ? null : length * width;
  }
  const rows = quantity("harvestRows").value;
  const width =
    quantity("rowWidth").value ??
    (settings.rowWidth === undefined ? null : settings.rowWidth.value * metresPer[settings.rowWidth.unit]);
  return rows === null || width === null ? null : length * rows * width;
}

function harvestOf(
  plan: ReadPlan,
  needed: (role: Role) => number | null,
  area: number | null,
  moisture: Quantity,
  reasons: string[],
  row: number,
  byRole: ReadonlyMap<Role, Column>,
  target: RowTarget,
  log: NumberContext["log"],
): number | null {
  const role = plan.yieldFrom === "weight" ? "harvestWeight" : "yield";
  const raw = needed(role);
  if (raw === null) return null;
  const header = byRole.get(role)?.header ?? null;
  let wet = raw;
  if (plan.yieldFrom === "weight") {
    if (area === null) {
      reasons.push("no harvested area");
      log.add({
        severity: "error",
        code: "missing-area",
        row,
        column: header,
        rule: "a harvested weight needs the length and width (or area) it came from",
        remedy: "fill in the cells of this row",
      });
      return null;
    }
    wet = convertYield((raw / area) * 1000, "g/m2", target.yieldUnit, target.crop);
  } else {
    wet = convertYield(
      raw,
      (byRole.get("yield")?.unit ?? target.yieldUnit) as YieldColumnUnit,
      target.yieldUnit,
      target.crop,
    );
  }
  if (plan.moistureOfYield === null) return wet;
  const from = plan.moistureOfYield === "row" ? moisture.value : plan.moistureOfYield;
  if (from === null || from >= 100) {
    if (moisture.reason !== null) reasons.push(moisture.reason);
    else {
      reasons.push("no moisture");
      log.add({
        severity: "error",
        code: "missing-moisture",
        row,
        column: byRole.get("moisture")?.header ?? null,
        rule: "a weight as harvested needs its moisture (below 100 %) to be stated at the standard moisture",
        remedy: "fill in the cell",
      });
    }
    return null;
  }
  return standardMoistureYield(wet, from, plan.standardMoisture);
}

function reportImplausible(
  column: Column | undefined,
  received: Cell,
  row: number,
  why: string,
  settings: Settings,
  reasons: string[],
  log: NumberContext["log"],
): void {
  const accept = settings.acceptMagnitudes === true;
  if (!accept) reasons.push(`${column?.header ?? "value"}: implausible`);
  log.add({
    severity: accept ? "warning" : "error",
    code: "implausible-value",
    row,
    column: column?.header ?? null,
    received,
    rule: `this is ${why}`,
    remedy: accept
      ? "it was used, as schema.acceptMagnitudes asks"
      : "look for a lost or added digit or decimal mark; the plot was left out (schema.acceptMagnitudes keeps it)",
  });
}

/** Reason for leaving the plot out, from an exclude column (yes, x, 1, or the reason itself) and a reason column. */
function readExclusion(exclude: Cell, reason: Cell, missing: ReadonlySet<string>): string | null {
  const why = isMissing(String(reason), missing) ? null : String(reason).trim().slice(0, 200);
  const mark = String(exclude).trim();
  if (isMissing(mark, missing)) return why === null || mark !== "" ? null : `marked excluded: ${why}`;
  if (/^(?:no|n|0|false|f|keep|include|included|used?)$/i.test(mark)) return null;
  if (/^(?:yes|y|1|true|t|x|exclude|excluded|drop)$/i.test(mark))
    return why === null ? "marked excluded" : `marked excluded: ${why}`;
  return `marked excluded: ${why ?? mark.slice(0, 200)}`;
}

function traitValue(cell: Cell, decimal: "." | ",", missing: ReadonlySet<string>): number | string | null {
  const parsed = cellNumber(cell, decimal, missing);
  if (parsed.kind === "number") return parsed.value;
  if (parsed.kind === "missing") return null;
  const text = String(cell).slice(0, 400).trim();
  return text.length > 200 ? `${text.slice(0, 199)}…` : text;
}

const shown = (value: number): string =>
  Number(value.toPrecision(3)).toLocaleString("en-US", { maximumFractionDigits: 3 });
