import { hashText } from "../core/hash.ts";
import { issueLog } from "./issueLog.ts";
import { buildTrial, type TrialReading } from "./readTrial.ts";
import { checkSchema, type ReadSchema } from "./schema.ts";
import type { Table } from "./table.ts";

/**
 * `readTrial` for cells that were split already: the rows of one group, say, with the lines they have in their file.
 *
 * The input hash is that of header and cells as JSON, so it does not depend on where in a file the rows lie.
 *
 * @throws AnalysisError `invalid-option` when the schema breaks a rule
 */
export function readTable(table: Table, schema: ReadSchema): TrialReading {
  const settings = checkSchema(schema);
  const log = issueLog(table.counts, settings.issueLimit ?? 50);
  const trial = buildTrial(table, settings, log, tableHash(table));
  return { trial, issues: log.list() };
}

/** SHA-256 of header and cells. */
export function tableHash({ header, rows }: Pick<Table, "header" | "rows">): string {
  return hashText(JSON.stringify([header, rows]));
}
