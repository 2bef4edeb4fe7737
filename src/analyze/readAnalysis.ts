import { AnalysisError, check } from "../core/errors.ts";
import { parseJson } from "../core/parseJson.ts";
import { shown } from "../core/shown.ts";
import type { TrialAnalysis } from "./result.ts";
import { trialAnalysisSchema } from "./schema.ts";
import { schemaIssue } from "./schemaIssue.ts";

/**
 * A saved analysis, checked against `trialAnalysisSchema`, so that charts, reports and recommendations can rely on it.
 *
 * @param source - text of the JSON that `analyze --json` wrote, or the object itself
 * @throws AnalysisError `invalid-data` when it is not JSON, not an analysis, of another version, or broken; the message names the
 *   first property that breaks a rule
 * @example
 * const { trial } = readTrial("hybrid,block,seeding_rate_k_ac,yield_bu_ac\nA,1,18,176\nA,1,24,193\nA,2,18,175\nA,2,24,190\n");
 * readAnalysis(JSON.stringify(analyzeTrial(trial, { resamples: 0 }))).hybrids.length; // => 1
 */
export function readAnalysis(source: unknown): TrialAnalysis {
  let value = source;
  if (typeof source === "string") {
    const parsed = parseJson(source);
    if (parsed.kind === "bad")
      throw new AnalysisError("invalid-data", `a saved analysis must be JSON: ${parsed.reason}`);
    value = parsed.value;
  }
  const schema = typeof value === "object" && value !== null ? (value as { schema?: unknown }).schema : value;
  check(
    schema === "standcurve/trial-analysis/1",
    "invalid-data",
    `this is not an analysis of standcurve: schema must be "standcurve/trial-analysis/1"; got ${shown(schema)}`,
  );
  const issue = schemaIssue(value, trialAnalysisSchema);
  check(issue === null, "invalid-data", `the saved analysis is broken: ${issue}`);
  return value as TrialAnalysis;
}
