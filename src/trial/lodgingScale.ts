import { cellNumber } from "./cellNumber.ts";
import type { Column } from "./columns.ts";
import type { IssueLog } from "./issueLog.ts";
import { numberText } from "./numberText.ts";
import type { Role } from "./roles.ts";
import { roleWords } from "./roleWords.ts";
import type { Table } from "./table.ts";

const rowsLooked = 20_000;
const lodgingRoles: readonly Role[] = [
  "lodgedStalk",
  "lodgedRoot",
  "lodgedSnap",
  "lodgedAny",
  "failedPush",
  "failedPinch",
];

/**
 * Warns about percentages of lodging that look like shares of 1: all of them (0.05, 0.12), or some beside real percentages.
 * A few tenths of a percent are possible, so the figures are used as declared.
 */
export function reportLodgingScale(
  table: Table,
  byRole: ReadonlyMap<Role, Column>,
  decimal: "." | ",",
  log: IssueLog,
): void {
  for (const role of lodgingRoles) {
    const column = byRole.get(role);
    if (column === undefined || column.unit !== "percent") continue;
    let low = 0;
    let high = 0;
    let first: { row: number; value: number } | null = null;
    for (let i = 0; i < Math.min(table.rows.length, rowsLooked); i++) {
      const cell = table.rows[i]?.[column.index] ?? "";
      const marked = typeof cell === "string" && cell.includes("%");
      const parsed = cellNumber(typeof cell === "string" ? cell.replace(/%\s*$/, "") : cell, decimal, new Set());
      if (parsed.kind !== "number" || parsed.value <= 0) continue;
      if (parsed.value < 1 && !marked) {
        low += 1;
        first ??= { row: table.lines[i] ?? 0, value: parsed.value };
      } else high += 1;
    }
    if (first === null || low < 2 || low < 0.25 * (low + high)) continue;
    const all = high === 0;
    log.add({
      severity: "warning",
      code: all ? "unit-magnitude" : "mixed-scale",
      row: first.row,
      column: column.header,
      received: numberText(first.value, 3),
      count: low,
      rule: `the ${roleWords(role)} is declared in percent, but ${all ? "every figure above 0" : `${numberText(low)} of ${numberText(low + high)} figures above 0`} lies below 1, which looks like shares of 1`,
      remedy: all
        ? `declare schema.units { ${role}: "fraction" } if they are shares; they were used as percent`
        : "bring all rows to percent; they were used as percent",
    });
  }
}
