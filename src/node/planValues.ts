import { parseArgs } from "node:util";
import { type LengthUnit, type Measure, metresPer } from "../trial/units.ts";
import { type PlanCommandName, planCommands, planOptions } from "./planOptions.ts";
import { suggestion } from "./suggestion.ts";

/** What was typed after `standcurve plan`, with readers that collect everything that is wrong. */
export interface PlanValues {
  readonly command: PlanCommandName | null;
  readonly file: string | null;
  readonly problems: string[];
  has(name: string): boolean;
  text(name: string): string | undefined;
  number(name: string): number | undefined;
  numbers(name: string): number[] | undefined;
  sets(name: string): number[][] | undefined;
  words(name: string): string[] | undefined;
  length(name: string): Measure<LengthUnit> | undefined;
}

export function planValues(argv: readonly string[]): PlanValues {
  const problems: string[] = [];
  const { values, tokens } = parseArgs({
    args: [...argv],
    strict: false,
    allowPositionals: true,
    tokens: true,
    options: Object.fromEntries(
      planOptions.map(({ name, value }) => [
        name,
        value === null ? { type: "boolean" as const } : { type: "string" as const, multiple: true },
      ]),
    ),
  });
  const typed = tokens.flatMap((token) => (token.kind === "positional" ? [token.value] : []));
  const first = typed[0];
  const command = planCommands.find((name) => name === first) ?? null;
  if (first !== undefined && command === null) {
    const near = suggestion(first, planCommands);
    problems.push(
      `unknown command plan ${first}${near ? `; did you mean plan ${near}?` : `; plan commands are ${planCommands.join(", ")}`}`,
    );
  }
  if (first === undefined && values["help"] !== true) problems.push(`name a plan command: ${planCommands.join(", ")}`);
  for (const token of tokens) {
    if (token.kind !== "option") continue;
    const option = planOptions.find(({ name }) => name === token.name);
    if (option === undefined) {
      const near = suggestion(
        token.name,
        planOptions.map(({ name }) => name),
      );
      problems.push(`unknown option ${token.rawName}${near === null ? "" : `; did you mean --${near}?`}`);
    } else if (command !== null && !option.commands.includes(command))
      problems.push(`--${option.name} does not belong to plan ${command}`);
    else if (
      option.value !== null &&
      (token.value === undefined || (!token.inlineValue && /^--[a-z]/.test(token.value)))
    )
      problems.push(`--${option.name} needs a value: --${option.name} ${option.value}`);
    else if (option.value === null && token.value !== undefined)
      problems.push(`--${option.name} takes no value, got "${token.value}"`);
  }
  for (const { name, repeatable } of planOptions) {
    const given = values[name];
    if (Array.isArray(given) && given.length > 1 && !repeatable) problems.push(`--${name} is given twice`);
  }
  const needsFile = command === "check" || command === "next";
  if (needsFile && typed.length !== 2 && values["help"] !== true) problems.push(`plan ${command} takes one file`);
  if (command !== null && !needsFile && typed.length > 1)
    problems.push(`plan ${command} takes no file, got "${typed[1]}"`);

  const all = (name: string): string[] => {
    const given = values[name];
    return Array.isArray(given) ? given.filter((one): one is string => typeof one === "string") : [];
  };
  const text = (name: string): string | undefined => all(name)[0];
  const listOf = (name: string, given: string): number[] => {
    const numbers = given.split(",").map((part) => (part.trim() === "" ? Number.NaN : Number(part)));
    if (numbers.every(Number.isFinite)) return numbers;
    problems.push(`--${name} must be numbers separated by commas, got "${given}"`);
    return [];
  };
  return {
    command,
    file: needsFile ? (typed[1] ?? null) : null,
    problems,
    has: (name) => values[name] !== undefined && values[name] !== false,
    text,
    number(name) {
      const given = text(name);
      if (given === undefined) return undefined;
      const value = given.trim() === "" ? Number.NaN : Number(given);
      if (Number.isFinite(value)) return value;
      problems.push(`--${name} must be a number, got "${given}"`);
      return undefined;
    },
    numbers: (name) => (text(name) === undefined ? undefined : listOf(name, text(name) as string)),
    sets: (name) => (all(name).length === 0 ? undefined : all(name).map((given) => listOf(name, given))),
    words: (name) =>
      text(name)
        ?.split(",")
        .map((word) => word.trim()),
    length(name) {
      const given = text(name);
      if (given === undefined) return undefined;
      const match = /^\s*(\d*\.?\d+)\s*([a-z]+)\s*$/.exec(given);
      const unit = match?.[2] as LengthUnit | undefined;
      if (match !== null && unit !== undefined && unit in metresPer) return { value: Number(match[1]), unit };
      problems.push(
        `--${name} must be a length such as 30ft or 9m (${Object.keys(metresPer).join(", ")}), got "${given}"`,
      );
      return undefined;
    },
  };
}
