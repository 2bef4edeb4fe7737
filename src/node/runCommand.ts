import { AnalysisError } from "../core/errors.ts";
import { plainText } from "../report/plainText.ts";
import { version } from "../version.ts";
import { analyzeCommand } from "./analyzeCommand.ts";
import { batchCommand } from "./batchCommand.ts";
import { checkCommand } from "./checkCommand.ts";
import { commandArguments } from "./commandArguments.ts";
import { commandHelp } from "./commandHelp.ts";
import { commandSettings } from "./commandSettings.ts";
import { commandWords } from "./commandWords.ts";
import { planCommand } from "./planCommand.ts";
import { printedSchemas } from "./printedSchemas.ts";
import { recommendCommand } from "./recommendCommand.ts";
import { reportCommand } from "./reportCommand.ts";
import type { CommandStreams } from "./streams.ts";
import { zonesCommand } from "./zonesCommand.ts";

/**
 * Runs the command line in this process.
 *
 * @param argv - the words after the program's name
 * @returns exit code: 0 all well; 1 the file has errors, cannot be read, or the results cannot be written; 2 wrong command; 3 a batch that
 *   is not finished
 * @example
 * const written = [];
 * const sink = { write: (text) => written.push(text) };
 * await runCommand(["--version"], { stdout: sink, stderr: sink }); // => 0
 */
export async function runCommand(argv: readonly string[], streams: CommandStreams): Promise<0 | 1 | 2 | 3> {
  const { stdout, stderr } = streams;
  // These commands have options of their own.
  if (argv[0] === "batch") return batchCommand(argv.slice(1), streams);
  if (argv[0] === "plan") return planCommand(argv.slice(1), streams);
  if (argv[0] === "recommend") return recommendCommand(argv.slice(1), streams);
  if (argv[0] === "report") return reportCommand(argv.slice(1), streams);
  if (argv[0] === "zones") return zonesCommand(argv.slice(1), streams);
  const typed = commandArguments(argv);
  if (typed.help) {
    stdout.write(commandHelp(typed.command));
    return 0;
  }
  if (typed.version && typed.problems.length === 0) {
    stdout.write(`${version}\n`);
    return 0;
  }
  const settings = commandSettings(typed);
  const problems = [...typed.problems, ...settings.problems];
  if (typed.switches.has("json") && typed.switches.has("csv")) problems.push("--json and --csv exclude each other");
  if (problems.length > 0) {
    for (const problem of problems) stderr.write(`standcurve: ${plainText(problem)}\n`);
    stderr.write(`standcurve --help lists commands and options.\n`);
    return 2;
  }
  try {
    if (typed.command === "schema") {
      stdout.write(`${JSON.stringify(printedSchemas[typed.file ?? "analysis"].schema, null, 2)}\n`);
      return 0;
    }
    return typed.command === "check"
      ? await checkCommand(typed, settings, streams)
      : await analyzeCommand(typed, settings, streams);
  } catch (error) {
    const message = error instanceof Error ? error.message : String(error);
    for (const line of commandWords(message).split("\n")) stderr.write(`standcurve: ${plainText(line)}\n`);
    return error instanceof AnalysisError && ["invalid-option", "not-offered"].includes(error.code) ? 2 : 1;
  }
}
