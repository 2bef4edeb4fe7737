// Also as full-width characters, which spreadsheets of the Far East take for the same.
const formulaStart = /^[=+\-@\t\r\n\uFF1D\uFF0B\uFF0D\uFF20]/;
const plainNumber = /^[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?$/i;

/**
 * One cell of a CSV file by RFC 4180: quoted when it holds a comma, a quote, a line end or blanks at an end, quotes doubled.
 *
 * A text that a spreadsheet would take for a formula (it begins with = + - @, a tab or a line end, and is no plain number) gets an
 * apostrophe in front, since names come from files of strangers. Numbers and flags stay as they are; nothing is an empty cell.
 *
 * Source: RFC 4180, section 2; formula characters as listed by OWASP, CSV Injection.
 */
export function csvCell(cell: string | number | boolean | null): string {
  if (cell === null) return "";
  if (typeof cell !== "string") return String(cell);
  const safe = formulaStart.test(cell) && !plainNumber.test(cell) ? `'${cell}` : cell;
  return /[",\r\n]/.test(safe) || safe !== safe.trim() ? `"${safe.replaceAll('"', '""')}"` : safe;
}
