import { readFile } from "node:fs/promises";
import { analyzeTrial } from "../analyze/analyzeTrial.ts";
import { readAnalysis } from "../analyze/readAnalysis.ts";
import type { TrialAnalysis } from "../analyze/result.ts";
import { AnalysisError, check } from "../core/errors.ts";
import { parseJson } from "../core/parseJson.ts";
import { checkLayout } from "../plan/checkLayout.ts";
import { type ChooseDensitiesOptions, chooseDensities, type DensityCriterion } from "../plan/chooseDensities.ts";
import { layoutCsv } from "../plan/layoutCsv.ts";
import { layoutGeoJson } from "../plan/layoutGeoJson.ts";
import type { LayoutDesign, LayoutPlan, NeighbourRule } from "../plan/layoutPlan.ts";
import type { LayoutOptions } from "../plan/layoutSettings.ts";
import { layoutTrial } from "../plan/layoutTrial.ts";
import { densityRows, nextRows, type PlanRow, powerRows } from "../plan/planRows.ts";
import type { SigmaSource } from "../plan/plotNoise.ts";
import type { PriorSource } from "../plan/priorOf.ts";
import { type PowerGoal, type TrialPowerOptions, trialPower } from "../plan/trialPower.ts";
import { type BentFamily, bentFamilies } from "../plan/truthCurves.ts";
import { type WhatNextOptions, whatNext } from "../plan/whatNext.ts";
import { csvText } from "../report/csvText.ts";
import { plainText } from "../report/plainText.ts";
import { densitiesText, layoutCheckText, layoutText, powerText, whatNextText } from "../report/planText.ts";
import type { DensityUnit, Trial, YieldUnit } from "../trial/trial.ts";
import { planHelp } from "./planOptions.ts";
import { type PlanValues, planValues } from "./planValues.ts";
import { readTrialFile } from "./readTrialFile.ts";
import type { CommandStreams } from "./streams.ts";
import { writeFilesAtomically } from "./writeFilesAtomically.ts";

/** The forms of one result: what each of --json, --csv, --geojson and plain text prints, and the files of --out. */
interface Forms {
  readonly text: string;
  readonly json: unknown;
  readonly csv: string | null;
  readonly geojson: unknown;
}

/**
 * `standcurve plan layout|check|densities|power|next`.
 *
 * @param argv - the words after `plan`
 * @returns exit code: 0 all well; 1 a file cannot be read or written, or a checked plan has faults; 2 wrong command
 */
export async function planCommand(argv: readonly string[], streams: CommandStreams): Promise<0 | 1 | 2> {
  const { stdout, stderr } = streams;
  const typed = planValues(argv);
  if (typed.has("help")) {
    stdout.write(planHelp(typed.command));
    return 0;
  }
  const complain = (lines: readonly string[]): void => {
    for (const line of lines) stderr.write(`standcurve: ${plainText(line)}\n`);
  };
  const wrong = (): 2 => {
    complain(typed.problems);
    stderr.write("standcurve plan --help lists plan commands and options.\n");
    return 2;
  };
  if (["json", "csv", "geojson"].filter((name) => typed.has(name)).length > 1)
    typed.problems.push("--json, --csv and --geojson exclude each other");
  if (typed.problems.length > 0) return wrong();
  try {
    const made = await runners[typed.command as NonNullable<PlanValues["command"]>](typed);
    if (made === null) return wrong();
    const { forms, code } = made;
    const folder = typed.text("out");
    if (folder !== undefined) {
      const written = await writeFilesAtomically(folder, filesOf(typed.command as string, forms));
      stderr.write(`Wrote ${written.join(", ")}\n`);
    }
    if (typed.has("json")) stdout.write(jsonText(forms.json));
    else if (typed.has("csv")) stdout.write(forms.csv ?? "");
    else if (typed.has("geojson")) stdout.write(jsonText(forms.geojson));
    else if (folder === undefined) stdout.write(forms.text);
    return code;
  } catch (error) {
    complain((error instanceof Error ? error.message : String(error)).split("\n"));
    return error instanceof AnalysisError && ["invalid-option", "not-offered"].includes(error.code) ? 2 : 1;
  }
}

type Made = { readonly forms: Forms; readonly code: 0 | 1 } | null;

const runners: Readonly<Record<NonNullable<PlanValues["command"]>, (typed: PlanValues) => Promise<Made>>> = {
  layout,
  check: checkPlan,
  densities,
  power,
  next,
};

async function layout(typed: PlanValues): Promise<Made> {
  const borders = { sides: typed.number("border-sides") ?? 0, ends: typed.number("border-ends") ?? 0 };
  const options = defined<LayoutOptions>({
    hybrids: typed.words("hybrids") ?? required(typed, "hybrids"),
    rates: typed.numbers("rates") ?? required(typed, "rates"),
    densityUnit: unitOf(typed),
    design: typed.text("design") as LayoutDesign | undefined,
    blocks: typed.number("blocks"),
    environments: typed.words("places"),
    mainPlot: typed.text("main-plot") as LayoutOptions["mainPlot"],
    neighbours: typed.text("neighbours") as NeighbourRule | undefined,
    rowsPerBlock: typed.number("rows-per-block"),
    blocksAcross: typed.number("blocks-across"),
    borders,
    plotLength: typed.length("plot-length"),
    plotWidth: typed.length("plot-width"),
    alley: typed.length("alley"),
    planterWidth: typed.length("planter-width"),
    passes: typed.number("passes"),
    fieldLength: typed.length("field-length"),
    fieldWidth: typed.length("field-width"),
    harvestWidth: typed.length("harvest-width"),
    seed: typed.number("seed"),
  });
  const line = typed.numbers("line");
  if (line !== undefined && line.length !== 4) typed.problems.push("--line must be lon,lat,lon,lat");
  if (typed.has("geojson") && line === undefined) typed.problems.push("--geojson needs --line");
  if (typed.problems.length > 0) return null;
  const plan = layoutTrial(options);
  const csv = layoutCsv(plan, defined({ harvest: typed.text("harvest") as "yield" | "weight" | "none" | undefined }));
  const first = plan.environments[0];
  const geojson =
    line === undefined
      ? null
      : layoutGeoJson(
          plan,
          defined({
            a: [line[0], line[1]] as const,
            b: [line[2], line[3]] as const,
            side: typed.text("side") as "right" | "left" | undefined,
            lineAt: typed.text("line-at") as "edge" | "centre" | undefined,
            environment: plan.environments.length > 1 ? first : undefined,
          }),
        );
  return { forms: { text: layoutText(plan), json: plan, csv, geojson }, code: 0 };
}

async function checkPlan(typed: PlanValues): Promise<Made> {
  const source = await sourceOf(typed.file as string);
  check("plots" in source, "invalid-data", "plan check needs a plan or a trial, not an analysis");
  const result = checkLayout(source, defined({ seed: typed.number("seed") }));
  if (typed.problems.length > 0) return null;
  return {
    forms: { text: layoutCheckText(result), json: result, csv: null, geojson: null },
    code: result.sound ? 0 : 1,
  };
}

async function densities(typed: PlanValues): Promise<Made> {
  const steps = typed.numbers("steps") ?? required<number[]>(typed, "steps");
  if (steps !== undefined && steps.length !== 3) typed.problems.push("--steps must be FROM,TO,STEP");
  const earlier = await earlierOf(typed);
  const options = defined<ChooseDensitiesOptions>({
    prior: priorOf(typed, earlier),
    steps: { from: steps?.[0] ?? 0, to: steps?.[1] ?? 0, step: steps?.[2] ?? 0 },
    sigma: sigmaOf(typed, earlier),
    count: typed.number("count"),
    blocks: typed.number("blocks"),
    environments: typed.number("place-count"),
    criterion: typed.text("criterion") as DensityCriterion | undefined,
    compareWith: typed.sets("compare"),
    tooHigh: typed.has("no-too-high") ? false : undefined,
    ...common(typed, earlier),
  });
  if (typed.problems.length > 0) return null;
  const choice = chooseDensities(options);
  return { forms: table(densitiesText(choice), choice, densityRows(choice)), code: 0 };
}

async function power(typed: PlanValues): Promise<Made> {
  const earlier = await earlierOf(typed);
  const between = typed.numbers("flex-between");
  const limit = typed.number("lodging-limit");
  const plotLength = typed.length("plot-length");
  const plotWidth = typed.length("plot-width");
  const options = defined<TrialPowerOptions>({
    densities: typed.sets("densities") ?? required(typed, "densities"),
    blocks: typed.numbers("blocks"),
    sites: typed.numbers("sites"),
    years: typed.numbers("years"),
    prior: priorOf(typed, earlier),
    sigma: sigmaOf(typed, earlier),
    spread: spreadOf(typed),
    halfWidth: typed.number("half-width"),
    present: typed.number("present"),
    gain: typed.number("gain"),
    flex:
      between === undefined
        ? undefined
        : {
            between: [between[0] ?? 0, between[1] ?? 0],
            difference: typed.number("flex-difference") ?? required(typed, "flex-difference"),
          },
    lodging:
      limit === undefined
        ? undefined
        : {
            limit,
            slope: typed.number("lodging-slope") ?? required(typed, "lodging-slope"),
            ...defined({ examined: typed.number("examined") }),
          },
    budget:
      plotLength === undefined || plotWidth === undefined
        ? undefined
        : {
            plotLength,
            plotWidth,
            ...defined({
              hybrids: typed.number("hybrids-grown"),
              seedCostPerThousand: typed.number("seed-cost"),
              costPerPlot: typed.number("plot-cost"),
              costPerEnvironment: typed.number("place-cost"),
            }),
          },
    goal: typed.text("goal") as PowerGoal | undefined,
    enough: typed.number("enough"),
    ...common(typed, earlier),
  });
  if (typed.problems.length > 0) return null;
  const result = trialPower(options);
  return { forms: table(powerText(result), result, powerRows(result)), code: 0 };
}

async function next(typed: PlanValues): Promise<Made> {
  const { analysis, trial } = await analysisOf(typed.file as string);
  const base = defined<WhatNextOptions>({
    ...(trial === null ? {} : { trial }),
    blocks: typed.numbers("more-blocks"),
    sites: typed.numbers("sites"),
    densities: typed.numbers("more-densities"),
    spread: spreadOf(typed),
    priceRatio: typed.number("price-ratio"),
    level: typed.number("level"),
    simulations: typed.number("simulations"),
    seed: typed.number("seed"),
  });
  if (typed.problems.length > 0) return null;
  const asked = typed.text("hybrid");
  const able = analysis.hybrids.filter(({ pooled }) => pooled.kind === "analysed").map(({ hybrid }) => hybrid);
  const results = (asked === undefined ? able : [asked]).map((hybrid) => whatNext(analysis, { ...base, hybrid }));
  check(results.length > 0, "not-estimable", "no hybrid of this trial could be analysed, so nothing says what to add");
  return {
    forms: table(
      results.map((result) => whatNextText(result)).join("\n"),
      results.length === 1 ? results[0] : results,
      results.flatMap(nextRows),
    ),
    code: 0,
  };
}

function table(text: string, json: unknown, rows: readonly PlanRow[]): Forms {
  return { text, json, csv: csvText(rows), geojson: null };
}

function filesOf(command: string, { text, json, csv, geojson }: Forms): Record<string, string> {
  return {
    [`${command}.txt`]: text,
    [`${command}.json`]: jsonText(json),
    ...(csv === null ? {} : { [`${command}.csv`]: csv }),
    ...(geojson === null ? {} : { [`${command}.geojson`]: jsonText(geojson) }),
  };
}

/** Reports a missing option; the value is never used, because problems stop the command. */
function required<T>(typed: PlanValues, name: string): T {
  typed.problems.push(`--${name} is missing`);
  return undefined as T;
}

function unitOf(typed: PlanValues, earlier: Earlier | null = null): DensityUnit {
  return (typed.text("unit") ?? earlier?.analysis.trial.densityUnit ?? "1000 plants/ac") as DensityUnit;
}

interface Earlier {
  readonly analysis: TrialAnalysis;
  readonly trial: Trial | null;
}

async function earlierOf(typed: PlanValues): Promise<Earlier | null> {
  const file = typed.text("earlier");
  return file === undefined ? null : analysisOf(file);
}

function priorOf(typed: PlanValues, earlier: Earlier | null): PriorSource {
  if (earlier !== null) {
    const { analysis, trial } = earlier;
    return { analysis, ...(trial === null ? {} : { trial }), ...defined({ hybrid: typed.text("hybrid") }) };
  }
  const optimum = typed.numbers("optimum") ?? required<number[]>(typed, "optimum");
  const loss = typed.numbers("loss") ?? required<number[]>(typed, "loss");
  const families = typed.words("families");
  const unknown = families?.find((name) => !(bentFamilies as readonly string[]).includes(name));
  if (unknown !== undefined)
    typed.problems.push(`--families must be some of ${bentFamilies.join(", ")}, got "${unknown}"`);
  const weights: Partial<Record<BentFamily, number>> = Object.fromEntries((families ?? []).map((name) => [name, 1]));
  return {
    optimum: [optimum?.[0] ?? 0, optimum?.[1] ?? optimum?.[0] ?? 0],
    lossBelow: {
      distance: typed.number("loss-distance") ?? required(typed, "loss-distance"),
      loss: [loss?.[0] ?? 0, loss?.[1] ?? loss?.[0] ?? 0],
    },
    bestYield: typed.number("best-yield") ?? required(typed, "best-yield"),
    ...(families === undefined ? {} : { families: weights }),
  };
}

function sigmaOf(typed: PlanValues, earlier: Earlier | null): SigmaSource {
  const sigma = typed.number("sigma");
  const cvPercent = typed.number("cv");
  const stripLength = typed.length("strip-length");
  if ([sigma, cvPercent, stripLength].filter((one) => one !== undefined).length > 1)
    typed.problems.push("--sigma, --cv and --strip-length exclude each other");
  if (cvPercent !== undefined)
    return { cvPercent, meanYield: typed.number("best-yield") ?? required(typed, "best-yield") };
  if (stripLength !== undefined) return { stripLength };
  if (sigma === undefined && earlier !== null)
    return { analysis: earlier.analysis, ...defined({ hybrid: typed.text("hybrid") }) };
  return sigma ?? required(typed, "sigma (or --cv, --strip-length, --earlier)");
}

function spreadOf(typed: PlanValues): TrialPowerOptions["spread"] {
  const spread = defined({
    site: typed.number("spread-site"),
    year: typed.number("spread-year"),
    siteYear: typed.number("spread-site-year"),
  });
  return Object.keys(spread).length === 0 ? undefined : spread;
}

function common(typed: PlanValues, earlier: Earlier | null) {
  return {
    priceRatio: typed.number("price-ratio"),
    level: typed.number("level"),
    simulations: typed.number("simulations"),
    seed: typed.number("seed"),
    densityUnit: unitOf(typed, earlier),
    yieldUnit: (typed.text("yield-unit") ?? earlier?.analysis.trial.yieldUnit ?? "bu/ac") as YieldUnit,
  };
}

/** A plan, an analysis or a trial, by what the file holds. */
async function sourceOf(file: string): Promise<Trial | TrialAnalysis | LayoutPlan> {
  if (/\.json$/i.test(file)) {
    const text = await readFile(file, "utf8").catch((error: unknown) => {
      throw new AnalysisError(
        "unreadable-source",
        `"${file}" cannot be read: ${error instanceof Error ? error.message : String(error)}`,
      );
    });
    const parsed = parseJson(text);
    if (parsed.kind === "bad") throw new AnalysisError("unreadable-source", `"${file}" is not JSON: ${parsed.reason}`);
    const value = parsed.value as { readonly schema?: string } | null;
    if (value?.schema === "standcurve/layout-plan/1") return value as unknown as LayoutPlan;
    check(
      value?.schema?.startsWith?.("standcurve/trial-analysis/") === true,
      "unreadable-source",
      `"${file}" is neither a plan nor an analysis of standcurve`,
    );
    return readAnalysis(value, { name: file });
  }
  const { trial, issues } = await readTrialFile(file);
  check(
    trial !== null,
    "unreadable-source",
    `"${file}" cannot be read as a trial: ${issues.find(({ severity }) => severity === "error")?.message ?? "no plots"}`,
  );
  return trial;
}

async function analysisOf(file: string): Promise<Earlier> {
  const source = await sourceOf(file);
  if (source.schema === "standcurve/trial-analysis/1") return { analysis: source as TrialAnalysis, trial: null };
  check(source.schema === "standcurve/trial/1", "invalid-data", `"${file}" is a plan: it holds no yields`);
  // The bootstrap is not needed: planning draws from the fits.
  return { analysis: analyzeTrial(source, { resamples: 0, byEnvironment: false, mixedModels: false }), trial: source };
}

/** Leaves out options that were not given. */
function defined<T extends object>(options: { readonly [K in keyof T]: T[K] | undefined }): T {
  return Object.fromEntries(Object.entries(options).filter(([, value]) => value !== undefined)) as T;
}

const jsonText = (value: unknown): string => `${JSON.stringify(value, null, 2)}\n`;
