import { cellNumber } from "./cellNumber.ts";
import { type Column, roleWords } from "./columns.ts";
import type { IssueLog } from "./issueLog.ts";
import type { Role } from "./roles.ts";
import type { Cell } from "./table.ts";
import { type AreaUnit, kilogramsPer, type LengthUnit, type MassUnit, metresPer, squareMetresPer } from "./units.ts";

/** A number read from a cell, or why there is none: `reason` is set only when something is wrong with the cell. */
export interface Quantity {
  readonly value: number | null;
  readonly reason: string | null;
}

const nothing: Quantity = { value: null, reason: null };
/** Quantities that make no sense at zero. */
const abovesZero: ReadonlySet<Role> = new Set<Role>([
  "seedingRate",
  "targetDensity",
  "stand",
  "countLength",
  "countRows",
  "rowWidth",
  "stripLength",
  "stripWidth",
  "plotArea",
  "harvestRows",
]);

/** What every reader of numbers shares. */
export interface NumberContext {
  readonly decimal: "." | ",";
  readonly missing: ReadonlySet<string>;
  readonly log: IssueLog;
}

/**
 * The number in a column's cell, checked: it must be a number, finite, not negative, and above zero where zero makes no
 * sense. Lengths come in metres, weights in kilograms, areas in m2, percentages in percent; densities and yields stay in
 * the column's own unit.
 */
export function readQuantity(
  cell: Cell,
  column: Column,
  row: number,
  { decimal, missing, log }: NumberContext,
): Quantity {
  const percentage = column.kind === "percent" || (column.kind === "lodging" && column.unit === "percent");
  const text = percentage && typeof cell === "string" ? cell.replace(/%\s*$/, "") : cell;
  const parsed = cellNumber(text, decimal, missing);
  if (parsed.kind === "missing") return nothing;
  const what = roleWords(column.role);
  const refuse = (code: string, rule: string, remedy: string): Quantity => {
    log.add({ severity: "error", code, row, column: column.header, received: cell, rule, remedy });
    return { value: null, reason: `${what}: ${rule}` };
  };
  if (parsed.kind === "bad") {
    if (parsed.reason === "infinite")
      return refuse(
        "not-finite",
        `the ${what} must be a finite number`,
        "correct the cell, or leave it empty if nothing was measured",
      );
    if (parsed.reason === "spreadsheet-error")
      return refuse(
        "spreadsheet-error",
        `the ${what} must be a number, and this is an error of the spreadsheet's formula`,
        "repair the formula and export again, or leave the cell empty",
      );
    return refuse(
      "not-a-number",
      `the ${what} must be a number`,
      "correct the cell, or leave it empty if nothing was measured",
    );
  }
  const value = parsed.value * toBase(column);
  if (value < 0 && !column.role.startsWith("position") && column.role !== "order") {
    return refuse(
      "negative",
      `the ${what} cannot be negative`,
      "correct the cell; if this number means missing, leave the cell empty or add it to schema.missing",
    );
  }
  if (value === 0 && abovesZero.has(column.role)) {
    return refuse("zero", `the ${what} must be above zero`, "correct the cell, or leave it empty if it is not known");
  }
  if (percentage && value > 100)
    return refuse("above-100", `the ${what} is a percentage and cannot be above 100`, "correct the cell");
  return { value, reason: null };
}

function toBase({ kind, unit }: Column): number {
  if (unit === null) return 1;
  if (kind === "length") return metresPer[unit as LengthUnit];
  if (kind === "mass") return kilogramsPer[unit as MassUnit];
  if (kind === "area") return squareMetresPer[unit as AreaUnit];
  return unit === "fraction" ? 100 : 1;
}
