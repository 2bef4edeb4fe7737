import { checkShape } from "../core/checkShape.ts";
import { csvCell } from "../core/csvCell.ts";

/** One cell: text, a number, a flag, or nothing. */
export type TidyCell = string | number | boolean | null;
/** One row: cells by column name; all rows of a table have the same columns. */
export type TidyRow = Readonly<Record<string, TidyCell>>;

/**
 * Rows as CSV by RFC 4180: comma, CRLF, cells quoted when they hold a comma, a quote or a line end, quotes doubled.
 *
 * A text that a spreadsheet would take for a formula (it begins with = + - @, a tab or a line end, and is no number) gets an apostrophe
 * in front, since names come from files of strangers. Numbers are written in full and stay numbers; nothing is an empty cell.
 *
 * @param columns - names of the header when there is no row; default: those of the first row
 * @example
 * csvText([{ hybrid: "=1+1", estimate: -2.5, upper: null }]); // => "hybrid,estimate,upper\r\n'=1+1,-2.5,\r\n"
 */
export function csvText(rows: readonly TidyRow[], columns: readonly string[] = Object.keys(rows[0] ?? {})): string {
  checkShape(rows, "rows", "objects");
  checkShape(columns, "columns", "labels");
  if (columns.length === 0) return "";
  const line = (cells: readonly TidyCell[]): string => `${cells.map(csvCell).join(",")}\r\n`;
  return line(columns) + rows.map((row) => line(columns.map((name) => row[name] ?? null))).join("");
}
