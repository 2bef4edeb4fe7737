import { check } from "../core/errors.ts";
import { type CsvReader, csvReader, wholeRecords } from "./csv.ts";
import { detectDelimiter } from "./delimiter.ts";
import type { IssueLog } from "./issueLog.ts";
import { matchHeader } from "./matchHeader.ts";
import { numberText } from "./numberText.ts";
import { mostColumns, type Settings } from "./schema.ts";

const longestHeaderLine = 1_000_000;
const longestLine = 16_000_000;
/** Enough to find separator and header in: all that the two look at. */
const HEAD = 200_000;

/** Rows of a table, and the line each begins on. */
export interface TableRows {
  readonly rows: readonly (readonly string[])[];
  readonly lines: readonly number[];
}

/** A table read from text that comes in parts of any size. */
export interface TableReader {
  /** Rows below the header that are complete by now. */
  push(text: string): TableRows;
  /** The rows that are left; what was found about the whole text is reported now. */
  end(): TableRows;
  /** Null until it was found; empty when there is none. */
  readonly header: readonly string[] | null;
  readonly delimiter: string | null;
}

/**
 * Byte order mark, separator, header line, blank and repeated lines, line numbers, with memory for one part of the text at a time.
 *
 * @throws AnalysisError `unreadable-source` when the text is no table at all, its header is longer than a million characters or has
 *   more columns than `maxColumns`, there are more rows than `maxRows`, or a line of a text in parts is longer than 16 million characters
 */
export function tableReader(settings: Settings, log: IssueLog): TableReader {
  let kept = "";
  let csv: CsvReader | null = null;
  let header: readonly string[] | null = null;
  let delimiter: string | null = null;
  let blanks = 0;
  let begun = false;
  let wanted = 0;
  const bad = badCharacterReport(log);
  const columnLimit = settings.maxColumns ?? mostColumns;
  const rowLimit = settings.maxRows ?? Number.POSITIVE_INFINITY;
  let count = 0;

  const open = (text: string): string => {
    checkReadable(text);
    const plain = text.charCodeAt(0) === 0xfeff ? text.slice(1) : text;
    // Some spreadsheets write "sep=;" on a line of its own above the header.
    const named = /^"?sep=([,;|\t])"?(?=[\r\n])/i.exec(plain);
    const body = named === null ? plain : plain.slice(named[0].length);
    delimiter = settings.delimiter ?? named?.[1] ?? detectDelimiter(body);
    csv = csvReader(delimiter, log);
    return body;
  };
  const read = (text: string): TableRows => {
    bad.look(text);
    const { records, lines } = (csv as CsvReader).read(text);
    let from = 0;
    if (header === null) {
      const first = headerRecord(records);
      const found = (records[first] ?? []).map((cell) => cell.trim());
      while (found.length > 1 && found.at(-1) === "") found.pop();
      header = first === -1 || found.every((cell) => cell === "") ? [] : found;
      if (header.length === 0) return { rows: [], lines: [] };
      check(
        header.length <= columnLimit,
        "unreadable-source",
        `the header has ${header.length > mostColumns ? `more than ${numberText(mostColumns)}` : numberText(header.length)} columns; at most ${numberText(columnLimit)} are read: is this a table, one row a plot?`,
      );
      check(
        header.join("").length <= longestHeaderLine,
        "unreadable-source",
        "the first line is longer than a million characters: this is not a table",
      );
      reportTitles(records, lines, first, log);
      from = first + 1;
    }
    const names = header;
    const rows: (readonly string[])[] = [];
    const rowLines: number[] = [];
    for (let i = from; i < records.length; i++) {
      const record = records[i] as readonly string[];
      const line = lines[i] ?? 0;
      if (isBlank(record)) blanks += 1;
      else if (record.length >= names.length && repeats(record, names)) {
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
    count += rows.length;
    check(
      count <= rowLimit,
      "unreadable-source",
      `the table has more than ${numberText(rowLimit)} rows: split the file, average yield-monitor points to plots first, or raise schema.maxRows`,
    );
    return { rows, lines: rowLines };
  };
  const nothing: TableRows = { rows: [], lines: [] };
  return {
    push(text) {
      kept += text;
      if (!begun) {
        if (kept.length < HEAD) return nothing;
        begun = true;
        kept = open(kept);
      }
      if (kept.length < wanted) return nothing;
      const end = wholeRecords(kept);
      if (end === 0) {
        // A long record in many small parts: looked at again only when there is half as much more of it.
        wanted = kept.length * 1.5;
        check(
          kept.length <= longestLine,
          "unreadable-source",
          `a line is longer than ${numberText(longestLine)} characters: this is not a table`,
        );
        return nothing;
      }
      const ready = kept.slice(0, end);
      kept = kept.slice(end);
      wanted = kept.length * 1.5;
      return read(ready);
    },
    end() {
      if (!begun) kept = open(kept);
      begun = true;
      const rest = kept === "" && header !== null ? nothing : read(kept);
      kept = "";
      bad.report();
      if (header?.length === 0) {
        log.add({
          severity: "error",
          code: "empty-file",
          rule: "a table needs a header line and rows",
          remedy: "check that the right file was given; this one is empty",
        });
      }
      if (blanks > 0) {
        const what = blanks === 1 ? "one row is blank and was" : `${numberText(blanks)} rows are blank and were`;
        log.add({
          severity: "note",
          code: "blank-rows",
          count: blanks,
          rule: `${what} skipped`,
          remedy: "nothing to do",
        });
      }
      return rest;
    },
    get header() {
      return header;
    },
    get delimiter() {
      return delimiter;
    },
  };
}

function isBlank(record: readonly string[]): boolean {
  for (const cell of record) if (cell !== "" && cell.trim() !== "") return false;
  return true;
}

function repeats(record: readonly string[], header: readonly string[]): boolean {
  for (let j = 0; j < header.length; j++) if (header[j] !== record[j] && header[j] !== record[j]?.trim()) return false;
  return true;
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
function badCharacterReport(log: IssueLog): { look(text: string): void; report(): void } {
  const found = badCharacters.map(() => ({ count: 0, row: 0, received: "" }));
  let lines = 0;
  const lineEnds = (text: string): number => text.match(/\r\n|\n|\r/g)?.length ?? 0;
  return {
    look(text) {
      badCharacters.forEach(([character], i) => {
        const first = text.indexOf(character);
        const entry = found[i];
        if (first === -1 || entry === undefined) return;
        if (entry.count === 0) {
          entry.row = lines + lineEnds(text.slice(0, first)) + 1;
          entry.received = text.slice(Math.max(0, first - 20), first + 20);
        }
        entry.count += text.split(character).length - 1;
      });
      lines += lineEnds(text);
    },
    report() {
      badCharacters.forEach(([, code, rule, remedy], i) => {
        const { count = 0, row = 0, received = "" } = found[i] ?? {};
        if (count > 0) log.add({ severity: "warning", code, row, received, count, rule, remedy });
      });
    },
  };
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

function checkReadable(text: string): void {
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
