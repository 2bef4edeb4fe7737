import { randomUUID } from "node:crypto";
import { type FileHandle, open, rename, rm } from "node:fs/promises";
import { groupKey } from "../batch/groupRows.ts";
import { AnalysisError, check } from "../core/errors.ts";
import { resultHeads } from "./batchOutput.ts";
import { unreadable } from "./readTrialFile.ts";

interface Place {
  readonly key: string;
  readonly file: number;
  readonly from: number;
  readonly bytes: number;
}

/**
 * Puts the results of several runs into one file, sorted by group: the same bytes however the work was split.
 *
 * @throws AnalysisError `data-problems` when a line is torn, a group is there twice, or the runs had different settings
 */
export async function mergeResults(
  files: readonly string[],
  out: string,
): Promise<{ readonly count: number; readonly failed: number }> {
  const places: Place[] = [];
  const origin = new Map<string, string>();
  let settings: { readonly hash: string; readonly file: string } | null = null;
  let failed = 0;
  for (const [i, file] of files.entries()) {
    try {
      for await (const { head, from, bytes } of resultHeads(file)) {
        const key = groupKey(head);
        const before = origin.get(key);
        check(
          before === undefined,
          "data-problems",
          `"${head.hybrid}"${head.environment === null ? "" : ` in "${head.environment}"`} is in "${before}" and in "${file}": the files are not shards of one run`,
        );
        settings ??= { hash: head.settingsHash, file };
        check(
          settings.hash === head.settingsHash,
          "data-problems",
          `"${settings.file}" and "${file}" were made with different options or versions: run one of them again`,
        );
        origin.set(key, file);
        if (head.status === "failed") failed += 1;
        places.push({ key, file: i, from, bytes });
      }
    } catch (error) {
      throw error instanceof AnalysisError ? error : unreadable(file, error);
    }
  }
  places.sort((a, b) => (a.key < b.key ? -1 : 1));
  const fresh = `${out}.${randomUUID()}.tmp`;
  const target = await open(fresh, "wx");
  const sources: FileHandle[] = [];
  try {
    for (const file of files) sources.push(await open(file, "r"));
    for (const { file, from, bytes } of places) {
      const { buffer } = await (sources[file] as FileHandle).read(Buffer.alloc(bytes + 1), 0, bytes + 1, from);
      await target.write(buffer);
    }
    await target.sync();
    await target.close();
    await rename(fresh, out);
  } catch (error) {
    await target.close();
    await rm(fresh, { force: true });
    throw error;
  } finally {
    for (const source of sources) await source.close();
  }
  return { count: places.length, failed };
}
