import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import { version } from "../version.ts";
import { settingsHash } from "./analyzeGroup.ts";
import { type GroupExecutor, serialExecutor, WorkerLost } from "./executor.ts";
import type { GroupInput } from "./groupInput.ts";
import type { GroupResult } from "./groupResult.ts";

/** How far a batch is. */
export interface BatchProgress {
  readonly done: number;
  /** Null when it is not known how many groups there will be. */
  readonly total: number | null;
  /** Rows of the groups that are done. */
  readonly rows: number;
  /** Groups per second so far; null without a clock. */
  readonly perSecond: number | null;
  readonly secondsLeft: number | null;
  /** The group done last. */
  readonly hybrid: string;
  readonly environment: string | null;
}

/** Asks a batch to stop: an `AbortSignal` fits. */
export interface StopSignal {
  readonly aborted: boolean;
}

export interface RunOptions {
  /** Default: in this thread. Ended by whoever made it. */
  readonly executor?: GroupExecutor;
  readonly onProgress?: (progress: BatchProgress) => void;
  /** Groups to come, when known. */
  readonly total?: number;
  /** Milliseconds from any start, such as `() => performance.now()`; without it there is no rate. */
  readonly clock?: () => number;
  /** Once aborted no further group is taken up; those under way are finished and handed out. */
  readonly signal?: StopSignal;
}

/** One finished group. */
export interface GroupLine {
  readonly group: GroupInput;
  /** `GroupResult` as one line of JSON, without its end. */
  readonly line: string;
}

/** A chunk is closed at this many groups or rows: enough to make messages cheap, few enough to keep all workers busy to the end. */
const CHUNK_GROUPS = 16;
const CHUNK_ROWS = 150;
/** Chunks under way or waiting for their turn, per worker: bounds memory when one group takes long. */
const AHEAD = 3;

interface Chunk {
  readonly groups: readonly GroupInput[];
  readonly lines: Promise<readonly string[]>;
}

/**
 * Runs groups on an executor and hands out finished lines in the order of the groups, whatever the order of completion.
 *
 * A group whose worker died is tried once more, alone; then it becomes a result with status `failed`. Nothing is lost or doubled.
 *
 * @example
 * const plots = { block: [1, 1, 1, 2, 2, 2], stand_k_ac: [20, 26, 32, 20, 26, 32], yield_bu_ac: [170, 190, 199, 174, 193, 201] };
 * const group = { schema: "standcurve/group/1", hybrid: "A", environment: null, plots, options: { resamples: 0 } };
 * async function* groups() {
 *   yield group;
 * }
 * const lines = [];
 * for await (const line of runGroups(groups())) lines.push(line);
 * lines.length; // => 1
 */
export async function* runGroups(
  groups: AsyncIterable<GroupInput>,
  options: RunOptions = {},
): AsyncGenerator<GroupLine> {
  checkShape(
    options,
    "options",
    { executor: "object?", onProgress: "function?", total: "any?", clock: "function?", signal: "object?" },
    "invalid-option",
  );
  const { executor = serialExecutor, onProgress, total, clock, signal } = options;
  const many: unknown = groups;
  check(
    typeof many === "object" && many !== null && (Symbol.asyncIterator in many || Symbol.iterator in many),
    "invalid-data",
    `groups must be iterable; got ${shown(many)}`,
  );
  const source = chunks(groups);
  const ahead: Chunk[] = [];
  const start = clock?.() ?? 0;
  let open = true;
  let done = 0;
  let rows = 0;
  try {
    for (;;) {
      while (open && ahead.length < executor.width * AHEAD && signal?.aborted !== true) {
        const next = await source.next();
        if (next.done === true) open = false;
        else {
          const lines = attempt(executor, next.value);
          lines.catch(() => undefined); // awaited in its turn
          ahead.push({ groups: next.value, lines });
        }
      }
      const chunk = ahead.shift();
      if (chunk === undefined) return;
      const lines = await chunk.lines;
      for (const [i, line] of lines.entries()) {
        const group = chunk.groups[i] as GroupInput;
        yield { group, line };
        done += 1;
        rows += rowsOf(group);
        const seconds = clock === undefined ? 0 : (clock() - start) / 1000;
        const perSecond = seconds > 0 ? done / seconds : null;
        onProgress?.({
          done,
          total: total ?? null,
          rows,
          perSecond,
          secondsLeft: perSecond === null || total === undefined ? null : Math.max(total - done, 0) / perSecond,
          hybrid: group.hybrid,
          environment: group.environment,
        });
      }
    }
  } finally {
    await source.return(undefined);
  }
}

async function attempt(executor: GroupExecutor, groups: readonly GroupInput[]): Promise<readonly string[]> {
  try {
    return await executor.run(groups);
  } catch (error) {
    if (!(error instanceof WorkerLost)) throw error;
  }
  return Promise.all(groups.map((group) => again(executor, group)));
}

async function again(executor: GroupExecutor, group: GroupInput): Promise<string> {
  try {
    const [line] = await executor.run([group]);
    return line as string;
  } catch (error) {
    if (!(error instanceof WorkerLost)) throw error;
    return JSON.stringify(failed(group, `its worker died twice: ${error.message}`));
  }
}

function failed(group: GroupInput, reason: string): GroupResult {
  return {
    schema: "standcurve/group-result/1",
    version,
    hybrid: group.hybrid,
    environment: group.environment,
    status: "failed",
    reason,
    rows: { count: rowsOf(group), first: group.table?.lines[0] ?? null, last: group.table?.lines.at(-1) ?? null },
    seed: group.options?.seed ?? 1,
    settingsHash: settingsHash(group),
    inputHash: "",
    issues: [],
    analysis: null,
  };
}

function rowsOf({ table, plots }: GroupInput): number {
  if (table) return table.rows.length;
  if (Array.isArray(plots)) return plots.length;
  return Object.values(plots ?? {})[0]?.length ?? 0;
}

async function* chunks(groups: AsyncIterable<GroupInput>): AsyncGenerator<readonly GroupInput[]> {
  let chunk: GroupInput[] = [];
  let rows = 0;
  for await (const group of groups) {
    checkShape(group, "group", "standcurve/group/1");
    chunk.push(group);
    rows += rowsOf(group);
    if (chunk.length < CHUNK_GROUPS && rows < CHUNK_ROWS) continue;
    yield chunk;
    chunk = [];
    rows = 0;
  }
  if (chunk.length > 0) yield chunk;
}
