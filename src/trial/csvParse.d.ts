// csv-parse's own types pull in Node's; these are the members that csv.ts uses, so that the core stays free of them.
export interface CsvParseOptions {
  readonly delimiter?: string;
  readonly record_delimiter?: readonly string[];
  readonly quote?: string | null;
  readonly escape?: string;
  readonly trim?: boolean;
  readonly relax_column_count?: boolean;
  readonly skip_empty_lines?: boolean;
  /** Called for every record; returning null keeps the record out of the result. */
  readonly on_record?: (record: string[]) => null;
}
export declare function parse(text: string, options: CsvParseOptions): string[][];
export declare class CsvError extends Error {
  readonly code: string;
}
