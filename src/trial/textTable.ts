import { check } from "../core/errors.ts";
import type { IssueLog } from "./issueLog.ts";
import { numberText } from "./numberText.ts";
import type { Settings } from "./schema.ts";
import type { Table } from "./table.ts";
import { tableReader } from "./tableReader.ts";

const defaultMaxCharacters = 200_000_000;
const defaultMaxRows = 10_000_000;

/**
 * Text to table: byte order mark, separator, header line, blank lines, line numbers. Null when there is no table in it.
 *
 * @throws AnalysisError `unreadable-source` when the text is longer than `maxCharacters`, is not text at all (a workbook,
 *   a web page, a PDF, UTF-16 read as UTF-8), its first line is longer than a million characters, or it has more rows or columns
 *   than `maxRows` and `maxColumns`
 */
export function textTable(source: string, settings: Settings, log: IssueLog): Table | null {
  const most = settings.maxCharacters ?? defaultMaxCharacters;
  check(
    source.length <= most,
    "unreadable-source",
    `the text has ${numberText(source.length)} characters; at most ${numberText(most)} are read: split the file, average yield-monitor points to plots first, or raise schema.maxCharacters`,
  );
  const reader = tableReader({ ...settings, maxRows: settings.maxRows ?? defaultMaxRows }, log);
  const parts = [reader.push(source), reader.end()];
  const header = reader.header ?? [];
  if (header.length === 0) return null;
  const [rows, lines] = parts[0].rows.length === 0 ? [parts[1].rows, parts[1].lines] : joined(parts);
  return { header, rows, lines, delimiter: reader.delimiter, counts: "Line" };
}

function joined(
  parts: readonly { readonly rows: readonly (readonly string[])[]; readonly lines: readonly number[] }[],
): [(readonly string[])[], number[]] {
  return [parts.flatMap((part) => [...part.rows]), parts.flatMap((part) => [...part.lines])];
}
