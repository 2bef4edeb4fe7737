import { parseArgs } from "node:util";
import { type CommandName, type CommandOption, commandOptions } from "./commandOptions.ts";
import { printedSchemas } from "./printedSchemas.ts";
import { suggestion } from "./suggestion.ts";

/** What was typed, sorted; `problems` lists everything that is wrong with it. */
export interface CommandArguments {
  readonly command: CommandName | null;
  readonly help: boolean;
  readonly version: boolean;
  /** The trial; for `schema` the name of the schema. */
  readonly file: string | null;
  readonly switches: ReadonlySet<string>;
  readonly values: ReadonlyMap<string, readonly string[]>;
  readonly problems: readonly string[];
}

const commands: readonly CommandName[] = ["analyze", "check", "schema"];
const names: readonly string[] = commandOptions.map((option) => option.name);
const optionOf: ReadonlyMap<string, CommandOption> = new Map(commandOptions.map((option) => [option.name, option]));

/** Sorts the arguments of the command line; nothing throws, all problems are collected. */
export function commandArguments(argv: readonly string[]): CommandArguments {
  const { tokens } = parseArgs({
    args: [...argv],
    strict: false,
    allowPositionals: true,
    tokens: true,
    options: {
      ...Object.fromEntries(
        commandOptions.map(({ name, value }) => [name, { type: value === null ? "boolean" : "string" } as const]),
      ),
      help: { type: "boolean", short: "h" },
    },
  });
  const problems: string[] = [];
  const switches = new Set<string>();
  const values = new Map<string, string[]>();
  const words: string[] = [];
  let afterUnknown = -1;
  let doubtful = false;
  for (const token of tokens) {
    if (token.kind === "positional") {
      // Probably the value of the unknown option before it.
      if (token.index === afterUnknown) doubtful = true;
      else words.push(token.value);
    }
    if (token.kind !== "option") continue;
    const option = optionOf.get(token.name);
    if (option === undefined) {
      if (!token.inlineValue) afterUnknown = token.index + 1;
      const near = suggestion(token.name, names);
      problems.push(`unknown option ${token.rawName}${near === null ? "" : `; did you mean --${near}?`}`);
    } else if (option.value === null) {
      if (token.value !== undefined) problems.push(`--${option.name} takes no value, got "${token.value}"`);
      switches.add(option.name);
    } else if (token.value === undefined || (!token.inlineValue && /^--[a-z]/.test(token.value))) {
      problems.push(`--${option.name} needs a value: --${option.name} ${option.value}`);
      // The parser took the next option for the value: it must not be lost.
      const swallowed = optionOf.get((token.value ?? "").slice(2));
      if (swallowed?.value === null) switches.add(swallowed.name);
    } else {
      const list = values.get(option.name) ?? [];
      if (list.length > 0 && option.repeatable !== true) problems.push(`--${option.name} is given twice`);
      values.set(option.name, [...list, token.value]);
    }
  }
  const help = switches.has("help");
  const version = switches.has("version");
  const { command, file } = sortWords(words, help || version || doubtful, problems);
  if (command !== null) checkCommand(command, [...switches, ...values.keys()], problems);
  return { command, help, version, file, switches, values, problems };
}

function sortWords(
  words: readonly string[],
  asking: boolean,
  problems: string[],
): { command: CommandName | null; file: string | null } {
  const [first, ...rest] = words;
  if (first === undefined) {
    if (!asking && problems.length === 0) problems.push(`name a command: ${commands.join(", ")}`);
    return { command: null, file: null };
  }
  const command = commands.find((name) => name === first) ?? null;
  if (command === null) {
    const near = suggestion(first, commands);
    const meant = /\.(csv|tsv|txt)$/i.test(first) ? `standcurve analyze ${first}` : near && `standcurve ${near}`;
    problems.push(
      `unknown command "${first}"${meant ? `; did you mean: ${meant}` : `; commands are ${commands.join(", ")}`}`,
    );
    return { command: null, file: null };
  }
  const [file, ...more] = rest;
  if (command === "schema") {
    const known = Object.keys(printedSchemas);
    if (file !== undefined && !known.includes(file)) {
      const near = suggestion(file, known);
      const meant = near === null ? "" : `; did you mean ${near}?`;
      problems.push(`there is no schema "${file}"${meant || `; schemas are ${known.join(", ")}`}`);
    }
    if (more.length > 0) problems.push(`schema takes one name; also got ${more.map((word) => `"${word}"`).join(", ")}`);
    return { command, file: file ?? null };
  }
  if (file === undefined && !asking)
    problems.push(`${command} needs a file: standcurve ${command} FILE (or - for the standard input)`);
  if (more.length > 0)
    problems.push(`${command} takes one file; also got ${more.map((word) => `"${word}"`).join(", ")}`);
  return { command, file: file ?? null };
}

function checkCommand(command: CommandName, given: readonly string[], problems: string[]): void {
  for (const name of given) {
    const option = optionOf.get(name);
    if (option !== undefined && !option.commands.includes(command)) {
      problems.push(`--${name} does not belong to ${command}; it belongs to ${option.commands.join(" and ")}`);
    }
  }
}
