import { randomUUID } from "node:crypto";
import { closeSync, openSync, writeSync } from "node:fs";
import { mkdir, rename, rm } from "node:fs/promises";
import { join } from "node:path";
import type { GroupResult } from "../batch/groupResult.ts";
import { csvText, type TidyRow } from "../report/csvText.ts";
import { type TidyTables, tidyColumns, tidyTables } from "../report/tidyTables.ts";
import { refuseExisting, resultHeads } from "./batchOutput.ts";

/** A group holds one hybrid, so there is nothing to compare; issues are those of the group, analysed or not. */
const kept = (Object.keys(tidyColumns) as (keyof TidyTables)[]).filter(
  (name) => name !== "comparisons" && name !== "issues",
);
const groupColumns = [
  "hybrid",
  "environment",
  "status",
  "reason",
  "rows",
  "first_row",
  "last_row",
  "seed",
  "input_hash",
];

/**
 * Tidy tables out of the results of a batch, written as they are read, into a new folder.
 *
 * Rows about the group itself and its issues name the hybrid; the environment of a group of one environment fills empty cells.
 */
export async function resultTables(files: readonly string[], folder: string): Promise<readonly string[]> {
  await refuseExisting(folder);
  const stage = `${folder}.${randomUUID()}.tmp`;
  await mkdir(stage, { recursive: true });
  const columns: Record<string, readonly string[]> = {
    groups: groupColumns,
    ...Object.fromEntries(kept.map((name) => [name, named(tidyColumns[name])])),
    issues: named(tidyColumns.issues),
  };
  const names = Object.keys(columns);
  const open = new Map(names.map((name) => [name, openSync(join(stage, `${name}.csv`), "wx")]));
  const add = (name: string, rows: readonly TidyRow[]): void => {
    if (rows.length === 0) return;
    const text = csvText(rows, columns[name]);
    writeSync(open.get(name) as number, text.slice(text.indexOf("\r\n") + 2));
  };
  try {
    for (const name of names) writeSync(open.get(name) as number, csvText([], columns[name]));
    for (const file of files) {
      for await (const { line } of resultHeads(file)) {
        const result = JSON.parse(line) as GroupResult;
        const tables: Partial<TidyTables> = result.analysis === null ? {} : tidyTables(result.analysis);
        const { hybrid, environment } = result;
        const place = (rows: readonly TidyRow[] = []): readonly TidyRow[] =>
          rows.map((row) => ({ ...row, hybrid, environment: row.environment ?? environment }));
        for (const name of kept) add(name, place(tables[name]));
        add("groups", [groupRow(result)]);
        add("issues", place(issueRows(result)));
      }
    }
    for (const file of open.values()) closeSync(file);
    await rename(stage, folder);
  } catch (error) {
    await rm(stage, { recursive: true, force: true });
    throw error;
  }
  return names.map((name) => join(folder, `${name}.csv`));
}

/** Every table says whose rows they are. */
const named = (columns: readonly string[]): readonly string[] => [
  ...["hybrid", "environment"].filter((name) => !columns.includes(name)),
  ...columns,
];

function groupRow({ hybrid, environment, status, reason, rows, seed, inputHash }: GroupResult): TidyRow {
  return {
    hybrid,
    environment,
    status,
    reason,
    rows: rows.count,
    first_row: rows.first,
    last_row: rows.last,
    seed,
    input_hash: inputHash,
  };
}

function issueRows({ issues }: GroupResult): TidyRow[] {
  return issues.map(({ severity, code, row, column, received, rule, remedy, count }) => ({
    severity,
    code,
    row,
    column,
    received,
    rule,
    remedy,
    count: count ?? null,
  }));
}
