import type { Column } from "./columns.ts";
import { findCrop } from "./crops.ts";
import type { IssueLog } from "./issueLog.ts";
import type { Table } from "./table.ts";
import type { Crop } from "./trial.ts";

/**
 * The crop of a trial: the one declared, else the one its crop column names, else maize, with a note. Null, with an error,
 * when the column names several crops or one that the crop table does not have: bushels and moisture would be wrong.
 */
export function cropOf(
  table: Table,
  column: Column | undefined,
  declared: Crop | null,
  log: IssueLog,
): { crop: Crop; assumed: boolean } | null {
  if (declared !== null) return { crop: declared, assumed: false };
  const names = column === undefined ? [] : cropNames(table, column);
  if (names.length === 0) {
    log.add({
      severity: "note",
      code: "crop-assumed",
      column: column?.header ?? null,
      rule: "no crop is named, so maize was assumed (56 lb per bushel, 15.5 % moisture)",
      remedy: "declare schema.crop if it is another",
    });
    return { crop: { name: "maize", poundsPerBushel: 56, standardMoisture: 15.5 }, assumed: true };
  }
  const crops = names.map(findCrop);
  const first = crops[0] ?? null;
  if (first !== null && crops.every((crop) => crop === first)) {
    const { name, poundsPerBushel, standardMoisture } = first;
    return { crop: { name, poundsPerBushel, standardMoisture }, assumed: false };
  }
  log.add({
    severity: "error",
    code: "unknown-crop",
    column: column?.header ?? null,
    received: names.join(", "),
    rule: crops.includes(null) ? "the crop must be one of the crop table" : "a trial has one crop",
    remedy: crops.includes(null)
      ? "declare schema.crop as a name of the table or as { name, poundsPerBushel, standardMoisture }"
      : "split the file by crop",
  });
  return null;
}

/** Different spellings in the crop column, at most twenty. */
function cropNames(table: Table, column: Column): string[] {
  const names = new Set<string>();
  for (const row of table.rows) {
    const name = String(row[column.index] ?? "")
      .slice(0, 60)
      .trim();
    if (name !== "" && names.size < 20) names.add(name);
  }
  return [...names];
}
