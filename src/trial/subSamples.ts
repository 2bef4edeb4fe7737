import { averageDrafts } from "./averageDrafts.ts";
import type { Draft } from "./draft.ts";
import type { IssueLog } from "./issueLog.ts";
import { numberText } from "./numberText.ts";

/**
 * Averages rows with one plot id (in one environment and block) to one plot: they are sub-samples, not replicates. Yield
 * and moisture are averaged in proportion to the ground they were weighed on when that is known; counts of lodged and
 * examined plants are added. A plot id that carries two hybrids or two rates is an error, and those rows stay out.
 */
export function mergeSubSamples(drafts: readonly Draft[], log: IssueLog, plotColumn: string | null): Draft[] {
  const groups: Draft[][] = [];
  const known = new Map<string, Draft[]>();
  for (const draft of drafts) {
    const key = draft.plot === null ? null : `${draft.environment}\u0000${draft.block}\u0000${draft.plot}`;
    const group = key === null ? undefined : known.get(key);
    if (group !== undefined) {
      group.push(draft);
      continue;
    }
    const opened = [draft];
    groups.push(opened);
    if (key !== null) known.set(key, opened);
  }
  const plots: Draft[] = [];
  const copies: { copy: Draft; of: Draft }[] = [];
  let merged = 0;
  let mergedRows = 0;
  for (const group of groups) {
    const first = group[0] as Draft;
    if (group.length === 1) {
      plots.push(first);
      continue;
    }
    const parts = splitByTreatment(group);
    if (parts.length > 1) reportConflict(first, parts, plotColumn, log);
    for (const part of parts) {
      const conflict = parts.length > 1 ? `plot id ${first.plot} has more than one hybrid or rate` : null;
      const copy = part.length > 1 ? copiesIn(part) : null;
      if (copy !== null) copies.push(copy);
      if (part.length > 1) {
        merged += 1;
        mergedRows += part.length;
      }
      plots.push(averageDrafts(part, conflict));
    }
  }
  reportCopies(copies, log);
  if (merged > 0) {
    log.add({
      severity: "note",
      code: "sub-samples-averaged",
      column: plotColumn,
      count: mergedRows,
      rule: `${numberText(mergedRows)} rows were averaged to ${merged === 1 ? "one plot" : `${numberText(merged)} plots`}, because rows with one plot id are sub-samples of that plot and not replicates`,
      remedy: "nothing to do; if they are plots of their own, give each its own plot id",
    });
  }
  return plots;
}

function splitByTreatment(group: readonly Draft[]): Draft[][] {
  const parts = new Map<string, Draft[]>();
  for (const draft of group) {
    const key = `${draft.hybrid}\u0000${draft.seedingRate}`;
    const part = parts.get(key);
    if (part === undefined) parts.set(key, [draft]);
    else part.push(draft);
  }
  return [...parts.values()];
}

function reportConflict(
  first: Draft,
  parts: readonly (readonly Draft[])[],
  column: string | null,
  log: IssueLog,
): void {
  const shown = parts
    .slice(0, 4)
    .map(
      ([draft]) =>
        `${draft?.hybrid}${draft?.seedingRate === null ? "" : ` at ${draft?.seedingRate}`} (${log.unit} ${draft?.row})`,
    );
  log.add({
    severity: "error",
    code: "plot-conflict",
    row: first.row,
    column,
    received: first.plot,
    count: parts.reduce((sum, part) => sum + part.length, 0),
    rule: `one plot has one hybrid and one rate, but plot ${first.plot} in block ${first.block} of ${first.environment} has ${shown.join(", ")}${parts.length > 4 ? " and more" : ""}`,
    remedy:
      "correct the plot ids; if they do not identify plots, declare schema.columns { plot: null }; these rows were left out",
  });
}

/** A row that repeats another of its plot in every column may have been pasted twice, which doubles its lodging counts. */
function copiesIn(part: readonly Draft[]): { copy: Draft; of: Draft } | null {
  const seen = new Map<string, Draft>();
  for (const draft of part) {
    const { row: _row, rows: _rows, ...rest } = draft;
    const key = JSON.stringify(rest);
    const first = seen.get(key);
    if (first !== undefined) return { copy: draft, of: first };
    seen.set(key, draft);
  }
  return null;
}

function reportCopies(copies: readonly { copy: Draft; of: Draft }[], log: IssueLog): void {
  const [first] = copies;
  if (first === undefined) return;
  const others = copies.length === 1 ? "" : `, and so do rows of ${numberText(copies.length - 1)} more plots`;
  log.add({
    severity: "warning",
    code: "duplicate-row",
    row: first.copy.row,
    count: copies.length,
    rule: `this row says the same as ${log.unit} ${first.of.row} in every column${others}`,
    remedy: "delete it if it was pasted twice: averages do not change, but lodging counts are added up",
  });
}
