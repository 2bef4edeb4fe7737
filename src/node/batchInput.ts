import { createReadStream } from "node:fs";
import { stat } from "node:fs/promises";
import { extname } from "node:path";
import type { GroupBy, GroupInput, GroupOptions } from "../batch/groupInput.ts";
import { groupKey, groupRows, type KeyedRow } from "../batch/groupRows.ts";
import { type RowSource, recordRows, tableRows } from "../batch/rowSource.ts";
import { shardOf } from "../batch/shardOf.ts";
import { AnalysisError, check } from "../core/errors.ts";
import type { Issue } from "../core/issue.ts";
import type { ReadSchema } from "../trial/schema.ts";

import { csvSource } from "./csvSource.ts";
import { jsonLines } from "./jsonLines.ts";
import { parquetSource } from "./parquetSource.ts";
import { unreadable } from "./readTrialFile.ts";
import { spillRows } from "./spillRows.ts";
import type { CommandStreams } from "./streams.ts";

export type BatchFormat = "csv" | "jsonl" | "parquet";

/** One share of the work. */
export interface Shard {
  readonly index: number;
  readonly count: number;
}

export interface BatchInputOptions {
  /** A path, or "-" for the standard input. */
  readonly file: string;
  readonly format: BatchFormat;
  readonly by: GroupBy;
  /** The caller says that the rows of each group stand together. */
  readonly grouped: boolean;
  readonly shard: Shard | null;
  readonly read: ReadSchema;
  readonly options: GroupOptions;
}

/** The groups of an input. */
export interface BatchInput {
  /** Groups of this shard; null when the input is read once only. */
  readonly total: number | null;
  readonly groups: AsyncIterable<GroupInput>;
  /** What was found about the file as a whole, once the groups were read. */
  issues(): readonly Issue[];
}

/** The format a file name tells; CSV when it tells none. */
export function formatOf(file: string): BatchFormat {
  const ending = extname(file).toLowerCase();
  if (ending === ".parquet") return "parquet";
  return [".jsonl", ".ndjson"].includes(ending) ? "jsonl" : "csv";
}

/**
 * Opens an input and finds out how to bring its groups together: a file is looked through once, and when the rows of each group stand
 * together it is then streamed; else, and for the standard input, rows are gathered first.
 *
 * @throws AnalysisError `unreadable-source`, `data-problems`, `not-offered` as reading goes on
 */
export async function batchInput(given: BatchInputOptions, { stdin }: CommandStreams): Promise<BatchInput> {
  const { file, format, by, grouped, shard } = given;
  if (file !== "-") await checkFile(file);
  check(
    format !== "parquet" || file !== "-",
    "invalid-option",
    "a Parquet file cannot be read from the standard input",
  );
  const bytes = (): AsyncIterable<Uint8Array | string> => (file === "-" ? (stdin ?? nothing()) : fileBytes(file));
  if (format === "jsonl") {
    const first = await firstValue(file, bytes);
    if (first.isGroup) return groupLines(first.values ?? jsonLines(bytes()), shard, given);
    return rowInput(given, async () => {
      const values = first.values ?? jsonLines(bytes());
      first.values = null;
      return { source: recordRows(values, given) as RowSource<unknown>, issues: () => values.issues() };
    });
  }
  return rowInput(given, async () => {
    if (format === "parquet") {
      const table = await parquetSource(file);
      return { source: tableRows(table, given) as RowSource<unknown>, issues: () => [] };
    }
    const table = csvSource(bytes(), given.read);
    return { source: tableRows(table, given) as RowSource<unknown>, issues: () => table.issues() };
  });

  async function rowInput({ file: path }: BatchInputOptions, open: () => Promise<Opened>): Promise<BatchInput> {
    const once = path === "-";
    const scan = once || grouped ? null : await scanRows(inShard((await open()).source.rows(), shard, by), by);
    const { source, issues } = await open();
    const rows = inShard(source.rows(), shard, by);
    const together = grouped || scan?.together === true;
    return {
      total: scan?.groups ?? null,
      groups: (async function* () {
        try {
          const gathered = together ? groupRows(rows, { by, scattered: "error" }) : spillRows(rows, by);
          for await (const group of gathered) yield source.group(group);
        } catch (error) {
          throw error instanceof AnalysisError && error.code === "not-grouped"
            ? new AnalysisError(
                "not-grouped",
                error.message.replace(/\. Sort.*/s, ": sort them, or leave --grouped out"),
              )
            : error;
        }
      })(),
      issues,
    };
  }
}

interface Opened {
  readonly source: RowSource<unknown>;
  readonly issues: () => readonly Issue[];
}

type Values = ReturnType<typeof jsonLines>;

/** Is the first line a group? A stream that can be read once only is handed on with that line put back. */
async function firstValue(
  file: string,
  bytes: () => AsyncIterable<Uint8Array | string>,
): Promise<{ isGroup: boolean; values: Values | null }> {
  const values = jsonLines(bytes());
  const reading = values[Symbol.asyncIterator]();
  const first = await reading.next();
  const isGroup = first.done !== true && first.value.schema === "standcurve/group/1";
  if (file !== "-") {
    await reading.return?.();
    return { isGroup, values: null };
  }
  const again: Values = {
    issues: () => values.issues(),
    async *[Symbol.asyncIterator]() {
      if (first.done === true) return;
      yield first.value;
      for (let next = await reading.next(); next.done !== true; next = await reading.next()) yield next.value;
    },
  };
  return { isGroup, values: again };
}

/** Groups as another program made them; each once. */
function groupLines(values: Values, shard: Shard | null, { read, options }: BatchInputOptions): BatchInput {
  return {
    total: null,
    groups: (async function* () {
      const seen = new Set<string>();
      for await (const value of values) {
        const given = value as unknown as GroupInput;
        const group = { ...given, hybrid: String(given.hybrid), environment: given.environment ?? null };
        if (shard !== null && shardOf(group, shard.count) !== shard.index) continue;
        const key = groupKey(group);
        check(
          !seen.has(key),
          "data-problems",
          `the group "${group.hybrid}" is in the input twice: put its plots into one`,
        );
        seen.add(key);
        yield { ...group, read: { ...read, ...given.read }, options: { ...options, ...given.options } };
      }
    })(),
    issues: () => values.issues(),
  };
}

async function* inShard<T>(
  batches: AsyncIterable<readonly KeyedRow<T>[]>,
  shard: Shard | null,
  by: GroupBy,
): AsyncGenerator<readonly KeyedRow<T>[]> {
  if (shard === null) {
    yield* batches;
    return;
  }
  const known = new Map<string, boolean>();
  const wanted = ({ hybrid, environment }: KeyedRow<T>): boolean => {
    const group = { hybrid, environment: by === "hybrid" ? null : environment };
    const key = groupKey(group);
    const found = known.get(key) ?? shardOf(group, shard.count) === shard.index;
    known.set(key, found);
    return found;
  };
  for await (const batch of batches) {
    const rows = batch.filter(wanted);
    if (rows.length > 0) yield rows;
  }
}

async function scanRows<T>(
  batches: AsyncIterable<readonly KeyedRow<T>[]>,
  by: GroupBy,
): Promise<{ groups: number; together: boolean }> {
  const seen = new Set<string>();
  let last = "";
  let together = true;
  for await (const batch of batches) {
    for (const { hybrid, environment } of batch) {
      const key = groupKey({ hybrid, environment: by === "hybrid" ? null : environment });
      if (key === last) continue;
      if (seen.has(key)) together = false;
      seen.add(key);
      last = key;
    }
  }
  return { groups: seen.size, together };
}

async function checkFile(file: string): Promise<void> {
  const found = await stat(file).catch((error: unknown) => {
    throw unreadable(file, error);
  });
  check(!found.isDirectory(), "unreadable-source", `"${file}" is a folder; name a file`);
}

async function* fileBytes(file: string): AsyncGenerator<Uint8Array> {
  try {
    yield* createReadStream(file, { highWaterMark: 1 << 18 }) as AsyncIterable<Uint8Array>;
  } catch (error) {
    throw unreadable(file, error);
  }
}

async function* nothing(): AsyncGenerator<Uint8Array> {}
