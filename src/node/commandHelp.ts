import { type CommandName, commandOptions } from "./commandOptions.ts";
import { printedSchemas } from "./printedSchemas.ts";

const intro: Readonly<Record<CommandName, string>> = {
  analyze:
    "Usage: standcurve analyze FILE [options]\n\nAnalyses a plant-density trial: response curves, best-paying and highest-yielding density with\nranges, flex score. FILE is a CSV file; - reads the standard input.",
  check:
    "Usage: standcurve check FILE [options]\n\nReads the file, lists every problem in it, and says from the design alone what the trial can tell.",
  schema: `Usage: standcurve schema [NAME]\n\nPrints a JSON Schema (2020-12), for tools and editors. NAME is one of\n\n${schemaLines()}`,
};

const overview = `Usage: standcurve analyze FILE [options]
       standcurve check FILE [options]
       standcurve recommend FILE --field FIELD.json [options]
       standcurve zones FILE --zones ZONES [options]
       standcurve report FILE --out report.html [options]
       standcurve plan layout|check|densities|power|next [options]
       standcurve batch FILE --out results.jsonl [options]
       standcurve schema [NAME]

analyze    response curves, best-paying and highest-yielding density with ranges, flex score
check      problems in the file, and what the trial can tell
recommend  a rate for one field with its reasons (standcurve recommend --help)
zones      a rate for each zone of a field, against one uniform rate
report     the analysis as one page with charts, or as Markdown
batch      many hybrids, many machines: a line of JSON each (standcurve batch --help)
plan       the next trial: layout, densities, power, what to add (standcurve plan --help)
schema     JSON Schema of the result, of a field or of a zone file

FILE is a CSV file; - reads the standard input.`;

const ending = "Exit codes: 0 all well; 1 the file has errors or cannot be read; 2 the command is wrong.\n";
const example = '\nExample: standcurve analyze trial.csv --grain-price 4.50 --seed-cost 3.75 --currency "$"\n';

/** Help for one command, or for all. */
export function commandHelp(command: CommandName | null): string {
  const options = commandOptions.filter((option) => command === null || option.commands.includes(command));
  const groups = [...new Set(options.map((option) => option.group))];
  const named = options.map((option) => ({
    ...option,
    left: `--${option.name}${option.value === null ? "" : ` ${option.value}`}`,
  }));
  const width = Math.max(...named.map(({ left }) => left.length));
  const sections = groups.map((group) => {
    const lines = named
      .filter((option) => option.group === group)
      .map(({ left, help, repeatable }) => `  ${left.padEnd(width)}  ${help}${repeatable ? " (repeatable)" : ""}`);
    return `${group}\n${lines.join("\n")}`;
  });
  return `${command === null ? overview : intro[command]}\n\n${sections.join("\n\n")}\n\n${ending}${command === null || command === "analyze" ? example : ""}`;
}

function schemaLines(): string {
  const names = Object.entries(printedSchemas);
  const width = Math.max(...names.map(([name]) => name.length));
  return names.map(([name, { what }]) => `  ${name.padEnd(width)}  ${what}`).join("\n");
}
