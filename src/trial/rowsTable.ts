import { check } from "../core/errors.ts";
import { numberText } from "./numberText.ts";
import { mostColumns } from "./schema.ts";
import type { Cell, Table } from "./table.ts";

/**
 * An array of records to a table: headers are the records' own keys in the order they first appear.
 *
 * @throws AnalysisError `invalid-data` when an element is not a plain record
 */
export function rowsTable(rows: readonly Readonly<Record<string, unknown>>[]): Table {
  const index = new Map<string, number>();
  const cells: Cell[][] = [];
  rows.forEach((row, i) => {
    check(
      typeof row === "object" && row !== null && !Array.isArray(row),
      "invalid-data",
      `rows must be records like { yield: 210 }; row ${i + 1} is ${row === null ? "null" : typeof row}`,
    );
    const line: Cell[] = [];
    for (const [key, value] of Object.entries(row)) {
      const name = key.trim();
      const at = index.get(name) ?? index.size;
      index.set(name, at);
      check(
        index.size <= mostColumns,
        "invalid-data",
        `records may have ${numberText(mostColumns)} different keys at most; row ${numberText(i + 1)} brings one more: give one record a plot`,
      );
      line[at] = cell(value);
    }
    cells.push(line);
  });
  const width = index.size;
  for (const line of cells) for (let j = 0; j < width; j++) line[j] ??= "";
  return {
    header: [...index.keys()],
    rows: cells,
    lines: Int32Array.from(cells, (_, i) => i + 1),
    delimiter: null,
    counts: "Row",
  };
}

function cell(value: unknown): Cell {
  if (typeof value === "number" || typeof value === "string") return value;
  if (value === null || value === undefined) return "";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value === "bigint") return String(value);
  if (value instanceof Date) return Number.isNaN(value.getTime()) ? "" : value.toISOString().slice(0, 10);
  return "[object]";
}
