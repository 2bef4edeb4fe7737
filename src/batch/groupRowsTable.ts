import { check } from "../core/errors.ts";
import { rowsTable } from "../trial/rowsTable.ts";
import type { Cell, Table } from "../trial/table.ts";
import type { GroupInput, PlotColumns } from "./groupInput.ts";

/**
 * The rows of a group as a table. Columns of numbers are copied to typed arrays first: arrays that come out of JSON or a message
 * may be read 1.6 times slower.
 *
 * @throws AnalysisError `invalid-data` when the group has no rows in any known form
 */
export function groupRowsTable({ plots, table, lines }: GroupInput): Table {
  if (table !== undefined && table !== null) {
    const { header, rows, lines: own, counts = "Row", delimiter = null } = table;
    check(
      Array.isArray(header) && Array.isArray(rows) && rows.every(Array.isArray),
      "invalid-data",
      "table must have a header and rows, both arrays",
    );
    return { header, rows, lines: Int32Array.from(own ?? rows.keys()), counts, delimiter };
  }
  check(
    typeof plots === "object" && plots !== null,
    "invalid-data",
    "a group needs plots (records or columns) or a table",
  );
  const rows = Array.isArray(plots) ? rowsTable(plots) : columnsTable(plots as PlotColumns);
  return lines === undefined || lines === null ? rows : { ...rows, lines: Int32Array.from(lines) };
}

function columnsTable(plots: PlotColumns): Table {
  const header = Object.keys(plots);
  const length = plots[header[0] ?? ""]?.length ?? 0;
  const columns = header.map((name): ArrayLike<Cell | null> => {
    const column = plots[name] as ArrayLike<Cell | null>;
    check(
      typeof column === "object" && column !== null && column.length === length,
      "invalid-data",
      `columns must be arrays of one length; "${name}" has ${column?.length}, "${header[0]}" has ${length}`,
    );
    const numeric = Array.isArray(column) && column.every((value) => typeof value === "number");
    return numeric ? Float64Array.from(column as readonly number[]) : column;
  });
  return {
    header: header.map((name) => name.trim()),
    rows: Array.from({ length }, (_, i) => columns.map((column) => cell(column[i]))),
    lines: Int32Array.from({ length }, (_, i) => i + 1),
    delimiter: null,
    counts: "Row",
  };
}

function cell(value: unknown): Cell {
  if (typeof value === "number" || typeof value === "string") return value;
  return value === null || value === undefined ? "" : String(value);
}
