import type { TableBatches } from "../batch/rowSource.ts";
import { AnalysisError } from "../core/errors.ts";
import type { Cell } from "../trial/table.ts";

/** Rows read at a time. */
const BATCH = 20_000;

/**
 * Reads a Parquet file through the optional package hyparquet, a part of its rows at a time. Numbers stay numbers, dates become
 * ISO dates, nothing an empty cell.
 *
 * @throws AnalysisError `not-offered` when hyparquet is not installed
 * @throws AnalysisError `unreadable-source` when the file is not Parquet or is packed in a way hyparquet cannot open
 */
export async function parquetSource(path: string): Promise<TableBatches & { readonly rowCount: number }> {
  const parquet = await import("hyparquet").catch(() => {
    throw new AnalysisError(
      "not-offered",
      "Parquet files need the package hyparquet, which is not installed: npm install hyparquet, or give CSV",
    );
  });
  const wrap = (error: unknown): AnalysisError =>
    new AnalysisError(
      "unreadable-source",
      `"${path}" cannot be read as Parquet: ${error instanceof Error ? error.message : String(error)} (snappy and uncompressed files can be read)`,
    );
  try {
    const file = await parquet.asyncBufferFromFile(path);
    const metadata = await parquet.parquetMetadataAsync(file);
    const header = parquet.parquetSchema(metadata).children.map(({ element }) => element.name);
    const count = Number(metadata.num_rows);
    return {
      header: () => header,
      delimiter: () => null,
      counts: "Row",
      rowCount: count,
      batches: (async function* () {
        for (let from = 0; from < count; from += BATCH) {
          const rowEnd = Math.min(from + BATCH, count);
          const rows = await parquet
            .parquetReadObjects({ file, metadata, rowStart: from, rowEnd })
            .catch((error: unknown) => {
              throw wrap(error);
            });
          yield {
            rows: rows.map((row) => header.map((name) => cell(row[name]))),
            lines: Int32Array.from(rows, (_, i) => from + i + 1),
          };
        }
      })(),
    };
  } catch (error) {
    throw error instanceof AnalysisError ? error : wrap(error);
  }
}

function cell(value: unknown): Cell {
  if (typeof value === "number" || typeof value === "string") return value;
  if (value === null || value === undefined) return "";
  if (typeof value === "boolean") return value ? "yes" : "no";
  if (typeof value === "bigint") return Number.isSafeInteger(Number(value)) ? Number(value) : String(value);
  if (value instanceof Date) return Number.isNaN(value.getTime()) ? "" : value.toISOString().slice(0, 10);
  return "[object]";
}
