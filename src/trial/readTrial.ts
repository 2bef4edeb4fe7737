import { AnalysisError, check } from "../core/errors.ts";
import { hashText } from "../core/hash.ts";
import type { Issue } from "../core/issue.ts";
import { type ColumnMap, listed, matchColumns } from "./columns.ts";
import { findCrop } from "./crops.ts";
import { densityAxis } from "./densityAxis.ts";
import { type IssueLog, issueLog } from "./issueLog.ts";
import { reportSimilarNames } from "./labels.ts";
import { decimalMark } from "./numberStyle.ts";
import { readPlan } from "./readPlan.ts";
import { readRows } from "./readRows.ts";
import { rowsTable } from "./rowsTable.ts";
import { checkSchema, type ReadSchema, type Settings } from "./schema.ts";
import { mergeSubSamples } from "./subSamples.ts";
import type { Table } from "./table.ts";
import { textTable } from "./textTable.ts";
import type { Crop, Trial } from "./trial.ts";
import { checkUnits, trialDensityUnit, trialYieldUnit } from "./trialUnits.ts";

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
 * @throws AnalysisError `unreadable-source` when the text is too long or is not a table at all (workbook, web page, UTF-16)
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

function buildTrial(table: Table, settings: Settings, log: IssueLog, inputHash: string | null): Trial | null {
  if (table.rows.length === 0) {
    log.add({
      severity: "error",
      code: "no-rows",
      rule: "a trial needs rows below its header",
      remedy: "check that the right file was given",
    });
    return null;
  }
  const columns = matchColumns(table.header, settings, log);
  const named = cropOf(table, columns, settings, log);
  const crop = { ...named, standardMoisture: settings.standardMoisture ?? named.standardMoisture };
  const plan = readPlan(columns, table.header, crop, settings, log);
  const numeric = [...columns.byRole.values()].filter((column) => !["label", "text"].includes(column.kind));
  const decimal = decimalMark(table, numeric, settings, log);
  if (plan === null) return null;
  const needed = numeric.filter(
    (column) => plan.needed.includes(column.role) || (column.role === "moisture" && plan.moistureOfYield === "row"),
  );
  if (!checkUnits(table, needed, crop, decimal, settings, log) || columns.undecided.has("hybrid")) return null;
  const densityUnit = trialDensityUnit(columns, settings);
  const yieldUnit = trialYieldUnit(columns, crop, settings);
  if (columns.traits.length > 0) {
    const names = columns.traits.map((trait) => trait.name);
    log.add({
      severity: "note",
      code: "kept-as-traits",
      count: names.length,
      rule: `${names.length === 1 ? "one column has" : `${names.length} columns have`} no role and ${names.length === 1 ? "is" : "are"} kept as traits: ${listed(names)}`,
      remedy: "nothing to do; a column that should count is named with schema.columns",
    });
  }
  const context = { decimal, missing: new Set(settings.missing ?? []), log };
  const drafts = readRows(table, columns, plan, { crop, densityUnit, yieldUnit }, settings, context);
  const merged = mergeSubSamples(drafts, log, columns.byRole.get("plot")?.header ?? null);
  const { axis, density, establishment } = densityAxis(merged, settings, log);
  const plots = merged.map((draft, i) => {
    const { area: _area, ...plot } = draft;
    const weight = settings.weightBySubSamples === true ? plot.weight * plot.rows.length : plot.weight;
    return { ...plot, weight, density: density[i] ?? null };
  });
  const used = plots.filter((plot) => plot.excluded === null);
  const hybrids = [...new Set(used.map((plot) => plot.hybrid))];
  reportSimilarNames(hybrids, "hybrids", log);
  return {
    schema: "standcurve/trial/1",
    crop,
    densityUnit,
    yieldUnit,
    densityAxis: axis,
    establishment,
    environments: [...new Set(used.map((plot) => plot.environment))],
    hybrids,
    plots,
    inputHash,
  };
}

/** The crop declared, else the one in the crop column, else maize with a note. */
function cropOf(table: Table, columns: ColumnMap, settings: Settings, log: IssueLog): Crop {
  if (settings.givenCrop !== null) return settings.givenCrop;
  const column = columns.byRole.get("crop");
  const names = new Set<string>();
  if (column !== undefined) {
    for (const row of table.rows) {
      const name = String(row[column.index] ?? "")
        .trim()
        .slice(0, 60);
      if (name !== "" && names.size < 20) names.add(name);
    }
  }
  const crops = [...names].map(findCrop);
  const found = crops[0];
  if (found !== undefined && found !== null && crops.every((crop) => crop === found)) {
    return { name: found.name, poundsPerBushel: found.poundsPerBushel, standardMoisture: found.standardMoisture };
  }
  log.add({
    severity: names.size === 0 ? "note" : "error",
    code: names.size === 0 ? "crop-assumed" : "unknown-crop",
    column: column?.header ?? null,
    received: names.size === 0 ? null : [...names].join(", "),
    rule:
      names.size === 0
        ? "no crop is named, so maize was assumed (56 lb per bushel, 15.5 % moisture)"
        : "a trial has one crop, and it must be in the crop table",
    remedy:
      names.size === 0
        ? "declare schema.crop if it is another"
        : "declare schema.crop as a name or as { name, poundsPerBushel, standardMoisture }; maize was assumed",
  });
  return { name: "maize", poundsPerBushel: 56, standardMoisture: 15.5 };
}

function throwOnErrors(issues: readonly Issue[]): void {
  const errors = issues.filter((issue) => issue.severity === "error");
  if (errors.length === 0) return;
  const lines = errors.slice(0, 30).map((issue) => `- ${issue.message}`);
  const more = errors.length > 30 ? `\n- and ${errors.length - 30} more` : "";
  throw new AnalysisError(
    "data-problems",
    `the file has ${errors.length} ${errors.length === 1 ? "error" : "errors"}:\n${lines.join("\n")}${more}`,
  );
}
