import { planZones } from "../recommend/planZones.ts";
import { readField } from "../recommend/readField.ts";
import { readZones } from "../recommend/readZones.ts";
import { zonesCsv, zonesGeoJson } from "../recommend/zoneOutput.ts";
import { plainText } from "../report/plainText.ts";
import { zonePlanText } from "../report/recommendText.ts";
import { inputText } from "./inputText.ts";
import { ownOptions } from "./ownOptions.ts";
import { guarded, openTrial, recommendOptionNames, reportProblems } from "./recommendCommand.ts";
import type { CommandStreams } from "./streams.ts";
import { writeFilesAtomically } from "./writeFilesAtomically.ts";

export const zonesHelp = `Usage: standcurve zones FILE --zones zones.geojson --field field.json [options]

A seeding rate for every zone of a field, and what varying the rate is worth against the best single rate.
FILE is the trial, as for analyze, or an analysis saved with analyze --json; zones come as GeoJSON (RFC 7946) or CSV.

  --zones FILE           zones: area, yield goal, supply, establishment, tolerated lodging
                         (standcurve schema zones prints all names)
  --field FILE           what holds for the whole field, as JSON (hybrid, prices, planterStep, …)
  --cost-of-varying N    money per area that varying the rate costs; default 0
  --seeds-per-unit N     seeds in a unit of seed; default 80,000 for maize
  --chance SHARE         plan for the return that is missed with this chance; default: expected return
  --elsewhere WHICH      published (default) or none: knowledge from other trials
  --csv, --geojson       the plan as CSV or GeoJSON, nothing else; every column or property is kept
  --json                 the whole result as JSON, nothing else
  --out DIR              write plan.txt, plan.json, plan.csv and plan.geojson into this folder, all or none

Options about the file and prices are those of analyze.
Exit codes: 0 all well; 1 a file has errors or cannot be read; 2 the command is wrong.
`;

const valued = [...recommendOptionNames.valued, "zones", "cost-of-varying", "seeds-per-unit", "out"];
const shapes = ["json", "csv", "geojson"] as const;

/**
 * `standcurve zones FILE --zones zones.geojson --field field.json`.
 *
 * @param argv - the words after "zones"
 * @returns exit code: 0 all well; 1 a file has errors or cannot be read; 2 wrong command
 */
export async function zonesCommand(argv: readonly string[], streams: CommandStreams): Promise<0 | 1 | 2> {
  const own = ownOptions(argv, valued, shapes);
  if (own.rest.includes("--help") || own.rest.includes("-h")) {
    streams.stdout.write(zonesHelp);
    return 0;
  }
  return guarded(streams, async () => {
    const wrong = own.values.has("zones") ? [] : ["zones needs --zones FILE"];
    if (own.switches.size > 1) wrong.push("--json, --csv and --geojson exclude each other");
    const costOfVarying = positive(own.values.get("cost-of-varying"), "cost-of-varying", 0, wrong);
    const seedsPerUnit = positive(own.values.get("seeds-per-unit"), "seeds-per-unit", 1, wrong);
    const opened = await openTrial(own, streams, wrong);
    if (typeof opened === "number") return opened;
    const reading = readZones(await inputText(own.values.get("zones") as string));
    const given = own.values.get("field");
    const fieldReading = given === undefined ? { field: undefined, issues: [] } : readField(await inputText(given));
    const issues = [...reading.issues, ...fieldReading.issues];
    if (reading.zones === null || fieldReading.field === null) return reportProblems(issues, own, streams);
    for (const { message } of issues) streams.stderr.write(`standcurve: ${plainText(message)}\n`);

    const plan = planZones(opened.analysis, reading.zones, {
      ...opened.options,
      ...(fieldReading.field === undefined ? {} : { field: fieldReading.field }),
      ...(costOfVarying === undefined ? {} : { costOfVarying }),
      ...(seedsPerUnit === undefined ? {} : { seedsPerUnit }),
    });
    const texts = {
      "plan.txt": (): string => zonePlanText(plan),
      "plan.json": (): string => `${JSON.stringify(plan, null, 2)}\n`,
      "plan.csv": (): string => zonesCsv(plan, reading.source),
      "plan.geojson": (): string => `${JSON.stringify(zonesGeoJson(plan, reading.source), null, 2)}\n`,
    };
    const folder = own.values.get("out");
    if (folder !== undefined) {
      const files = Object.fromEntries(Object.entries(texts).map(([name, text]) => [name, text()]));
      streams.stderr.write(`Wrote ${(await writeFilesAtomically(folder, files)).join(", ")}\n`);
    }
    const shape = shapes.find((name) => own.switches.has(name));
    if (shape !== undefined) streams.stdout.write(texts[`plan.${shape}`]());
    else if (folder === undefined) streams.stdout.write(texts["plan.txt"]());
    return opened.code;
  });
}

function positive(given: string | undefined, name: string, least: number, problems: string[]): number | undefined {
  if (given === undefined) return undefined;
  const value = Number(given);
  if (given.trim() !== "" && Number.isFinite(value) && value >= least) return value;
  problems.push(`--${name} must be a number of at least ${least}, got "${given}"`);
  return undefined;
}
