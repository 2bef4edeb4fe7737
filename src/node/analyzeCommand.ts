import { analyzeTrial } from "../analyze/analyzeTrial.ts";
import type { TrialAnalysis } from "../analyze/result.ts";
import type { Issue } from "../core/issue.ts";
import { csvText } from "../report/csvText.ts";
import { issueCounts, issueText } from "../report/issueText.ts";
import { type TidyTables, tidyColumns, tidyTables } from "../report/tidyTables.ts";
import { trialText } from "../report/trialText.ts";
import type { CommandArguments } from "./commandArguments.ts";
import type { CommandSettings } from "./commandSettings.ts";
import { issuesForCommand } from "./commandWords.ts";
import { inputReading } from "./inputReading.ts";
import { progressLine } from "./progressLine.ts";
import type { CommandStreams } from "./streams.ts";
import { writeFilesAtomically } from "./writeFilesAtomically.ts";

/** `standcurve analyze FILE`. */
export async function analyzeCommand(
  { file, switches, values }: CommandArguments,
  { schema, analyze }: CommandSettings,
  streams: CommandStreams,
): Promise<0 | 1> {
  const { stdout, stderr } = streams;
  const { trial, issues } = await inputReading(file ?? "-", schema, streams);
  const code = issues.some((issue) => issue.severity === "error") ? 1 : 0;
  if (trial === null) {
    if (switches.has("json")) stdout.write(jsonText({ schema: "standcurve/issues/1", issues }));
    else stderr.write(issueText(issuesForCommand(issues)));
    stderr.write("standcurve: no analysis is possible until the errors are put right\n");
    return 1;
  }
  const watched = switches.has("progress") || (stderr.isTTY === true && !switches.has("quiet"));
  const progress = watched ? progressLine(stderr) : null;
  const analysis = analyzeTrial(trial, {
    ...analyze,
    issues,
    ...(progress === null ? {} : { onProgress: progress.report }),
  });
  progress?.clear();

  const currency = values.get("currency")?.[0] ?? "";
  const text = (): string =>
    trialText(forPeople(analysis), { currency, ...(switches.has("detail") ? { detail: true } : {}) });
  const folder = values.get("out")?.[0];
  const written = folder === undefined ? [] : await writeFilesAtomically(folder, resultFiles(analysis, text()));
  const data = switches.has("json") || switches.has("csv");
  if (switches.has("json")) stdout.write(jsonText(analysis));
  else if (switches.has("csv")) stdout.write(csvText(tidyTables(analysis).estimates, tidyColumns.estimates));
  else if (folder === undefined) stdout.write(text());
  if (!switches.has("quiet")) {
    if (written.length > 0) stderr.write(`Wrote ${written.join(", ")}\n`);
    if (data || folder !== undefined) reportIssues(issues, streams);
  }
  return code;
}

/** Errors and warnings of the file, for someone who does not see the report. */
function reportIssues(issues: readonly Issue[], { stderr }: CommandStreams): void {
  const serious = issues.filter((issue) => issue.severity !== "note");
  if (serious.length === 0) return;
  stderr.write(`In the file: ${issueCounts(issues)}.\n${issueText(issuesForCommand(serious), { limit: 10 })}`);
}

function resultFiles(analysis: TrialAnalysis, report: string): Record<string, string> {
  const tables = tidyTables(forPeople(analysis));
  const csv = (name: keyof TidyTables): string => csvText(tables[name], tidyColumns[name]);
  return {
    "report.txt": report,
    "analysis.json": jsonText(analysis),
    "estimates.csv": csv("estimates"),
    "standability.csv": csv("standability"),
    "crowding.csv": csv("crowding"),
    "curves.csv": csv("curves"),
    "coefficients.csv": csv("coefficients"),
    "comparisons.csv": csv("comparisons"),
    "environments.csv": csv("environments"),
    "together.csv": csv("together"),
    "tests.csv": csv("tests"),
    "excluded.csv": csv("excluded"),
    "issues.csv": csv("issues"),
  };
}

function forPeople(analysis: TrialAnalysis): TrialAnalysis {
  return { ...analysis, issues: issuesForCommand(analysis.issues) };
}

function jsonText(value: unknown): string {
  return `${JSON.stringify(value, null, 2)}\n`;
}
