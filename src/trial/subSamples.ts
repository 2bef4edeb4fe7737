import { averageDrafts } from "./averageDrafts.ts";
import type { Draft, MergedDraft } from "./draft.ts";
import type { IssueLog } from "./issueLog.ts";

/**
 * Averages rows with one plot id (in one environment and block) to one plot: they are sub-samples, not replicates. Yield
 * and moisture are averaged in proportion to the ground they were weighed on when that is known; counts of lodged and
 * examined plants are added. A plot id that carries two hybrids or two rates is an error, and those rows stay out.
 */
export function mergeSubSamples(drafts: readonly Draft[], log: IssueLog, plotColumn: string | null): MergedDraft[] {
  const groups = new Map<string, Draft[]>();
  drafts.forEach((draft, i) => {
    const key = draft.plot === null ? `row ${i}` : JSON.stringify([draft.environment, draft.block, draft.plot]);
    const group = groups.get(key);
    if (group === undefined) groups.set(key, [draft]);
    else group.push(draft);
  });
  const plots: MergedDraft[] = [];
  let merged = 0;
  let mergedRows = 0;
  for (const group of groups.values()) {
    const first = group[0] as Draft;
    if (group.length === 1) {
      plots.push({ ...first, rows: [first.row] });
      continue;
    }
    const parts = splitByTreatment(group);
    if (parts.length > 1) reportConflict(first, parts, plotColumn, log);
    for (const part of parts) {
      const conflict = parts.length > 1 ? `plot id ${first.plot} has more than one hybrid or rate` : null;
      const kept = dropCopies(part, log);
      if (kept.length > 1) {
        merged += 1;
        mergedRows += kept.length;
      }
      plots.push(
        averageDrafts(
          kept,
          part.map((draft) => draft.row),
          conflict,
        ),
      );
    }
  }
  if (merged > 0) {
    log.add({
      severity: "note",
      code: "sub-samples-averaged",
      column: plotColumn,
      count: mergedRows,
      rule: `${mergedRows.toLocaleString("en-US")} rows were averaged to ${merged === 1 ? "one plot" : `${merged.toLocaleString("en-US")} plots`}, because rows with one plot id are sub-samples of that plot and not replicates`,
      remedy: "nothing to do; if they are plots of their own, give each its own plot id",
    });
  }
  return plots;
}

function splitByTreatment(group: readonly Draft[]): Draft[][] {
  const parts = new Map<string, Draft[]>();
  for (const draft of group) {
    const key = JSON.stringify([draft.hybrid, draft.seedingRate]);
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
        `${draft?.hybrid}${draft?.seedingRate === null ? "" : ` at ${draft?.seedingRate}`} (line ${draft?.row})`,
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

/** Rows that repeat another in every number are one measurement pasted twice, and would double the lodging counts. */
function dropCopies(part: readonly Draft[], log: IssueLog): readonly Draft[] {
  const seen = new Map<string, Draft>();
  const kept = part.filter((draft) => {
    const key = JSON.stringify([
      draft.yield,
      draft.stand,
      draft.moisture,
      draft.testWeight,
      draft.area,
      draft.lodging,
      draft.traits,
      draft.position,
      draft.excluded,
    ]);
    const first = seen.get(key);
    if (first === undefined) {
      seen.set(key, draft);
      return true;
    }
    log.add({
      severity: "warning",
      code: "duplicate-row",
      row: draft.row,
      rule: `this row says the same as line ${first.row} in every column`,
      remedy: "it was counted once; delete it if it was pasted twice",
    });
    return false;
  });
  return kept;
}
