import { cellNumber, decimalEvidence } from "./cellNumber.ts";
import type { Column } from "./columns.ts";
import type { IssueLog } from "./issueLog.ts";
import { roleWords } from "./roleWords.ts";
import type { Settings } from "./schema.ts";
import type { Table } from "./table.ts";

const rowsLooked = 20_000;
const none: ReadonlySet<string> = new Set();

/**
 * The decimal mark of the file: as declared; else the mark that some number proves (12,5 proves a comma, 12.5 a dot, 1,234
 * proves nothing); else a comma in files separated by semicolons and a dot in all others. Numbers such as 1,234 are then
 * read by that mark, and reported where nothing in their column settles it.
 */
export function decimalMark(table: Table, columns: readonly Column[], settings: Settings, log: IssueLog): "." | "," {
  const votes = { ".": 0, ",": 0 };
  const settled = new Set<number>();
  const first = new Map<string, { row: number; column: string; text: string }>();
  const most = Math.min(table.rows.length, rowsLooked);
  for (let i = 0; i < most; i++) {
    for (const column of columns) {
      const cell = table.rows[i]?.[column.index];
      if (typeof cell !== "string") continue;
      const mark = decimalEvidence(cell);
      if (mark === null) continue;
      votes[mark] += 1;
      settled.add(column.index);
      if (!first.has(mark)) first.set(mark, { row: table.lines[i] ?? 0, column: column.header, text: cell.trim() });
    }
  }
  const guess =
    votes[","] > votes["."] || (votes[","] === 0 && votes["."] === 0 && table.delimiter === ";") ? "," : ".";
  const mark = settings.decimal ?? guess;
  const other = first.get(mark === "." ? "," : ".");
  if (other !== undefined && (settings.decimal !== undefined || first.has(mark))) {
    log.add({
      severity: "warning",
      code: "mixed-decimal-marks",
      row: other.row,
      column: other.column,
      received: other.text,
      count: votes[mark === "." ? "," : "."],
      rule: `decimals in this file are written with a ${mark === "," ? "comma" : "dot"}, but here with a ${mark === "," ? "dot" : "comma"}`,
      remedy: "this number has only one meaning and was read so; write all numbers alike",
    });
  }
  reportAmbiguous(table, columns, mark, settled, settings.decimal !== undefined || votes["."] + votes[","] > 0, log);
  return mark;
}

/** One warning per column in which numbers such as 34,000 could mean 34 as well, with how they were read. */
function reportAmbiguous(
  table: Table,
  columns: readonly Column[],
  mark: "." | ",",
  settled: ReadonlySet<number>,
  proven: boolean,
  log: IssueLog,
): void {
  for (const column of columns) {
    let count = 0;
    let first: { row: number; text: string; value: number } | null = null;
    for (let i = 0; i < table.rows.length; i++) {
      const cell = table.rows[i]?.[column.index];
      if (typeof cell !== "string" || !/[.,]\d{3}\s*$/.test(cell.slice(-12))) continue;
      const parsed = cellNumber(cell, mark, none);
      if (parsed.kind !== "number" || !parsed.ambiguous) continue;
      const usual = mark === "." ? proven || cell.includes(".") : cell.includes(".") && proven;
      if (usual || (settled.has(column.index) && proven)) continue;
      count += 1;
      first ??= { row: table.lines[i] ?? 0, text: cell.trim(), value: parsed.value };
    }
    if (first === null) continue;
    const other = first.value >= 1000 ? first.value / 1000 : first.value * 1000;
    log.add({
      severity: "warning",
      code: "ambiguous-number",
      row: first.row,
      column: column.header,
      received: first.text,
      count,
      rule: `the ${roleWords(column.role)} "${first.text}" may mean ${first.value} or ${other}, and no other number in this column tells which; it was read as ${first.value} (decimal ${mark === "," ? "comma" : "dot"}${proven ? " elsewhere in the file" : " assumed"})`,
      remedy: `if that is wrong, write the numbers without a thousands mark, or declare schema.decimal as ${mark === "," ? '"."' : '","'}`,
    });
  }
}
