import { AnalysisError, check } from "../core/errors.ts";
import { hashText } from "../core/hash.ts";
import type { Issue } from "../core/issue.ts";
import { type ColumnMap, matchColumns } from "./columns.ts";
import { cropOf } from "./cropOf.ts";
import { densityAxis } from "./densityAxis.ts";
import { reportDesign, reportMissingColumns, reportRepeatedTreatments } from "./designIssues.ts";
import type { Draft } from "./draft.ts";
import { type IssueLog, issueLog } from "./issueLog.ts";
import { reportSimilarNames } from "./labels.ts";
import { reportLodgingScale } from "./lodgingScale.ts";
import { decimalMark } from "./numberStyle.ts";
import { ratingColumns, ratingScales, reportUnknownRatings } from "./ratingScales.ts";
import { type ReadPlan, readPlan } from "./readPlan.ts";
import { readRows } from "./readRows.ts";
import { listed } from "./roleWords.ts";
import { rowsTable } from "./rowsTable.ts";
import { checkSchema, type ReadSchema, type Settings } from "./schema.ts";
import { mergeSubSamples } from "./subSamples.ts";
import type { Table } from "./table.ts";
import { textTable } from "./textTable.ts";
import { standTraits } from "./traitCells.ts";
import type { Plot, Trial } from "./trial.ts";
import { checkUnits, trialDensityUnit, trialYieldUnit } from "./trialUnits.ts";
import { takeUnitRow } from "./unitRow.ts";
import { reportUnusual } from "./unusualValues.ts";

/** A trial with everything that was found wrong or noteworthy; `trial` is null when no analysis is possible. */
export interface TrialReading {
  readonly trial: Trial | null;
  readonly issues: readonly Issue[];
}

/**
 * Reads a trial from delimited text or from rows, and reports all problems at once.
 *
 * Columns are found by their headers or by `schema.columns`; units by header suffixes ("yield_bu_ac", "Stand (plants/m2)")
 * or by `schema.units`, and are never guessed. Yield is brought to the crop's standard moisture, weights and strip sizes to
 * yield, counts to stands; rows with one plot id are averaged; densities are put on one axis. No row vanishes: one that
 * cannot be used is an excluded plot with the reason.
 *
 * @param source - the text of a CSV file, or an array of records such as a notebook's data frame
 * @param schema - what the headers do not say
 * @returns the trial, or null with at least one error among the issues
 * @throws AnalysisError `invalid-data` when the source is neither a text nor an array of records
 * @throws AnalysisError `invalid-option` when the schema breaks a rule
 * @throws AnalysisError `unreadable-source` when the text is too long, has too many rows or columns, or is not a table at all (workbook,
 *   web page, UTF-16)
 * @throws AnalysisError `data-problems` in strict mode, listing the errors
 * @example
 * readTrial("hybrid,seeding_rate_k_ac,yield_bu_ac\nAmber 12,24,198.2\nAmber 12,30,212.9\n").trial.plots.length; // => 2
 */
export function readTrial(
  source: string | readonly Readonly<Record<string, unknown>>[],
  schema: ReadSchema = {},
): TrialReading {
  check(
    typeof source === "string" || Array.isArray(source),
    "invalid-data",
    `source must be the text of a table or an array of records; got ${source === null ? "null" : typeof source}`,
  );
  const settings = checkSchema(schema);
  const log = issueLog(typeof source === "string" ? "Line" : "Row", settings.issueLimit ?? 50);
  const table = typeof source === "string" ? textTable(source, settings, log) : rowsTable(source);
  const trial =
    table === null ? null : buildTrial(table, settings, log, typeof source === "string" ? hashText(source) : null);
  const issues = log.list();
  if (settings.strict === true) throwOnErrors(issues);
  return { trial, issues };
}

/** A trial from a table; null, with issues, when no analysis is possible. */
export function buildTrial(given: Table, settings: Settings, log: IssueLog, inputHash: string | null): Trial | null {
  if (given.rows.length === 0) {
    log.add({
      severity: "error",
      code: "no-rows",
      rule: "a trial needs rows below its header",
      remedy: "check that the right file was given",
    });
    return null;
  }
  const ratings = ratingColumns(given.header, settings, log);
  const { table, columns } = takeUnitRow(given, matchColumns(given, settings, log, ratings), log);
  const found = cropOf(table, columns.byRole.get("crop"), settings.givenCrop, log);
  if (found === null) return null;
  const { crop: named, assumed } = found;
  const crop = { ...named, standardMoisture: settings.standardMoisture ?? named.standardMoisture };
  const plan = readPlan(columns, table.header, crop, settings, log);
  const numeric = [...columns.byRole.values()].filter((column) => column.kind !== "label" && column.kind !== "text");
  const decimal = decimalMark(table, numeric, settings, log);
  if (plan === null) return null;
  const densityUnit = trialDensityUnit(columns, settings);
  const yieldUnit = trialYieldUnit(columns, crop, settings);
  const needed = numeric.filter((column) => plan.needed.includes(column.role));
  const known = checkUnits(table, needed, { crop, assumed }, yieldUnit, decimal, settings, log);
  if (!known || columns.undecided.has("hybrid")) return null;
  reportTraits(columns, ratings, log);
  reportUnknownRatings(columns.traits, ratings, log);
  reportMissingColumns(columns, log);
  reportLodgingScale(table, columns.byRole, decimal, log);
  const context = { decimal, missing: new Set(settings.missing ?? []), log };
  const drafts = readRows(table, columns, ratings, plan, { crop, densityUnit, yieldUnit }, settings, context);
  reportUnusual(drafts, columnsToCompare(columns, plan), log);
  reportRepeatedTreatments(drafts, log);
  const merged = mergeSubSamples(drafts, log, columns.byRole.get("plot")?.header ?? null);
  const { axis, density, establishment, byEnvironment } = densityAxis(merged, settings, log);
  const plots = merged.map((draft, i) => toPlot(draft, density[i] ?? null, settings));
  const used = plots.filter((plot) => plot.excluded === null);
  const hybrids = [...new Set(used.map((plot) => plot.hybrid))].sort();
  reportSimilarNames(hybrids, "hybrids", log);
  reportDesign(plots, hybrids, columns, log);
  return {
    schema: "standcurve/trial/1",
    crop,
    densityUnit,
    yieldUnit,
    densityAxis: axis,
    establishment,
    environmentEstablishment: byEnvironment,
    environments: [...new Set(used.map((plot) => plot.environment))],
    hybrids,
    plots,
    standTraits: standTraits(columns.byRole).map(({ name, measure, unit }) => ({ name, measure, unit })),
    ratings: ratingScales(ratings, columns.traits),
    inputHash,
  };
}

function toPlot(draft: Draft, density: number | null, settings: Settings): Plot {
  return {
    row: draft.row,
    rows: draft.rows,
    plot: draft.plot,
    environment: draft.environment,
    site: draft.site,
    year: draft.year,
    block: draft.block,
    hybrid: draft.hybrid,
    seedingRate: draft.seedingRate,
    stand: draft.stand,
    density,
    yield: draft.yield,
    moisture: draft.moisture,
    testWeight: draft.testWeight,
    weight: settings.weightBySubSamples === true ? draft.weight * draft.rows.length : draft.weight,
    lodging: draft.lodging,
    traits: draft.traits,
    position: draft.position,
    excluded: draft.excluded,
  };
}

function reportTraits({ traits: all }: ColumnMap, ratings: { has(index: number): boolean }, log: IssueLog): void {
  const traits = all.filter(({ index }) => !ratings.has(index));
  if (traits.length === 0) return;
  const one = traits.length === 1;
  log.add({
    severity: "note",
    code: "kept-as-traits",
    count: traits.length,
    rule: `${one ? "one column has" : `${traits.length} columns have`} no role and ${one ? "is" : "are"} kept as traits: ${listed(traits.map((trait) => trait.name))}`,
    remedy: "nothing to do; a column that should count is named with schema.columns",
  });
}

/** Columns whose figures are compared with their median to find slipped digits. */
function columnsToCompare({ byRole }: ColumnMap, plan: ReadPlan): Parameters<typeof reportUnusual>[1] {
  const yields = byRole.get(plan.yieldFrom === "weight" ? "harvestWeight" : "yield");
  const rates = plan.rateFrom === null ? undefined : byRole.get(plan.rateFrom);
  const stands = byRole.get(plan.standFrom === "count" ? "standCount" : "stand");
  return [
    ...(rates === undefined ? [] : [{ column: rates, value: (draft: Draft) => draft.seedingRate }]),
    ...(stands === undefined || plan.standFrom === null
      ? []
      : [{ column: stands, value: (draft: Draft) => draft.stand }]),
    ...(yields === undefined || plan.yieldFrom === null
      ? []
      : [{ column: yields, value: (draft: Draft) => draft.yield }]),
    // A score of 9 beside a median of 2 is no slipped digit.
    ...standTraits(byRole)
      .filter(({ measure }) => measure !== "root-score")
      .map(({ name, column }) => ({ column, value: (draft: Draft) => traitOf(draft, name) })),
  ];
}

function traitOf({ traits }: Draft, name: string): number | null {
  const value = traits.find(([own]) => own === name)?.[1];
  return typeof value === "number" ? value : null;
}

/** Strict reading: one error that lists the first thirty. */
export function throwOnErrors(issues: readonly Issue[]): void {
  const errors = issues.filter((issue) => issue.severity === "error");
  if (errors.length === 0) return;
  const lines = errors.slice(0, 30).map((issue) => `- ${issue.message}`);
  const more = errors.length > 30 ? `\n- and ${errors.length - 30} more` : "";
  throw new AnalysisError(
    "data-problems",
    `the file has ${errors.length} ${errors.length === 1 ? "error" : "errors"}:\n${lines.join("\n")}${more}`,
  );
}
