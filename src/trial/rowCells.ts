import { isMissing } from "./cellNumber.ts";
import type { Column } from "./columns.ts";
import type { Finding } from "./issueLog.ts";
import { type NumberContext, readQuantity } from "./quantities.ts";
import type { Role } from "./roles.ts";
import type { Cell, Table } from "./table.ts";

/** One row under a cursor, its cells by role, and the reasons found against it so far. */
export interface RowCells {
  /** Moves to row i of the table and forgets the reasons. */
  open(i: number): void;
  readonly row: number;
  readonly reasons: readonly string[];
  cell(role: Role): Cell;
  column(role: Role): Column | null;
  /** Is there nothing in the cell (or no such column)? */
  empty(role: Role): boolean;
  /** The number in the cell; a faulty one is reported and left out, the row stays. */
  number(role: Role): number | null;
  /** The number in the cell; a faulty one is reported and the row cannot be used. */
  needed(role: Role): number | null;
  /** Notes why the row cannot be used. */
  refuse(reason: string): void;
  /** Reports an issue of this row. */
  report(finding: Omit<Finding, "row">): void;
}

/** A cursor over the rows of a table. */
export function rowCells(table: Table, byRole: ReadonlyMap<Role, Column>, context: NumberContext): RowCells {
  let cells: readonly Cell[] = [];
  let row = 0;
  let reasons: string[] = [];
  const cell = (role: Role): Cell => {
    const column = byRole.get(role);
    return column === undefined ? "" : (cells[column.index] ?? "");
  };
  const read = (role: Role, essential: boolean): number | null => {
    const column = byRole.get(role);
    if (column === undefined) return null;
    const { value, reason } = readQuantity(cells[column.index] ?? "", column, row, context);
    if (essential && reason !== null && !reasons.includes(reason)) reasons.push(reason);
    return value;
  };
  return {
    open(i) {
      cells = table.rows[i] ?? [];
      row = table.lines[i] ?? i + 1;
      reasons = [];
    },
    get row() {
      return row;
    },
    get reasons() {
      return reasons;
    },
    cell,
    column: (role) => byRole.get(role) ?? null,
    empty: (role) => isMissing(String(cell(role)), context.missing),
    number: (role) => read(role, false),
    needed: (role) => read(role, true),
    refuse(reason) {
      reasons.push(reason);
    },
    report(finding) {
      context.log.add({ ...finding, row });
    },
  };
}
