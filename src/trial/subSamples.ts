import type { Draft } from "./draft.ts";
import type { IssueLog } from "./issueLog.ts";
import type { LodgingCount } from "./trial.ts";

/** A draft with all the rows that were averaged into it. */
export interface MergedDraft extends Draft {
  readonly rows: readonly number[];
}

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
      if (part.length > 1) {
        merged += 1;
        mergedRows += part.length;
      }
      plots.push(
        average(
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
      rule: `${mergedRows.toLocaleString("en-US")} rows were averaged to ${merged.toLocaleString("en-US")} plots, because rows with one plot id are sub-samples of that plot and not replicates`,
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

function average(all: readonly Draft[], rows: readonly number[], conflict: string | null): MergedDraft {
  const used = all.filter((draft) => draft.excluded === null);
  const parts = used.length > 0 ? used : all;
  const first = parts[0] as Draft;
  const byArea = parts.every((draft) => draft.area !== null);
  const reason = used.length > 0 ? null : first.excluded;
  return {
    ...first,
    row: rows[0] ?? first.row,
    rows,
    stand: mean(parts, (draft) => draft.stand, false),
    yield: mean(parts, (draft) => draft.yield, byArea),
    moisture: mean(parts, (draft) => draft.moisture, byArea),
    testWeight: mean(parts, (draft) => draft.testWeight, false),
    area: byArea ? parts.reduce((sum, draft) => sum + (draft.area ?? 0), 0) : null,
    weight: mean(parts, (draft) => draft.weight, false) ?? 1,
    lodging: addLodging(parts),
    traits: averageTraits(parts),
    position: {
      row: mean(parts, (draft) => draft.position.row, false),
      column: mean(parts, (draft) => draft.position.column, false),
      order: mean(parts, (draft) => draft.position.order, false),
    },
    excluded: conflict ?? reason,
  };
}

function mean(parts: readonly Draft[], value: (draft: Draft) => number | null, byArea: boolean): number | null {
  let sum = 0;
  let total = 0;
  for (const draft of parts) {
    const one = value(draft);
    if (one === null) continue;
    const share = byArea ? (draft.area ?? 0) : 1;
    sum += one * share;
    total += share;
  }
  return total > 0 ? sum / total : null;
}

/** Counts with plants examined are added; shares without are averaged. */
function addLodging(parts: readonly Draft[]): LodgingCount[] {
  const groups = new Map<string, LodgingCount[]>();
  for (const draft of parts) {
    for (const count of draft.lodging) {
      const key = JSON.stringify([count.kind, count.date, count.examined === null]);
      const group = groups.get(key);
      if (group === undefined) groups.set(key, [count]);
      else group.push(count);
    }
  }
  return [...groups.values()].map((group) => {
    const first = group[0] as LodgingCount;
    const lodged = group.reduce((sum, count) => sum + count.lodged, 0);
    if (first.examined === null) return { ...first, lodged: lodged / group.length };
    return { ...first, lodged, examined: group.reduce((sum, count) => sum + (count.examined ?? 0), 0) };
  });
}

/** Numbers are averaged; of texts the first is kept. */
function averageTraits(parts: readonly Draft[]): (readonly [string, number | string])[] {
  const sums = new Map<string, { sum: number; count: number; text: string | null }>();
  for (const draft of parts) {
    for (const [name, value] of draft.traits) {
      const known = sums.get(name) ?? { sum: 0, count: 0, text: null };
      sums.set(name, known);
      if (typeof value === "number") {
        known.sum += value;
        known.count += 1;
      } else known.text ??= value;
    }
  }
  return [...sums].map(([name, { sum, count, text }]) => [name, count > 0 ? sum / count : (text ?? "")] as const);
}
