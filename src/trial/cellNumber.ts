import type { Cell } from "./table.ts";

/** What a cell holds when a number is wanted. */
export type CellNumber =
  | { readonly kind: "number"; readonly value: number; readonly ambiguous: boolean }
  | { readonly kind: "missing" }
  | { readonly kind: "bad"; readonly reason: "text" | "infinite" | "spreadsheet-error" };

const missingWords = new Set([
  "",
  "na",
  "n/a",
  "n.a.",
  "#n/a",
  ".",
  "-",
  "--",
  "–",
  "—",
  "nan",
  "null",
  "none",
  "nil",
  "missing",
  "?",
  "*",
]);
const missing: CellNumber = { kind: "missing" };
const text: CellNumber = { kind: "bad", reason: "text" };
const infinite: CellNumber = { kind: "bad", reason: "infinite" };
const plain = /^[+-]?\d+$/;
const oneMark = /^([+-]?)(\d*)([.,])(\d*)$/;
const grouped = /^[+-]?\d{1,3}(?:([.,])\d{3})(?:\1\d{3})+$/;
const groupedWithDecimals = /^([+-]?\d{1,3}(?:([.,])\d{3})(?:\2\d{3})*)([.,])(\d+)$/;
const spaced = /^[+-]?\d{1,3}(?:[ '’\u00a0\u2009\u202f]\d{3})+(?:[.,]\d+)?$/;
const exponent = /^[+-]?(?:\d+[.,]?\d*|[.,]\d+)e[+-]?\d+$/i;

/**
 * Is this text a word for "missing"? Empty, NA, n/a, a dot, a dash and a few more, whatever their case.
 *
 * @param more - further texts the caller declared, such as "-999"
 */
export function isMissing(cell: string, more: ReadonlySet<string>): boolean {
  if (cell.length > 12) return more.size > 0 && more.has(cell.trim());
  const trimmed = cell.trim();
  return missingWords.has(trimmed.toLowerCase()) || more.has(trimmed);
}

/**
 * The number in a cell, when `decimal` is the decimal mark of the file.
 *
 * A comma or dot followed by exactly three digits (1,234) is the file's thousands mark when it is not its decimal mark, and
 * is flagged `ambiguous`, since the same text means 1.234 elsewhere. Any other shape has one meaning only and keeps it:
 * 12,5 is 12.5 and 1.234,5 is 1234.5 in every file. Blanks and apostrophes may group thousands (34 000, 34'000).
 */
export function cellNumber(cell: Cell, decimal: "." | ",", more: ReadonlySet<string>): CellNumber {
  if (typeof cell === "number") {
    if (Number.isNaN(cell)) return missing;
    return Number.isFinite(cell) ? number(cell) : infinite;
  }
  if (isMissing(cell, more)) return missing;
  if (cell.length > 64) return text;
  const trimmed = cell.trim().replace("−", "-");
  if (plain.test(trimmed)) return finite(Number(trimmed));
  const single = oneMark.exec(trimmed);
  if (single !== null) {
    const [, sign, whole = "", mark, fraction = ""] = single;
    if (whole === "" && fraction === "") return text;
    if (!couldGroup(whole, fraction)) return finite(Number(`${sign}${whole}.${fraction}`));
    const value = mark === decimal ? Number(`${sign}${whole}.${fraction}`) : Number(`${sign}${whole}${fraction}`);
    return { kind: "number", value, ambiguous: true };
  }
  if (grouped.test(trimmed)) return finite(Number(trimmed.replace(/[.,]/g, "")));
  const both = groupedWithDecimals.exec(trimmed);
  if (both !== null && both[2] !== both[3]) return finite(Number(`${both[1]?.replace(/[.,]/g, "")}.${both[4]}`));
  if (spaced.test(trimmed)) return finite(Number(trimmed.replace(/[ '’\u00a0\u2009\u202f]/g, "").replace(",", ".")));
  if (exponent.test(trimmed)) return finite(Number(trimmed.replace(",", ".")));
  if (/^[+-]?(?:inf|infinity|∞)$/i.test(trimmed)) return infinite;
  if (/^#[\w/!?]+$/.test(trimmed)) return { kind: "bad", reason: "spreadsheet-error" };
  return text;
}

/** Which mark this text proves to be decimal, whatever the file; null when it proves nothing. */
export function decimalEvidence(cell: string): "." | "," | null {
  if (cell.length > 40) return null;
  const trimmed = cell.trim();
  const single = oneMark.exec(trimmed);
  if (single !== null) {
    const [, , whole = "", mark, fraction = ""] = single;
    return fraction === "" || couldGroup(whole, fraction) ? null : (mark as "." | ",");
  }
  if (grouped.test(trimmed)) return trimmed.includes(",") ? "." : ",";
  const both = groupedWithDecimals.exec(trimmed);
  return both !== null && both[2] !== both[3] ? (both[3] as "." | ",") : null;
}

const couldGroup = (whole: string, fraction: string): boolean => fraction.length === 3 && /^[1-9]\d{0,2}$/.test(whole);
const number = (value: number): CellNumber => ({ kind: "number", value, ambiguous: false });
const finite = (value: number): CellNumber => (Number.isFinite(value) ? number(value) : infinite);
