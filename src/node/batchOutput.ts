import { randomUUID } from "node:crypto";
import { closeSync, createReadStream, openSync, writeSync } from "node:fs";
import { open, rename, rm, stat } from "node:fs/promises";
import { type GroupHead, groupHead } from "../batch/groupHead.ts";
import { groupKey } from "../batch/groupRows.ts";
import { AnalysisError } from "../core/errors.ts";
import { lines } from "./jsonLines.ts";

/** What an output holds already. */
export interface EarlierRun {
  /** Input hash of every complete group, by its key. */
  readonly done: ReadonlyMap<string, string>;
  /** Lines that were taken out: torn, failed, or no results. */
  readonly dropped: number;
  /** Settings of the lines; null when there are none. */
  readonly settings: ReadonlySet<string>;
}

/**
 * Makes an interrupted output whole: complete results are kept, a torn last line and groups that failed are taken out, so that they
 * can be done again. The file is replaced by one rename.
 */
export async function repairOutput(path: string): Promise<EarlierRun> {
  const done = new Map<string, string>();
  const settings = new Set<string>();
  let dropped = 0;
  if (!(await exists(path))) return { done, dropped, settings };
  const whole = await endsWithLine(path);
  const fresh = `${path}.${randomUUID()}.tmp`;
  const file = await open(fresh, "wx");
  try {
    let waiting: string | null = null;
    const keep = async (line: string): Promise<void> => {
      const head = groupHead(line);
      if (head === null || head.status === "failed" || done.has(groupKey(head))) {
        dropped += 1;
        return;
      }
      done.set(groupKey(head), head.inputHash);
      settings.add(head.settingsHash);
      await file.write(`${line}\n`);
    };
    for await (const line of lines(createReadStream(path))) {
      if (waiting !== null) await keep(waiting);
      waiting = line;
    }
    if (waiting !== null && whole) await keep(waiting);
    else if (waiting !== null) dropped += 1;
    await file.sync();
  } catch (error) {
    await file.close();
    await rm(fresh, { force: true });
    throw error;
  }
  await file.close();
  if (dropped > 0) await rename(fresh, path);
  else await rm(fresh, { force: true });
  return { done, dropped, settings };
}

/** Appends lines, each by one write, so that a run that is cut off leaves at most one torn line at the end. */
export function lineWriter(path: string): { write(line: string): void; close(): void } {
  const file = openSync(path, "a");
  return {
    write(line) {
      const bytes = Buffer.from(`${line}\n`, "utf8");
      for (let at = 0; at < bytes.length; ) at += writeSync(file, bytes, at);
    },
    close: () => closeSync(file),
  };
}

/** Refuses an output that is there: results of two runs must not be mixed unasked. */
export async function refuseExisting(path: string): Promise<void> {
  if (!(await exists(path))) return;
  throw new AnalysisError(
    "invalid-option",
    `"${path}" is there already: name another, or add --resume to go on with a batch`,
  );
}

/** Heads of all complete results of a file, with the place of each line in bytes. */
export async function* resultHeads(
  path: string,
): AsyncGenerator<{ readonly head: GroupHead; readonly line: string; readonly from: number; readonly bytes: number }> {
  let from = 0;
  const whole = await endsWithLine(path);
  let number = 0;
  let waiting: string | null = null;
  const torn = (): AnalysisError =>
    new AnalysisError(
      "data-problems",
      `line ${number} of "${path}" is no complete group result: finish that run with --resume first`,
    );
  const take = (line: string): { head: GroupHead; line: string; from: number; bytes: number } => {
    number += 1;
    const head = groupHead(line);
    if (head === null) throw torn();
    const bytes = Buffer.byteLength(line);
    const found = { head, line, from, bytes };
    from += bytes + 1;
    return found;
  };
  for await (const line of lines(createReadStream(path))) {
    if (waiting !== null) yield take(waiting);
    waiting = line;
  }
  if (waiting === null) return;
  if (!whole) {
    number += 1;
    throw torn();
  }
  yield take(waiting);
}

async function exists(path: string): Promise<boolean> {
  return (await stat(path).catch(() => null)) !== null;
}

/** True when the last byte is a line end, or there is none. */
async function endsWithLine(path: string): Promise<boolean> {
  const { size } = await stat(path);
  if (size === 0) return true;
  const file = await open(path, "r");
  try {
    const { buffer } = await file.read(Buffer.alloc(1), 0, 1, size - 1);
    return buffer[0] === 10;
  } finally {
    await file.close();
  }
}
