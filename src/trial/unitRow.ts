import { cellNumber } from "./cellNumber.ts";
import type { Column, ColumnMap } from "./columns.ts";
import { headerWords } from "./headerWords.ts";
import type { IssueLog } from "./issueLog.ts";
import type { Role } from "./roles.ts";
import type { Table } from "./table.ts";
import { type ColumnUnit, unitFromWords } from "./unitWords.ts";

const none: ReadonlySet<string> = new Set();

/**
 * Some files carry their units in a row of their own below the header. Such a row has a unit under at least one column
 * that needs one and a number under none; it is taken out, and its units fill in where headers and schema say nothing.
 */
export function takeUnitRow(table: Table, columns: ColumnMap, log: IssueLog): { table: Table; columns: ColumnMap } {
  const row = table.rows[0];
  if (row === undefined || table.rows.length < 2) return { table, columns };
  const units = new Map<Role, ColumnUnit>();
  for (const column of columns.byRole.values()) {
    if (column.kind === "label" || column.kind === "text") continue;
    const cell = row[column.index] ?? "";
    if (cellNumber(cell, ".", none).kind === "number") return { table, columns };
    const unit = unitFromWords(column.kind, headerWords(String(cell)).words);
    if (unit !== null) units.set(column.role, unit);
  }
  if (units.size === 0) return { table, columns };
  log.add({
    severity: "note",
    code: "unit-row",
    row: table.lines[0] ?? null,
    rule: `this row holds units, not a plot: ${[...units].map(([role, unit]) => `${columns.byRole.get(role)?.header} in ${unit}`).join(", ")}`,
    remedy: "nothing to do",
  });
  const byRole = new Map<Role, Column>();
  for (const [role, column] of columns.byRole)
    byRole.set(role, { ...column, unit: column.unit ?? units.get(role) ?? null });
  return {
    table: { ...table, rows: table.rows.slice(1), lines: Array.from(table.lines).slice(1) },
    columns: { ...columns, byRole },
  };
}
