import { AnalysisError } from "../core/errors.ts";
import { rowsTable } from "../trial/rowsTable.ts";
import type { ReadSchema } from "../trial/schema.ts";
import type { Cell, Table } from "../trial/table.ts";
import { type TableHead, tableHead } from "../trial/tableHead.ts";
import type { GroupInput, GroupOptions } from "./groupInput.ts";
import type { KeyedRow, RowGroup } from "./groupRows.ts";

/** Rows with whom they belong to, and how groups are made of them. Read once, from the top. */
export interface RowSource<T> {
  rows(): AsyncIterable<readonly KeyedRow<T>[]>;
  /** Once the first rows were read. */
  group(rows: RowGroup<T>): GroupInput;
}

/** A plot as a notebook or another program has it. */
export type PlotRecord = Readonly<Record<string, unknown>>;

/** How the rows are read and analysed. */
export interface SourceOptions {
  /** What the headers do not say. */
  readonly read?: ReadSchema;
  readonly options?: GroupOptions;
}

/** A table that arrives in batches of rows; the header is there from the first batch on. */
export interface TableBatches {
  readonly header: () => readonly string[];
  readonly delimiter: () => string | null;
  readonly counts: "Line" | "Row";
  readonly batches: AsyncIterable<{ readonly rows: readonly (readonly Cell[])[]; readonly lines: ArrayLike<number> }>;
}

/** Rows looked at to find columns, units and the decimal mark. */
const SAMPLE = 1000;
const BATCH = 500;

/**
 * Rows of a table.
 *
 * @throws AnalysisError `data-problems`, while reading, when columns or units cannot be made out from the first rows
 */
export function tableRows(
  { header, delimiter, counts, batches }: TableBatches,
  { read = {}, options = {} }: SourceOptions,
): RowSource<readonly Cell[]> {
  let head: TableHead | null = null;
  const open = (rows: readonly (readonly Cell[])[], lines: readonly number[]): TableHead => {
    const sample: Table = { header: header(), rows, lines, delimiter: delimiter(), counts };
    head = tableHead(sample, read);
    refuse(head);
    return head;
  };
  return {
    async *rows() {
      let keyOf: TableHead["keyOf"] | null = null;
      let rows: (readonly Cell[])[] = [];
      let lines: number[] = [];
      const flush = (): KeyedRow<readonly Cell[]>[] => {
        let from = 0;
        if (keyOf === null) {
          const found = open(rows.slice(0, SAMPLE), lines.slice(0, SAMPLE));
          keyOf = found.keyOf;
          from = found.unitRows;
        }
        const keyed = keyOf;
        const out = rows.slice(from).map((row, i) => ({ ...keyed(row), row, line: lines[from + i] ?? 0 }));
        rows = [];
        lines = [];
        return out;
      };
      for await (const batch of batches) {
        for (let i = 0; i < batch.rows.length; i++) {
          rows.push(batch.rows[i] as readonly Cell[]);
          lines.push(batch.lines[i] ?? 0);
        }
        if (rows.length >= SAMPLE) yield flush();
      }
      if (rows.length > 0) yield flush();
    },
    group: ({ hybrid, environment, rows, lines }) => ({
      schema: "standcurve/group/1",
      hybrid,
      environment,
      table: { header: header(), rows, lines, counts, delimiter: delimiter() },
      read: head?.schema ?? read,
      options,
    }),
  };
}

/**
 * Rows given as records.
 *
 * @throws AnalysisError `data-problems`, while reading, when columns or units cannot be made out from the first records
 */
export function recordRows(
  records: AsyncIterable<PlotRecord>,
  { read = {}, options = {} }: SourceOptions,
): RowSource<PlotRecord> {
  let schema = read;
  return {
    async *rows() {
      let line = 0;
      let batch: PlotRecord[] = [];
      let keyOf: ((record: PlotRecord) => { hybrid: string; environment: string }) | null = null;
      const flush = (): KeyedRow<PlotRecord>[] => {
        let from = 0;
        if (keyOf === null) {
          const table = rowsTable(batch);
          const head = tableHead(table, read);
          refuse(head);
          schema = head.schema;
          from = head.unitRows;
          keyOf = (record) => head.keyOf(cellsOf(record, table.header));
        }
        const keyed = keyOf;
        line += from;
        const rows = batch.slice(from).map((row) => ({ ...keyed(row), row, line: ++line }));
        batch = [];
        return rows;
      };
      for await (const record of records) {
        batch.push(record);
        if (batch.length >= (keyOf === null ? SAMPLE : BATCH)) yield flush();
      }
      if (batch.length > 0) yield flush();
    },
    group: ({ hybrid, environment, rows, lines }) => ({
      schema: "standcurve/group/1",
      hybrid,
      environment,
      plots: rows,
      lines,
      read: schema,
      options,
    }),
  };
}

function cellsOf(record: PlotRecord, header: readonly string[]): Cell[] {
  const values = new Map(Object.entries(record).map(([name, value]) => [name.trim(), value]));
  return header.map((name) => {
    const value = values.get(name);
    if (typeof value === "number" || typeof value === "string") return value;
    return value === null || value === undefined ? "" : String(value);
  });
}

/** Columns and units are the same for all groups: one clear refusal instead of a thousand. */
function refuse({ errors }: TableHead): void {
  if (errors.length === 0) return;
  const lines = errors.slice(0, 30).map(({ message }) => `- ${message}`);
  throw new AnalysisError("data-problems", `the columns cannot be used:\n${lines.join("\n")}`);
}
