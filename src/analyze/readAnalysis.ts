import { AnalysisError, check } from "../core/errors.ts";
import { parseJson } from "../core/parseJson.ts";
import { version } from "../version.ts";
import { analysisUpgrades, analysisVersion, type SavedDocument, versionOf } from "./analysisUpgrades.ts";
import type { TrialAnalysis } from "./result.ts";
import { trialAnalysisSchema } from "./schema.ts";
import { type SchemaProblem, schemaProblems } from "./schemaProblems.ts";

export interface ReadAnalysisOptions {
  /** What the source is called in error texts, its file name say; default "the analysis". */
  readonly name?: string;
}

/** Different problems told in one error; all are counted. */
const problemsTold = 40;

/**
 * A saved analysis, of this version of the format or an older one, checked against its schema.
 *
 * An older one is brought up to date step by step; what it did not know is null, and a caution in the result says so. Nothing is computed
 * again: the numbers are those that were saved, with the `version` of the package that made them.
 *
 * @param source - JSON text (a byte order mark is skipped), or the value it parses to; never changed. An analysis of this version that is
 * given as a value is handed back as it is
 * @returns an analysis as `analyzeTrial` gives it, `schema` "standcurve/trial-analysis/1"
 * @throws AnalysisError `unreadable-source` when the text is not JSON, or the JSON not an analysis
 * @throws AnalysisError `newer-version` when a later version of the package wrote it in a format not known here
 * @throws AnalysisError `invalid-data` when it breaks the schema: all problems at once, each with its place
 * @example
 * const saved = JSON.stringify(analysis);
 * readAnalysis(saved).hybrids.length === analysis.hybrids.length; // => true
 */
export function readAnalysis(source: unknown, { name }: ReadAnalysisOptions = {}): TrialAnalysis {
  const what = name === undefined ? "the analysis" : `"${name}"`;
  const saved = documentOf(source, what);
  const from = versionOf(saved);
  check(from !== null, "unreadable-source", `${what} is not an analysis of standcurve${kindFound(saved)}`);
  check(
    from <= analysisVersion,
    "newer-version",
    `${what} has format ${from}, written by standcurve ${String(saved["version"])}; this is standcurve ${version}, which reads up to format ${analysisVersion}: update standcurve, or analyse the trial again with this version`,
  );
  let now = saved;
  for (let v = from; v < analysisVersion; v++)
    now = (analysisUpgrades.get(v) as (one: SavedDocument) => SavedDocument)(now);
  const problems = schemaProblems(now, trialAnalysisSchema);
  if (problems.length > 0)
    throw new AnalysisError("invalid-data", `${what} is not a sound analysis:\n${problemText(problems)}`);
  return now as unknown as TrialAnalysis;
}

function documentOf(source: unknown, what: string): SavedDocument {
  let value = source;
  if (typeof source === "string") {
    check(source.trim() !== "", "unreadable-source", `${what} is not JSON: it is empty`);
    const parsed = parseJson(source);
    if (parsed.kind === "bad") throw new AnalysisError("unreadable-source", `${what} is not JSON: ${parsed.reason}`);
    value = parsed.value;
  }
  const isObject = typeof value === "object" && value !== null && !Array.isArray(value);
  check(isObject, "unreadable-source", `${what} is not an analysis of standcurve: it holds no object`);
  return value as SavedDocument;
}

/** What another kind of result says of itself. */
function kindFound({ schema }: SavedDocument): string {
  if (schema === "standcurve/group-result/1")
    return ": it is one line of a batch, whose analysis is in its property analysis";
  if (typeof schema !== "string") return ': it has no property schema such as "standcurve/trial-analysis/1"';
  return `: its schema is "${schema.slice(0, 60)}"`;
}

/** Problems line by line; one that comes back in every item of a list is told once, with its number of places. */
function problemText(problems: readonly SchemaProblem[]): string {
  const alike = new Map<string, { readonly first: SchemaProblem; places: number }>();
  for (const problem of problems) {
    const key = `${problem.path.replace(/\[\d+\]/g, "[]")} ${problem.rule.replace(/, got .*$/s, "")}`;
    const known = alike.get(key);
    if (known === undefined) alike.set(key, { first: problem, places: 1 });
    else known.places += 1;
  }
  const lines = [...alike.values()].map(({ first, places }) => {
    const more = places === 1 ? "" : ` (and ${places - 1} more like it)`;
    return `- ${first.path === "" ? "it" : first.path} ${first.rule}${more}`;
  });
  const left = lines.length - problemsTold;
  return [...lines.slice(0, problemsTold), ...(left > 0 ? [`- and ${left} other kinds of problems`] : [])].join("\n");
}
