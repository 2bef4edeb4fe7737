import { check } from "../core/errors.ts";
import { parseCsv } from "./csv.ts";
import { detectDelimiter } from "./delimiter.ts";
import type { IssueLog } from "./issueLog.ts";
import { matchHeader } from "./matchHeader.ts";
import { numberText } from "./numberText.ts";
import type { Settings } from "./schema.ts";
import type { Table } from "./table.ts";

const defaultMaxCharacters = 200_000_000;
const longestHeaderLine = 1_000_000;

/**
 * Text to table: byte order mark, separator, header line, blank lines, line numbers. Null when there is no table in it.
 *
 * @throws AnalysisError `unreadable-source` when the text is longer than `maxCharacters`, is not text at all (a workbook,
 *   a web page, a PDF, UTF-16 read as UTF-8), or its first line is longer than a million characters
 */
export function textTable(source: string, settings: Settings, log: IssueLog): Table | null {
  checkReadable(source, settings.maxCharacters ?? defaultMaxCharacters);
  const text = source.charCodeAt(0) === 0xfeff ? source.slice(1) : source;
  reportBadCharacters(text, log);
  // Some spreadsheets write "sep=;" on a line of its own above the header.
  const named = /^"?sep=([,;|\t])"?(?=[\r\n])/i.exec(text);
  const body = named === null ? text : text.slice(named[0].length);
  const delimiter = settings.delimiter ?? named?.[1] ?? detectDelimiter(body);
  const { records, lines } = parseCsv(body, delimiter, log);
  const first = headerRecord(records);
  const header = (records[first] ?? []).map((cell) => cell.trim());
  while (header.length > 1 && header.at(-1) === "") header.pop();
  if (first === -1 || header.every((cell) => cell === "")) {
    log.add({
      severity: "error",
      code: "empty-file",
      rule: "a table needs a header line and rows",
      remedy: "check that the right file was given; this one is empty",
    });
    return null;
  }
  check(
    header.join("").length <= longestHeaderLine,
    "unreadable-source",
    "the first line is longer than a million characters: this is not a table",
  );
  reportTitles(records, lines, first, log);
  const rows: string[][] = [];
  const rowLines: number[] = [];
  let blanks = 0;
  for (let i = first + 1; i < records.length; i++) {
    const record = records[i] as string[];
    const line = lines[i] ?? 0;
    if (record.every((cell) => cell.trim() === "")) {
      blanks += 1;
    } else if (record.length >= header.length && header.every((name, j) => name === record[j]?.trim())) {
      log.add({
        severity: "note",
        code: "repeated-header",
        row: line,
        rule: "the header appears again here",
        remedy: "the line was skipped; nothing to do if files were put together",
      });
    } else {
      rows.push(record);
      rowLines.push(line);
    }
  }
  if (blanks > 0) {
    const what = blanks === 1 ? "one row is blank and was" : `${numberText(blanks)} rows are blank and were`;
    log.add({ severity: "note", code: "blank-rows", count: blanks, rule: `${what} skipped`, remedy: "nothing to do" });
  }
  return { header, rows, lines: rowLines, delimiter, counts: "Line" };
}

/** The first record with anything in it, or a later one of the first ten when only that one reads like a header. */
function headerRecord(records: readonly (readonly string[])[]): number {
  const first = records.findIndex((record) => record.some((cell) => cell.trim() !== ""));
  if (first === -1 || recognised(records[first] ?? []) > 0) return first;
  for (let i = first + 1; i < Math.min(records.length, first + 10); i++) {
    if (recognised(records[i] ?? []) >= 3) return i;
  }
  return first;
}

const recognised = (record: readonly string[]): number =>
  record.filter((cell) => matchHeader(cell).match !== null).length;

function reportTitles(
  records: readonly (readonly string[])[],
  lines: readonly number[],
  first: number,
  log: IssueLog,
): void {
  for (let i = 0; i < first; i++) {
    const record = records[i] ?? [];
    if (record.every((cell) => cell.trim() === "")) continue;
    log.add({
      severity: "note",
      code: "title-line",
      row: lines[i] ?? null,
      received: record.filter((cell) => cell.trim() !== "").join(" "),
      rule: `this line is above the header, which is on line ${lines[first]}`,
      remedy: "it was skipped",
    });
  }
}

/** Characters that no table should have: what a decoder leaves for bytes it cannot read, and NUL. */
function reportBadCharacters(text: string, log: IssueLog): void {
  for (const [character, code, rule, remedy] of badCharacters) {
    const first = text.indexOf(character);
    if (first === -1) continue;
    log.add({
      severity: "warning",
      code,
      row: (text.slice(0, first).match(/\r\n|\n|\r/g)?.length ?? 0) + 1,
      received: text.slice(Math.max(0, first - 20), first + 20),
      count: text.split(character).length - 1,
      rule,
      remedy,
    });
  }
}

const badCharacters = [
  [
    "\ufffd",
    "invalid-utf8",
    "the file has bytes that are not UTF-8, so some letters were lost (shown as \ufffd)",
    "save it as CSV UTF-8; names that should be alike may differ now",
  ],
  ["\u0000", "nul-character", "the file has NUL characters, which no text should have", "export the table again"],
] as const;

function checkReadable(text: string, most: number): void {
  check(
    text.length <= most,
    "unreadable-source",
    `the text has ${numberText(text.length)} characters; at most ${numberText(most)} are read: split the file, average yield-monitor points to plots first, or raise schema.maxCharacters`,
  );
  const start = text.slice(0, 4096);
  check(
    !start.startsWith("PK\u0003\u0004"),
    "unreadable-source",
    "this is a spreadsheet workbook or zip archive, not text: save the sheet as CSV (UTF-8)",
  );
  check(!start.startsWith("%PDF-"), "unreadable-source", "this is a PDF, not a table: export the data as CSV");
  check(
    !/^\s*<(?:!doctype html|html|\?xml)/i.test(start),
    "unreadable-source",
    "this is a web page or XML, not a table: export the data as CSV",
  );
  const zeros = start.length - start.replaceAll("\u0000", "").length;
  check(
    zeros < 8 || zeros < start.length / 10,
    "unreadable-source",
    "the text is full of NUL characters: the file is UTF-16 read as UTF-8, or not text; save it as CSV (UTF-8)",
  );
}
