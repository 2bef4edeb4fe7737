import { checkText } from "../report/checkText.ts";
import { issueText } from "../report/issueText.ts";
import { checkTrial } from "../trial/checkTrial.ts";
import type { CommandArguments } from "./commandArguments.ts";
import type { CommandSettings } from "./commandSettings.ts";
import { issuesForCommand } from "./commandWords.ts";
import { inputReading } from "./inputReading.ts";
import type { CommandStreams } from "./streams.ts";

/** `standcurve check FILE`. */
export async function checkCommand(
  { file, switches }: CommandArguments,
  { schema }: CommandSettings,
  streams: CommandStreams,
): Promise<0 | 1> {
  const { trial, issues } = await inputReading(file ?? "-", schema, streams);
  const check = trial === null ? null : checkTrial(trial);
  if (switches.has("json")) {
    streams.stdout.write(`${JSON.stringify({ schema: "standcurve/check/1", check, issues }, null, 2)}\n`);
  } else if (check === null) {
    streams.stdout.write(
      `No analysis is possible until the errors are put right.\n\n${issueText(issuesForCommand(issues))}`,
    );
  } else {
    streams.stdout.write(checkText(check, issuesForCommand(issues)));
  }
  return issues.some((issue) => issue.severity === "error") ? 1 : 0;
}
