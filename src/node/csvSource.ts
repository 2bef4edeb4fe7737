import type { TableBatches } from "../batch/rowSource.ts";
import type { Issue } from "../core/issue.ts";
import { issueLog } from "../trial/issueLog.ts";
import { checkSchema, type ReadSchema } from "../trial/schema.ts";
import { tableReader } from "../trial/tableReader.ts";
import { textParts } from "./textParts.ts";

/** A table in a stream of delimited text; `issues` once it was read. */
export interface CsvSource extends TableBatches {
  issues(): readonly Issue[];
}

/** Reads delimited text row by row, with memory for one part of it at a time. */
export function csvSource(bytes: AsyncIterable<Uint8Array | string>, schema: ReadSchema): CsvSource {
  const settings = checkSchema(schema);
  const log = issueLog("Line", settings.issueLimit ?? 50);
  const reader = tableReader(settings, log);
  const parts = textParts(bytes);
  return {
    header: () => reader.header ?? [],
    delimiter: () => reader.delimiter,
    counts: "Line",
    batches: (async function* () {
      for await (const text of parts) {
        const found = reader.push(text);
        if (found.rows.length > 0) yield found;
      }
      yield reader.end();
    })(),
    issues: () => [...parts.issues, ...log.list()],
  };
}
