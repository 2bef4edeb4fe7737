import { analyzeTrial } from "../analyze/analyzeTrial.ts";
import { readAnalysis } from "../analyze/readAnalysis.ts";
import type { TrialAnalysis } from "../analyze/result.ts";
import { AnalysisError, check } from "../core/errors.ts";
import type { Issue } from "../core/issue.ts";
import { parseJson } from "../core/parseJson.ts";
import { readField } from "../recommend/readField.ts";
import type { Attitude, RecommendOptions } from "../recommend/recommendOptions.ts";
import { recommendRate } from "../recommend/recommendRate.ts";
import { stepPlan } from "../recommend/stepPlan.ts";
import { issueText } from "../report/issueText.ts";
import { plainText } from "../report/plainText.ts";
import { recommendText, stepPlanText } from "../report/recommendText.ts";
import { commandArguments } from "./commandArguments.ts";
import { commandSettings } from "./commandSettings.ts";
import { commandWords, issuesForCommand } from "./commandWords.ts";
import { inputReading } from "./inputReading.ts";
import { inputText } from "./inputText.ts";
import { type OwnOptions, ownOptions } from "./ownOptions.ts";
import type { CommandStreams } from "./streams.ts";

/** Options of `recommend` and `zones` that `analyze` does not know. */
export const recommendOptionNames = {
  valued: ["field", "chance", "elsewhere", "draws"],
  plain: ["json"],
} as const;

export const recommendHelp = `Usage: standcurve recommend FILE --field field.json [options]

Suggests a seeding rate for one hybrid in one field: what pays best, capped by what stands, what the field can
feed and what was tested, and the steps from the present rate to it. FILE is the trial, as for analyze, or an
analysis saved with analyze --json, whose name ends in .json.

  --field FILE       the field as JSON (hybrid, prices, presentRate, acceptedStep, planterStep, supply, …);
                     standcurve schema field prints all that may stand there
  --chance SHARE     plan for the return that is missed with this chance, such as 0.25; default: expected return
  --elsewhere WHICH  published (default) or none: knowledge from other trials that steadies small ones
  --draws N          curves drawn; default 1000
  --json             the whole result as JSON, nothing else

Options about the file and prices are those of analyze.
Exit codes: 0 all well; 1 a file has errors or cannot be read; 2 the command is wrong.
`;

/**
 * `standcurve recommend FILE --field field.json`.
 *
 * @param argv - the words after "recommend"
 * @returns exit code: 0 all well; 1 a file has errors or cannot be read; 2 wrong command
 */
export async function recommendCommand(argv: readonly string[], streams: CommandStreams): Promise<0 | 1 | 2> {
  const own = ownOptions(argv, recommendOptionNames.valued, recommendOptionNames.plain);
  if (own.rest.includes("--help") || own.rest.includes("-h")) {
    streams.stdout.write(recommendHelp);
    return 0;
  }
  return guarded(streams, async () => {
    const opened = await openTrial(own, streams, own.values.has("field") ? [] : ["recommend needs --field FILE"]);
    if (typeof opened === "number") return opened;
    const { field, issues } = readField(await inputText(own.values.get("field") as string));
    if (field === null) return reportProblems(issues, own, streams);
    const { analysis, options } = opened;
    const recommendation = recommendRate(analysis, field, options);
    const steps = field.presentRate === undefined ? null : stepPlan(analysis, field, options);
    if (own.switches.has("json")) {
      streams.stdout.write(`${JSON.stringify({ schema: "standcurve/recommend/1", recommendation, steps }, null, 2)}\n`);
    } else {
      streams.stdout.write(recommendText(recommendation));
      if (steps !== null) streams.stdout.write(`\n${stepPlanText(steps)}`);
    }
    return opened.code;
  });
}

/** What both commands need from the trial file, or the analysis saved before, and the options. */
export interface OpenedTrial {
  readonly analysis: TrialAnalysis;
  readonly options: RecommendOptions;
  /** 1 when the file has errors that left rows out. */
  readonly code: 0 | 1;
}

/** Reads arguments and trial, and analyses it; an exit code when that fails. */
export async function openTrial(
  own: OwnOptions,
  streams: CommandStreams,
  more: readonly string[],
): Promise<OpenedTrial | 1 | 2> {
  const typed = commandArguments(["analyze", ...own.rest]);
  const settings = commandSettings(typed);
  const problems = [...own.problems, ...more, ...typed.problems, ...settings.problems];
  const options = optionsOf(own, problems);
  const saved = typed.file?.toLowerCase().endsWith(".json") === true;
  if (saved && typed.values.size > 0)
    problems.push(`${typed.file} was analysed already: --${[...typed.values.keys()].join(", --")} cannot change it`);
  if (problems.length > 0) {
    for (const problem of problems) streams.stderr.write(`standcurve: ${plainText(problem)}\n`);
    return 2;
  }
  if (saved)
    return { analysis: savedAnalysis(typed.file as string, await inputText(typed.file as string)), options, code: 0 };
  const { trial, issues } = await inputReading(typed.file ?? "-", settings.schema, streams);
  const serious = issues.filter(({ severity }) => severity !== "note");
  if (serious.length > 0 && !own.switches.has("json"))
    streams.stderr.write(issueText(issuesForCommand(serious), { limit: 10 }));
  if (trial === null) {
    streams.stderr.write("standcurve: no recommendation is possible until the errors are put right\n");
    return 1;
  }
  const code = issues.some(({ severity }) => severity === "error") ? 1 : 0;
  return { analysis: analyzeTrial(trial, settings.analyze), options: { ...options, trial }, code };
}

function savedAnalysis(file: string, text: string): TrialAnalysis {
  const parsed = parseJson(text);
  if (parsed.kind === "bad") throw new AnalysisError("unreadable-source", `"${file}" is not JSON: ${parsed.reason}`);
  const schema = (parsed.value as { readonly schema?: unknown } | null)?.schema;
  check(schema === "standcurve/trial-analysis/1", "unreadable-source", `"${file}" is not an analysis of standcurve`);
  return readAnalysis(parsed.value);
}

function optionsOf({ values }: OwnOptions, problems: string[]): RecommendOptions {
  const number = (name: string, rule: string, fits: (value: number) => boolean): number | undefined => {
    const given = values.get(name);
    if (given === undefined) return undefined;
    const value = Number(given);
    if (given.trim() !== "" && fits(value)) return value;
    problems.push(`--${name} must be ${rule}, got "${given}"`);
    return undefined;
  };
  const chance = number("chance", "a share between 0 and 1", (value) => value > 0 && value < 1);
  const draws = number(
    "draws",
    "a whole number from 50 to 100,000",
    (value) => Number.isInteger(value) && value >= 50 && value <= 1e5,
  );
  const elsewhere = values.get("elsewhere");
  if (elsewhere !== undefined && elsewhere !== "published" && elsewhere !== "none")
    problems.push(`--elsewhere must be published or none, got "${elsewhere}"`);
  const attitude: Attitude | undefined = chance === undefined ? undefined : { kind: "chance", chance };
  return {
    ...(attitude === undefined ? {} : { attitude }),
    ...(draws === undefined ? {} : { draws }),
    ...(elsewhere === "published" || elsewhere === "none" ? { elsewhere } : {}),
  };
}

/** Writes what is wrong with a field or zone file. */
export function reportProblems(issues: readonly Issue[], own: OwnOptions, { stdout, stderr }: CommandStreams): 1 {
  if (own.switches.has("json")) stdout.write(`${JSON.stringify({ schema: "standcurve/issues/1", issues }, null, 2)}\n`);
  else for (const { message } of issues) stderr.write(`standcurve: ${plainText(message)}\n`);
  return 1;
}

/** Runs a command and turns what it throws into a line and an exit code. */
export async function guarded<T extends number>(streams: CommandStreams, run: () => Promise<T>): Promise<T | 1 | 2> {
  try {
    return await run();
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error);
    for (const line of commandWords(message).split("\n")) streams.stderr.write(`standcurve: ${plainText(line)}\n`);
    return error instanceof AnalysisError && ["invalid-option", "not-offered"].includes(error.code) ? 2 : 1;
  }
}
