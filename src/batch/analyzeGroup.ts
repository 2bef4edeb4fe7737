import { analyzeTrial } from "../analyze/analyzeTrial.ts";
import { deriveSeed } from "../analyze/deriveSeed.ts";
import { AnalysisError, check } from "../core/errors.ts";
import { hashText } from "../core/hash.ts";
import { parseJson } from "../core/parseJson.ts";
import { shown } from "../core/shown.ts";
import { readTable, tableHash } from "../trial/readTable.ts";
import type { TrialReading } from "../trial/readTrial.ts";
import type { Table } from "../trial/table.ts";
import { version } from "../version.ts";
import type { GroupInput } from "./groupInput.ts";
import type { GroupResult } from "./groupResult.ts";
import { groupRowsTable } from "./groupRowsTable.ts";

/**
 * Reads and analyses one group: the unit of work of every batch, plain JSON in and out.
 *
 * A group is read as a file of its own would be, so its result does not depend on other groups, on the order of work or on the
 * machine: densities are the mean stands of its own plots, flex scores refer to `options.between` or else to its own range, and
 * checks between hybrids (one plot id with two hybrids) are not made. The seed is `options.seed` for a hybrid over all
 * environments, from which every curve derives its own by name; for a single environment it is derived from hybrid and environment.
 *
 * @param group - see `GroupInput`
 * @returns the result; whatever is wrong with the data is in it
 * @throws AnalysisError `invalid-option` when an option of reading or analysis is out of bounds; never for data
 * @example
 * const stand_k_ac = [20, 25, 30, 35, 20, 25, 30, 35];
 * const yield_bu_ac = [170, 192, 200, 195, 175, 190, 203, 192];
 * const plots = { block: [1, 1, 1, 1, 2, 2, 2, 2], stand_k_ac, yield_bu_ac };
 * const group = { schema: "standcurve/group/1", hybrid: "A", environment: null, plots, options: { resamples: 20 } } as const;
 * analyzeGroup(group).status; // => "analysed"
 */
export function analyzeGroup(group: GroupInput): GroupResult {
  check(
    typeof group === "object" && group !== null && group.schema === "standcurve/group/1",
    "invalid-option",
    'analyzeGroup needs a group with schema "standcurve/group/1"',
  );
  const hybrid = String(group.hybrid);
  const environment = group.environment ?? null;
  const base = group.options?.seed ?? 1;
  const seed = environment === null ? base : deriveSeed(base, hybrid, environment);
  const common = { schema: "standcurve/group-result/1", version, hybrid, environment } as const;
  const origin = { seed, settingsHash: settingsHash(group) };
  let table: Table = { header: [], rows: [], lines: [], delimiter: null, counts: "Row" };
  let issues: TrialReading["issues"] = [];
  const result = (
    status: GroupResult["status"],
    reason: string | null,
    analysis: GroupResult["analysis"],
  ): GroupResult => ({
    ...common,
    status,
    reason,
    rows: {
      count: table.rows.length,
      first: table.lines[0] ?? null,
      last: table.lines[table.lines.length - 1] ?? null,
    },
    ...origin,
    inputHash: tableHash(table),
    issues,
    analysis,
  });
  try {
    table = groupRowsTable(group);
    const reading = readTable(table, { hybrid, ...(environment === null ? {} : { environment }), ...group.read });
    issues = reading.issues;
    if (reading.trial === null) return result("not-analysed", "the rows cannot be read: see issues", null);
    if (group.read?.strict === true && issues.some(({ severity }) => severity === "error"))
      return result("not-analysed", "the rows have errors, and reading is strict: see issues", null);
    const analysis = analyzeTrial(reading.trial, { scrutiny: false, ...group.options, seed, issues });
    const some = analysis.hybrids.some(({ pooled, environments }) =>
      [pooled, ...environments].some(({ kind, standability }) => kind === "analysed" || standability !== null),
    );
    const [first] = analysis.hybrids;
    return some
      ? result("analysed", null, analysis)
      : result(
          "not-analysed",
          first?.pooled.kind === "not-estimable" ? first.pooled.reason : "no plot can be used",
          analysis,
        );
  } catch (error) {
    if (error instanceof AnalysisError && error.code === "invalid-option") throw error;
    const known = error instanceof AnalysisError;
    return result(known ? "not-analysed" : "failed", error instanceof Error ? error.message : String(error), null);
  }
}

/**
 * The same for text: one line of JSON in, one line out.
 *
 * @throws AnalysisError `invalid-data` when the text is not JSON, too long or too deep; as `analyzeGroup`
 * @example
 * const plots = { block: [1, 1, 1, 2, 2, 2], stand_k_ac: [20, 26, 32, 20, 26, 32], yield_bu_ac: [170, 190, 199, 174, 193, 201] };
 * const group = { schema: "standcurve/group/1", hybrid: "A", environment: null, plots, options: { resamples: 0 } };
 * JSON.parse(analyzeGroupText(JSON.stringify(group))).hybrid; // => "A"
 */
export function analyzeGroupText(json: string): string {
  check(typeof json === "string", "invalid-data", `a group must be a text of JSON; got ${shown(json)}`);
  const parsed = parseJson(json);
  if (parsed.kind === "bad") throw new AnalysisError("invalid-data", `a group must be JSON: ${parsed.reason}`);
  return JSON.stringify(analyzeGroup(parsed.value as GroupInput));
}

/** Names everything but the plots that a result depends on. */
export function settingsHash({ read, options }: Pick<GroupInput, "read" | "options">): string {
  return hashText(JSON.stringify([version, read ?? {}, options ?? {}])).slice(0, 16);
}
