import { createReadStream, createWriteStream, type WriteStream } from "node:fs";
import { mkdtemp, rm } from "node:fs/promises";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { type GroupRowsOptions, groupKey, groupRows, type KeyedRow, type RowGroup } from "../batch/groupRows.ts";
import { shardOf } from "../batch/shardOf.ts";
import { lines } from "./jsonLines.ts";

const PARTS = 64;
/** Characters of rows held in memory before they go to disk. */
const IN_MEMORY = 24_000_000;

/**
 * Gathers rows that do not stand together. Small inputs stay in memory, and groups come in the order in which they first appear; larger
 * ones go to temporary files by group, and memory holds one file, 1/64 of the input.
 */
export async function* spillRows<T>(
  batches: AsyncIterable<readonly KeyedRow<T>[]>,
  by: GroupRowsOptions["by"],
  inMemory: number = IN_MEMORY,
): AsyncGenerator<RowGroup<T>> {
  const held: KeyedRow<T>[][] = [];
  let size = 0;
  let folder: string | null = null;
  let parts: WriteStream[] = [];
  const write = async (batch: readonly KeyedRow<T>[]): Promise<void> => {
    const texts = new Map<number, string>();
    for (const keyed of batch) {
      const environment = by === "hybrid" ? null : keyed.environment;
      const part = shardOfKey(groupKey({ hybrid: keyed.hybrid, environment }));
      texts.set(part, `${texts.get(part) ?? ""}${JSON.stringify(keyed)}\n`);
    }
    for (const [part, text] of texts) {
      const stream = parts[part] as WriteStream;
      if (!stream.write(text)) await new Promise<void>((resolve) => stream.once("drain", () => resolve()));
    }
  };
  try {
    for await (const batch of batches) {
      if (folder !== null) {
        await write(batch);
        continue;
      }
      held.push([...batch]);
      size += roughSize(batch);
      if (size < inMemory) continue;
      folder = await mkdtemp(join(tmpdir(), "standcurve-rows-"));
      const here = folder;
      parts = Array.from({ length: PARTS }, (_, i) => createWriteStream(join(here, `${i}.jsonl`)));
      for (const early of held) await write(early);
      held.length = 0;
    }
    if (folder === null) {
      yield* groupRows(fromArray(held), { by, scattered: "collect" });
      return;
    }
    for (const stream of parts) await new Promise<void>((resolve) => stream.end(() => resolve()));
    for (let i = 0; i < PARTS; i++) {
      yield* groupRows(stored<T>(join(folder, `${i}.jsonl`)), { by, scattered: "collect" });
      await rm(join(folder, `${i}.jsonl`));
    }
  } finally {
    for (const stream of parts) stream.destroy();
    if (folder !== null) await rm(folder, { recursive: true, force: true });
  }
}

const known = new Map<string, number>();

/** Not the share of the key itself: all rows of a shard would then meet in a few files. */
function shardOfKey(key: string): number {
  const found = known.get(key);
  if (found !== undefined) return found;
  const part = shardOf({ hybrid: `part ${key}`, environment: null }, PARTS);
  if (known.size > 100_000) known.clear();
  known.set(key, part);
  return part;
}

function roughSize<T>(batch: readonly KeyedRow<T>[]): number {
  const first = batch[0];
  return first === undefined ? 0 : JSON.stringify(first).length * batch.length;
}

async function* fromArray<T>(held: readonly T[]): AsyncGenerator<T> {
  yield* held;
}

async function* stored<T>(path: string): AsyncGenerator<readonly KeyedRow<T>[]> {
  let batch: KeyedRow<T>[] = [];
  for await (const line of lines(createReadStream(path))) {
    batch.push(JSON.parse(line) as KeyedRow<T>);
    if (batch.length < 1000) continue;
    yield batch;
    batch = [];
  }
  if (batch.length > 0) yield batch;
}
