import { availableParallelism } from "node:os";
import { settingsHash } from "../batch/analyzeGroup.ts";
import { type GroupExecutor, serialExecutor } from "../batch/executor.ts";
import { groupHead } from "../batch/groupHead.ts";
import type { GroupBy, GroupInput, GroupOptions } from "../batch/groupInput.ts";
import { groupKey } from "../batch/groupRows.ts";
import { groupRowsTable } from "../batch/groupRowsTable.ts";
import { runGroups } from "../batch/runGroups.ts";
import { AnalysisError } from "../core/errors.ts";
import { issueCounts, issueText } from "../report/issueText.ts";
import { plainText } from "../report/plainText.ts";
import { numberText } from "../trial/numberText.ts";
import { tableHash } from "../trial/readTable.ts";
import { batchHelp } from "./batchHelp.ts";
import { type BatchFormat, batchInput, formatOf, type Shard } from "./batchInput.ts";
import { mergeResults } from "./batchMerge.ts";
import { type EarlierRun, lineWriter, refuseExisting, repairOutput } from "./batchOutput.ts";
import { batchSummary } from "./batchSummary.ts";
import { resultTables } from "./batchTables.ts";
import { commandArguments } from "./commandArguments.ts";
import { commandSettings } from "./commandSettings.ts";
import { issuesForCommand } from "./commandWords.ts";
import { type OwnOptions, ownOptions } from "./ownOptions.ts";
import { progressLine } from "./progressLine.ts";
import { guarded } from "./recommendCommand.ts";
import type { CommandStream, CommandStreams } from "./streams.ts";
import { threadExecutor } from "./threadExecutor.ts";

const valued = ["workers", "shard", "by", "format", "out"];
const plain = ["resume", "grouped", "merge", "tables"];

interface BatchSettings {
  readonly file: string;
  /** Null: as many as pay. */
  readonly workers: number | null;
  readonly shard: Shard | null;
  readonly by: GroupBy;
  readonly format: BatchFormat;
  readonly out: string | null;
}

/**
 * `standcurve batch FILE --out results.jsonl`, and what comes afterwards.
 *
 * @param argv - the words after "batch"
 * @param executor - instead of worker threads, for tests
 * @returns exit code: 0 all well; 1 done, but rows have errors or a group has no result; 2 wrong command; 3 not finished: interrupted,
 *   or a file cannot be read or written (joining results: 1)
 */
export async function batchCommand(
  argv: readonly string[],
  streams: CommandStreams,
  executor?: GroupExecutor,
): Promise<0 | 1 | 2 | 3> {
  const own = ownOptions(argv, valued, plain);
  if (own.rest.includes("--help") || own.rest.includes("-h")) {
    streams.stdout.write(batchHelp);
    return 0;
  }
  if (own.switches.has("merge") || own.switches.has("tables")) return guarded(streams, () => afterwards(own, streams));
  const typed = commandArguments(["analyze", ...own.rest]);
  const settings = commandSettings(typed);
  const problems = [
    ...own.problems,
    ...["json", "csv", "detail", "currency", "version"].flatMap((name) =>
      typed.switches.has(name) || typed.values.has(name)
        ? [`--${name} does not belong to batch; it belongs to analyze`]
        : [],
    ),
    ...typed.problems.map((problem) => problem.replaceAll("analyze", "batch")),
    ...settings.problems,
  ];
  const given = batchSettings(own, typed.file ?? "-", problems);
  if (problems.length > 0) return refuse(problems, streams);
  const quiet = typed.switches.has("quiet");
  const watched = typed.switches.has("progress") || (streams.stderr.isTTY === true && !quiet);
  // What throws leaves it at 3, so that a scheduler can tell a run that must be taken up again from one with errors in its rows.
  let finished: 0 | 1 | 3 = 3;
  const code = await guarded(streams, async () => {
    finished = await run(given, settings.schema, settings.analyze, own, { quiet, watched }, streams, executor);
    return finished;
  });
  return code === 2 ? 2 : finished;
}

async function run(
  { file, workers, shard, by, format, out }: BatchSettings,
  read: NonNullable<GroupInput["read"]>,
  options: GroupOptions,
  own: OwnOptions,
  { quiet, watched }: { readonly quiet: boolean; readonly watched: boolean },
  streams: CommandStreams,
  given: GroupExecutor | undefined,
): Promise<0 | 1 | 3> {
  const { stdout, stderr } = streams;
  if (out !== null && !own.switches.has("resume")) await refuseExisting(out);
  const input = await batchInput(
    { file, format, by, grouped: own.switches.has("grouped"), shard, read, options },
    streams,
  );
  const earlier: EarlierRun =
    out !== null && own.switches.has("resume")
      ? await repairOutput(out)
      : { done: new Map(), dropped: 0, settings: new Set() };
  const changed: string[] = [];
  const threads = workers ?? payingThreads(input.total);
  const executor = given ?? (threads === 0 ? serialExecutor : threadExecutor(threads));
  const signal = { aborted: false };
  const stop = (): void => {
    signal.aborted = true;
    // A second interrupt ends the program at once.
    process.off("SIGINT", stop);
    process.off("SIGTERM", stop);
  };
  process.on("SIGINT", stop);
  process.on("SIGTERM", stop);
  const progress = watched ? progressLine(stderr) : null;
  const summary = batchSummary();
  let writer: ReturnType<typeof lineWriter> | null = null;
  try {
    for await (const { line } of runGroups(unfinished(input.groups, earlier, changed), {
      executor,
      signal,
      clock: () => performance.now(),
      ...(input.total === null ? {} : { total: Math.max(input.total - earlier.done.size, 0) }),
      onProgress: ({ done, total, perSecond, secondsLeft, hybrid }) =>
        progress?.show(
          `${numberText(done)}${total === null ? "" : ` of ${numberText(total)}`} groups${perSecond === null ? "" : `, ${perSecond.toPrecision(3)} a second`}${secondsLeft === null ? "" : `, ${duration(secondsLeft)} left`}: ${hybrid}`,
        ),
    })) {
      const head = groupHead(line);
      if (head !== null) summary.add(head);
      if (out === null) await writeLine(stdout, line, signal);
      else {
        writer ??= lineWriter(out);
        writer.write(line);
      }
    }
  } finally {
    progress?.clear();
    writer?.close();
    process.off("SIGINT", stop);
    process.off("SIGTERM", stop);
    if (given === undefined) await executor.close();
  }
  if (out !== null && writer === null && earlier.done.size === 0) lineWriter(out).close();
  const issues = input.issues().filter(({ severity }) => severity !== "note");
  if (!quiet) {
    if (issues.length > 0)
      stderr.write(`In the file: ${issueCounts(issues)}.\n${issueText(issuesForCommand(issues), { limit: 10 })}`);
    if (earlier.done.size > 0 || earlier.dropped > 0)
      stderr.write(
        `Kept ${numberText(earlier.done.size)} results of an earlier run${earlier.dropped > 0 ? `; ${numberText(earlier.dropped)} torn or failed ones were taken out` : ""}.\n`,
      );
    stderr.write(plainLines(summary.text()));
  }
  if (changed.length > 0)
    stderr.write(
      plainLines(
        `standcurve: the rows of ${numberText(changed.length)} groups have changed since ("${changed[0]}" first); their old results were left: write to a new file\n`,
      ),
    );
  if (signal.aborted) {
    stderr.write(
      `standcurve: interrupted after ${numberText(summary.groups)} groups${out === null ? "" : "; go on with --resume"}\n`,
    );
    return 3;
  }
  const wrong = summary.troubled || changed.length > 0 || issues.some(({ severity }) => severity === "error");
  return wrong ? 1 : 0;
}

/** Groups a thread must have before it pays: every thread compiles the analysis anew, which takes as long as about so many groups. */
const GROUPS_A_THREAD = 16;

/** One for each processor, fewer with few groups, none when two would not pay: V8 compiles on a second processor anyway. */
function payingThreads(groups: number | null): number {
  const most = availableParallelism();
  if (groups === null) return most;
  const paying = Math.min(most, Math.floor(groups / GROUPS_A_THREAD));
  return paying < 2 ? 0 : paying;
}

/** The groups that an earlier run did not finish; those whose rows are others now are named. */
async function* unfinished(
  groups: AsyncIterable<GroupInput>,
  { done, settings }: EarlierRun,
  changed: string[],
): AsyncGenerator<GroupInput> {
  for await (const group of groups) {
    if (settings.size > 0 && !(settings.size === 1 && settings.has(settingsHash(group))))
      throw new AnalysisError(
        "invalid-option",
        "the output was made with other options or by another version: use the same ones, or write to a new file",
      );
    const hash = done.get(groupKey(group));
    if (hash === undefined) yield group;
    else if (hash !== tableHash(groupRowsTable(group))) changed.push(group.hybrid);
  }
}

/** `--merge` and `--tables`. */
async function afterwards(own: OwnOptions, streams: CommandStreams): Promise<0 | 1 | 2> {
  const merge = own.switches.has("merge");
  const name = merge ? "merge" : "tables";
  const files = own.rest.filter((word) => !word.startsWith("-"));
  const out = own.values.get("out");
  const problems = [
    ...own.problems,
    ...(merge && own.switches.has("tables") ? ["--merge and --tables exclude each other"] : []),
    ...own.rest
      .filter((word) => word.startsWith("-") && word !== "--quiet")
      .map((word) => `${word} does not belong to batch --${name}`),
    ...[...own.values.keys(), ...own.switches]
      .filter((word) => !["out", "merge", "tables"].includes(word))
      .map((word) => `--${word} does not belong to batch --${name}`),
    ...(files.length === 0 ? [`batch --${name} needs files with results`] : []),
    ...(out === undefined ? [`batch --${name} needs --out ${merge ? "FILE" : "DIR"}`] : []),
  ];
  if (problems.length > 0 || out === undefined) return refuse(problems, streams);
  if (merge) {
    await refuseExisting(out);
    const { count, failed } = await mergeResults(files, out);
    if (!own.rest.includes("--quiet"))
      streams.stderr.write(
        `${numberText(count)} results of ${numberText(files.length)} files${failed > 0 ? `; ${numberText(failed)} of them failed` : ""}\n`,
      );
    return failed > 0 ? 1 : 0;
  }
  const written = await resultTables(files, out);
  if (!own.rest.includes("--quiet")) streams.stderr.write(plainLines(`Wrote ${written.join(", ")}\n`));
  return 0;
}

function batchSettings({ values }: OwnOptions, file: string, problems: string[]): BatchSettings {
  const workers = values.get("workers");
  if (workers !== undefined && !/^\d{1,3}$/.test(workers))
    problems.push(`--workers must be a whole number from 0 to 999, got "${workers}"`);
  const by = values.get("by") ?? "hybrid";
  if (by !== "hybrid" && by !== "hybrid-environment")
    problems.push(`--by must be hybrid or hybrid-environment, got "${by}"`);
  const format = values.get("format") ?? formatOf(file);
  if (format !== "csv" && format !== "jsonl" && format !== "parquet")
    problems.push(`--format must be csv, jsonl or parquet, got "${format}"`);
  return {
    file,
    workers: workers === undefined ? null : Number(workers),
    shard: shardOption(values.get("shard"), problems),
    by: by as GroupBy,
    format: format as BatchFormat,
    out: values.get("out") ?? null,
  };
}

function shardOption(given: string | undefined, problems: string[]): Shard | null {
  if (given === undefined) return null;
  const [, index, count] = (/^(\d{1,9})\/(\d{1,9})$/.exec(given) ?? []).map(Number);
  if (index !== undefined && count !== undefined && count > 0 && index < count) return { index, count };
  problems.push(`--shard must be I/N with I from 0 to N - 1, such as 0/4, got "${given}"`);
  return null;
}

function refuse(problems: readonly string[], { stderr }: CommandStreams): 2 {
  for (const problem of problems) stderr.write(`standcurve: ${plainText(problem)}\n`);
  stderr.write("standcurve batch --help lists its options.\n");
  return 2;
}

/** Waits when the reader is slower; stops the run when it is gone. */
async function writeLine(stdout: CommandStream, line: string, signal: { aborted: boolean }): Promise<void> {
  if (stdout.writable === false) signal.aborted = true;
  else if (stdout.write(`${line}\n`) === false && stdout.once !== undefined) {
    await new Promise<void>((resolve) => {
      for (const event of ["drain", "close", "error"] as const) stdout.once?.(event, () => resolve());
    });
  }
}

function plainLines(text: string): string {
  return text.split("\n").map(plainText).join("\n");
}

function duration(seconds: number): string {
  const whole = Math.round(seconds);
  if (whole < 60) return `${whole} s`;
  if (whole < 3600) return `${Math.floor(whole / 60)} min ${whole % 60} s`;
  return `${Math.floor(whole / 3600)} h ${Math.floor((whole % 3600) / 60)} min`;
}
