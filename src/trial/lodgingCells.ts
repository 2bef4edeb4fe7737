import type { Column } from "./columns.ts";
import type { IssueLog } from "./issueLog.ts";
import { type NumberContext, readQuantity } from "./quantities.ts";
import type { Role } from "./roles.ts";
import type { Cell } from "./table.ts";
import type { LodgingCount } from "./trial.ts";

/** Reads one row's lodging counts. */
export type LodgingReader = (cells: readonly Cell[], row: number) => readonly LodgingCount[];

const kinds: readonly { kind: LodgingCount["kind"]; lodged: Role; examined: Role }[] = [
  { kind: "stalk", lodged: "lodgedStalk", examined: "examinedStalk" },
  { kind: "root", lodged: "lodgedRoot", examined: "examinedRoot" },
  { kind: "green-snap", lodged: "lodgedSnap", examined: "examinedSnap" },
  { kind: "any", lodged: "lodgedAny", examined: "examined" },
];
const noCounts: readonly LodgingCount[] = [];

/**
 * A reader of lodging counts. A column is a number of plants when plants examined are given beside it, or a percentage or
 * share when its header says so; a bare "lodging" column is neither, is reported, and stays out.
 */
export function lodgingReader(byRole: ReadonlyMap<Role, Column>, context: NumberContext): LodgingReader {
  const date = byRole.get("lodgingDate");
  const sources = kinds.flatMap(({ kind, lodged, examined }) => {
    const column = byRole.get(lodged);
    if (column === undefined) return [];
    const total = byRole.get(examined) ?? byRole.get("examined") ?? null;
    if (total === null && column.unit !== "percent" && column.unit !== "fraction") {
      reportUnknownKind(column, context.log);
      return [];
    }
    return [{ kind, column: { ...column, unit: column.unit ?? "count" } as Column, total }];
  });
  if (sources.length === 0) return () => noCounts;
  return (cells, row) =>
    sources.flatMap(({ kind, column, total }) => {
      const found = readQuantity(cells[column.index] ?? "", column, row, context).value;
      const examined = total === null ? null : readQuantity(cells[total.index] ?? "", total, row, context).value;
      if (found === null || (total !== null && (examined === null || examined === 0))) return [];
      const share = column.unit === "percent" || column.unit === "fraction";
      const lodged = share ? (found / 100) * (examined ?? 1) : found;
      if (examined !== null && lodged > examined) {
        context.log.add({
          severity: "error",
          code: "lodged-above-examined",
          row,
          column: column.header,
          received: cells[column.index] ?? null,
          rule: `more plants lodged (${found}) than were examined (${examined})`,
          remedy: "correct one of the two; this count was left out, the plot's yield is kept",
        });
        return [];
      }
      if (examined !== null && !share && !(Number.isInteger(lodged) && Number.isInteger(examined))) {
        context.log.add({
          severity: "warning",
          code: "count-not-whole",
          row,
          column: column.header,
          received: cells[column.index] ?? null,
          rule: "plants are counted in whole numbers",
          remedy: "it was used as it stands; correct it if it is a percentage",
        });
      }
      const day =
        date === undefined
          ? ""
          : String(cells[date.index] ?? "")
              .trim()
              .slice(0, 40);
      return [{ kind, lodged, examined, date: day === "" ? null : day }];
    });
}

function reportUnknownKind(column: Column, log: IssueLog): void {
  log.add({
    severity: "warning",
    code: "lodging-unit",
    column: column.header,
    rule: "lodging must be a number of plants with the plants examined beside it, or a percentage, and this header says neither",
    remedy: `add a column of plants examined, or declare schema.units { ${column.role}: "percent" }; the column was left out`,
  });
}
