import { CsvError, parse } from "csv-parse/browser/esm/sync";
import type { IssueLog } from "./issueLog.ts";
import { numberText } from "./numberText.ts";

/** Cells as text, and the line on which each record begins, counted as an editor does. */
export interface CsvRecords {
  readonly records: readonly (readonly string[])[];
  readonly lines: readonly number[];
}

const pieceLength = 1 << 18;
const longestQuoted = 1_000_000;
const mostQuoteFaults = 100;
/** One more than a table may have, so that its reader sees that there are too many. */
const mostCells = 10_001;
const unclosedQuote = "CSV_QUOTE_NOT_CLOSED";

/** Reads a text that comes in parts; lines are counted on from one part to the next. */
export interface CsvReader {
  /** Records of the next part, which must begin and end with a record. */
  read(text: string): CsvRecords;
}

/**
 * Splits delimited text into records. The one place that touches csv-parse.
 *
 * The text goes to the parser in pieces cut at line ends where quotes are balanced, so memory stays flat and a broken quote
 * costs one line, not the file: that line is read with its quotes as ordinary characters, reported, and reading resumes on
 * the next. Pieces without a quote need no parser: two splits give the same cells ten times faster. Cost is linear in the
 * length of the text. Rows keep whatever number of cells they have; blank lines are records of one empty cell.
 *
 * @param text - without byte order mark
 * @param delimiter - one character
 */
export function parseCsv(text: string, delimiter: string, log: IssueLog): CsvRecords {
  return csvReader(delimiter, log).read(text);
}

/** The same for a text in parts. */
export function csvReader(delimiter: string, log: IssueLog): CsvReader {
  let line = 1;
  let faults = 0;
  return {
    read(text) {
      const records: string[][] = [];
      const lines: number[] = [];
      const ends = lineEnds(text);
      let position = 0;
      let wanted = pieceLength;
      const push = (record: string[], spans: boolean): void => {
        records.push(record.length > mostCells ? record.slice(0, mostCells) : record);
        lines.push(line);
        line += 1;
        if (spans) for (const cell of record) line += countLineEnds(cell);
      };
      while (position < text.length) {
        const piece = ends.piece(position, wanted);
        if (faults > mostQuoteFaults || !piece.includes('"') || piece.length > 16 * longestQuoted) {
          for (const row of splitLines(piece)) push(plainCells(row, delimiter), false);
          position += piece.length;
          continue;
        }
        const before = { records: records.length, line };
        const code = parsePiece(piece, delimiter, (record) => push(record, true));
        if (code === null) {
          position += piece.length;
          wanted = Math.min(pieceLength, wanted * 4);
          continue;
        }
        // The parser stopped inside the record that begins on `line`: skip what it delivered, read that one line as it stands.
        position = ends.skip(position, line - before.line);
        const broken = ends.skip(position, 1);
        // An unclosed quote costs the parser up to a million characters, so fewer of them are allowed.
        faults += code === unclosedQuote ? 10 : 1;
        reportQuote(log, code, line, text.slice(position, broken), faults > mostQuoteFaults);
        for (const row of splitLines(text.slice(position, broken))) push(plainCells(row, delimiter), false);
        position = broken;
        wanted = 4096;
      }
      return { records, lines };
    },
  };
}

/**
 * How much of a text can be read now, when more of it will follow: up to the last line end outside quotes; with none in reach
 * of the longest quoted cell, up to the last line end (a quote was left open, which the reader reports).
 */
export function wholeRecords(text: string): number {
  // A carriage return at the very end may be half of a line end.
  const end = Math.max(text.lastIndexOf("\n"), text.lastIndexOf("\r", text.length - 2));
  if (end === -1) return 0;
  let odd = countQuotes(text, 0, end + 1) % 2 === 1;
  // Back to a line end outside quotes, each character looked at once: to search for line ends from every line would be quadratic.
  for (let cut = end; cut >= 0; cut--) {
    const code = text.charCodeAt(cut);
    if (code === quoteCode) odd = !odd;
    else if (!odd && isLineEnd(code)) return text.length - cut <= 2 * longestQuoted ? cut + 1 : end + 1;
  }
  return text.length > longestQuoted ? end + 1 : 0;
}

const quoteCode = 34;
const isLineEnd = (code: number): boolean => code === 10 || code === 13;

/**
 * Delivers the records of one piece; the fault's code when the parser gave up, else null. The parser drops a last line of blanks
 * that has no line end, so it always gets one.
 */
function parsePiece(piece: string, delimiter: string, deliver: (record: string[]) => void): string | null {
  try {
    parse(piece.endsWith("\n") || piece.endsWith("\r") ? piece : `${piece}\n`, {
      delimiter,
      record_delimiter: ["\r\n", "\n", "\r"],
      quote: '"',
      escape: '"',
      trim: true,
      relax_column_count: true,
      skip_empty_lines: false,
      on_record: (record) => {
        deliver(record);
        return null;
      },
    });
    return null;
  } catch (error) {
    if (error instanceof CsvError) return error.code;
    throw error;
  }
}

function reportQuote(log: IssueLog, code: string, row: number, received: string, last: boolean): void {
  const unclosed = code === unclosedQuote;
  log.add({
    severity: "warning",
    code: unclosed ? "unclosed-quote" : "stray-quote",
    row,
    received,
    rule: unclosed
      ? `a cell that opens with a double quote must close with one, within ${numberText(longestQuoted)} characters`
      : 'a double quote inside a cell must be doubled ("") and the cell quoted',
    remedy: "this line was read with its quotes as ordinary characters; correct it in the file",
  });
  if (last) {
    log.add({
      severity: "error",
      code: "quotes-ignored",
      row,
      rule: "after so many lines with broken quotes the rest of the file is read with quotes as ordinary characters",
      remedy: "export the table again, with quotes doubled inside quoted cells",
    });
  }
}

/** Finds line ends (CRLF, LF or CR) without scanning for a kind that the text does not have. */
function lineEnds(text: string): {
  piece(from: number, wanted: number): string;
  skip(from: number, count: number): number;
} {
  const pattern = text.includes("\r") ? (text.includes("\n") ? /\r\n|\n|\r/g : /\r/g) : /\n/g;
  const next = (from: number): number => {
    pattern.lastIndex = from;
    return pattern.exec(text) === null ? text.length : pattern.lastIndex;
  };
  return {
    piece(from, wanted) {
      let end = next(Math.min(text.length, from + wanted - 1));
      let odd = countQuotes(text, from, end) % 2 === 1;
      while (odd && end < text.length && end - from < longestQuoted) {
        const further = next(end);
        odd = countQuotes(text, end, further) % 2 === 0;
        end = further;
      }
      return text.slice(from, end);
    },
    skip(from, count) {
      let position = from;
      for (let i = 0; i < count; i++) position = next(position);
      return position;
    },
  };
}

function countQuotes(text: string, from: number, to: number): number {
  let count = 0;
  const part = text.slice(from, to);
  for (let at = part.indexOf('"'); at !== -1; at = part.indexOf('"', at + 1)) count += 1;
  return count;
}

function countLineEnds(cell: string): number {
  return cell.includes("\n") || cell.includes("\r") ? (cell.match(/\r\n|\n|\r/g)?.length ?? 0) : 0;
}

/** Cells of a line without quotes, trimmed as the parser trims them: where a text is cut must not show in its cells. */
function plainCells(line: string, delimiter: string): string[] {
  const cells = line.split(delimiter, mostCells);
  for (let j = 0; j < cells.length; j++) {
    const cell = cells[j] as string;
    if (mayBeBlank(cell.charCodeAt(0)) || mayBeBlank(cell.charCodeAt(cell.length - 1))) cells[j] = cell.trim();
  }
  return cells;
}

/** Blanks and line ends of ASCII, and all from the no-break space on, where the other blanks of Unicode are. */
const mayBeBlank = (code: number): boolean => code <= 32 || code >= 160;

/** Lines of a piece; the line end that closes the piece does not open another line. */
function splitLines(piece: string): string[] {
  const rows = piece.includes("\r") ? piece.split(/\r\n|\n|\r/) : piece.split("\n");
  if (rows.at(-1) === "") rows.pop();
  return rows;
}
