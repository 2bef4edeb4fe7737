import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import type { GroupBy, GroupInput } from "./groupInput.ts";
import type { GroupResult } from "./groupResult.ts";
import { groupRows } from "./groupRows.ts";
import { type PlotRecord, recordRows, type SourceOptions } from "./rowSource.ts";
import { type RunOptions, runGroups } from "./runGroups.ts";

/** Options of `analyzeMany`. */
export interface AnalyzeManyOptions extends SourceOptions, RunOptions {
  /** Default "hybrid": one group for each hybrid, over all environments and in each. */
  readonly by?: GroupBy;
  /** Default "error". */
  readonly scattered?: "error" | "collect";
}

/**
 * Analyses any number of groups, one hybrid each unless `by` says otherwise, and hands out results as they are done, in order.
 *
 * Memory holds a few groups for each worker when the rows of a group stand together, however many groups there are. A group that
 * comes back later would be analysed twice in part, so that is an error with the remedy; `scattered: "collect"` keeps all rows
 * until the end instead. Results are those of `analyzeGroup`, byte for byte, with any executor.
 *
 * @param source - records (one for each row) or groups (`standcurve/group/1`), an iterable or an async one
 * @param options - `read` and `options` as for `readTrial` and `analyzeTrial`; groups that bring their own keep them
 * @throws AnalysisError `invalid-option` when an option is out of bounds
 * @throws AnalysisError `data-problems` when columns or units cannot be made out
 * @throws AnalysisError `not-grouped` when a group comes back
 * @example
 * const plots = [20, 25, 30, 35].flatMap((stand_k_ac) => [1, 2].map((block) => ({ block, stand_k_ac, yield_bu_ac: 150 + stand_k_ac + block })));
 * const rows = ["A", "B"].flatMap((hybrid) => plots.map((plot) => ({ hybrid, ...plot })));
 * const found: string[] = [];
 * for await (const { hybrid, status } of analyzeMany(rows, { options: { resamples: 0 } })) found.push(`${hybrid} ${status}`);
 * found; // => ["A analysed", "B analysed"]
 */
export async function* analyzeMany(
  source: Iterable<PlotRecord | GroupInput> | AsyncIterable<PlotRecord | GroupInput>,
  options: AnalyzeManyOptions = {},
): AsyncGenerator<GroupResult> {
  for await (const { line } of runGroups(asGroups(source, options), options)) yield JSON.parse(line) as GroupResult;
}

/** Groups as they come, or records gathered into groups: the first element says which. */
async function* asGroups(
  source: Iterable<PlotRecord | GroupInput> | AsyncIterable<PlotRecord | GroupInput>,
  options: AnalyzeManyOptions,
): AsyncGenerator<GroupInput> {
  const many: unknown = source;
  check(
    typeof many === "object" && many !== null && (Symbol.asyncIterator in many || Symbol.iterator in many),
    "invalid-data",
    `analyzeMany needs records or groups that can be iterated; got ${shown(many)}`,
  );
  checkShape(options, "options", "object", "invalid-option");
  const items = each(source);
  const first = await items.next();
  if (first.done === true) return;
  const rest = withFirst(first.value, items);
  if (!isGroup(first.value)) {
    const { by = "hybrid", scattered = "error" } = options;
    const records = recordRows(rest as AsyncIterable<PlotRecord>, options);
    for await (const rows of groupRows(records.rows(), { by, scattered })) yield records.group(rows);
    return;
  }
  for await (const item of rest) {
    const group = item as GroupInput;
    yield { ...group, read: group.read ?? options.read ?? {}, options: group.options ?? options.options ?? {} };
  }
}

function isGroup(item: PlotRecord | GroupInput): item is GroupInput {
  return typeof item === "object" && item !== null && "schema" in item && item.schema === "standcurve/group/1";
}

async function* each<T>(source: Iterable<T> | AsyncIterable<T>): AsyncGenerator<T> {
  yield* source;
}

async function* withFirst<T>(first: T, rest: AsyncIterable<T>): AsyncGenerator<T> {
  yield first;
  yield* rest;
}
