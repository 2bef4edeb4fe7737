import type { Draft } from "./draft.ts";
import type { LodgingCount } from "./trial.ts";

/**
 * One plot from its sub-samples: yield and moisture in proportion to the ground they were weighed on when every part gives
 * it, other numbers plainly, counts added. Parts that are excluded stay out unless all are.
 *
 * @param conflict - a reason that keeps the whole plot out, or null
 */
export function averageDrafts(all: readonly Draft[], conflict: string | null): Draft {
  const rows = all.map((draft) => draft.row);
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
      const key = JSON.stringify([count.kind, count.date, count.daysAfterMaturity, count.examined === null]);
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
