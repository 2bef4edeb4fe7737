import { cellNumber } from "./cellNumber.ts";
import type { Column } from "./columns.ts";
import type { IssueLog } from "./issueLog.ts";
import type { Role } from "./roles.ts";
import { roleWords } from "./roleWords.ts";
import type { Cell } from "./table.ts";
import { type AreaUnit, kilogramsPer, type LengthUnit, type MassUnit, metresPer, squareMetresPer } from "./units.ts";

/** A number read from a cell, or why there is none: `reason` is set only when something is wrong with the cell. */
export interface Quantity {
  readonly value: number | null;
  readonly reason: string | null;
}

const nothing: Quantity = { value: null, reason: null };
/** Quantities that make no sense at zero. */
const aboveZero: ReadonlySet<Role> = new Set<Role>([
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
  "stalkDiameter",
  "rindStrength",
  "plantHeight",
  "earHeight",
]);
/** Quantities that may be negative; a count before maturity has a negative number of days. */
const signed: ReadonlySet<Role> = new Set<Role>(["positionRow", "positionColumn", "order", "daysAfterMaturity"]);

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
export function readQuantity(cell: Cell, column: Column, row: number, context: NumberContext): Quantity {
  const percentage = column.kind === "percent" || (column.kind === "lodging" && column.unit === "percent");
  const text = percentage && typeof cell === "string" ? cell.replace(/%\s*$/, "") : cell;
  const parsed = cellNumber(text, context.decimal, context.missing);
  if (parsed.kind === "missing") return nothing;
  const value = parsed.kind === "number" ? parsed.value * toBase(column) : 0;
  const fault = parsed.kind === "bad" ? parsed.reason : faultOf(value, column, percentage);
  if (fault === null) return { value, reason: null };
  const what = roleWords(column.role);
  const { code, rule, remedy, reason } = faults[fault](what);
  context.log.add({ severity: "error", code, row, column: column.header, received: cell, rule, remedy });
  return { value: null, reason: `the ${what} is ${reason}` };
}

type Fault = "beyond" | "text" | "infinite" | "spreadsheet-error" | "negative" | "zero" | "above-100";

function faultOf(value: number, { role }: Column, percentage: boolean): Fault | null {
  if (value < 0 && !signed.has(role)) return "negative";
  if (Math.abs(value) > most || (value > 0 && value < least)) return "beyond";
  if (value === 0 && aboveZero.has(role)) return "zero";
  return percentage && value > 100 ? "above-100" : null;
}

// No measured quantity of a plot comes near these bounds, and products of two such numbers stay finite.
const most = 1e12;
const least = 1e-12;

const orEmpty = "correct the cell, or leave it empty if nothing was measured";
const faults: Readonly<
  Record<Fault, (what: string) => { code: string; rule: string; remedy: string; reason: string }>
> = {
  beyond: (what) => ({
    code: "not-finite",
    rule: `the ${what} must be a number of ordinary size (at most 1e12)`,
    remedy: orEmpty,
    reason: "beyond any real size",
  }),
  text: (what) => ({
    code: "not-a-number",
    rule: `the ${what} must be a number`,
    remedy: orEmpty,
    reason: "not a number",
  }),
  infinite: (what) => ({
    code: "not-finite",
    rule: `the ${what} must be a finite number`,
    remedy: orEmpty,
    reason: "not finite",
  }),
  "spreadsheet-error": (what) => ({
    code: "spreadsheet-error",
    rule: `the ${what} must be a number, and this is an error of the spreadsheet's formula`,
    remedy: "repair the formula and export again, or leave the cell empty",
    reason: "a formula error",
  }),
  negative: (what) => ({
    code: "negative",
    rule: `the ${what} cannot be negative`,
    remedy: "correct the cell; if this number means missing, leave the cell empty or add it to schema.missing",
    reason: "negative",
  }),
  zero: (what) => ({
    code: "zero",
    rule: `the ${what} must be above zero`,
    remedy: "correct the cell, or leave it empty if it is not known",
    reason: "zero",
  }),
  "above-100": (what) => ({
    code: "above-100",
    rule: `the ${what} is a percentage and cannot be above 100`,
    remedy: "correct the cell",
    reason: "above 100 %",
  }),
};

function toBase({ kind, unit }: Column): number {
  if (unit === null) return 1;
  if (kind === "length") return metresPer[unit as LengthUnit];
  if (kind === "mass") return kilogramsPer[unit as MassUnit];
  if (kind === "area") return squareMetresPer[unit as AreaUnit];
  return unit === "fraction" ? 100 : 1;
}
