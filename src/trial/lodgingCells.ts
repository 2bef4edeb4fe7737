import type { Column } from "./columns.ts";
import { dateText } from "./dateText.ts";
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
  { kind: "push", lodged: "failedPush", examined: "examinedPush" },
  { kind: "pinch", lodged: "failedPinch", examined: "examinedPinch" },
];
const noCounts: readonly LodgingCount[] = [];

/**
 * A reader of lodging counts. A column is a number of plants when plants examined are given beside it, or a percentage or
 * share when its header says so; a bare "lodging" column is neither, is reported, and stays out. Push and pinch tests are read
 * alike. Dates are brought to ISO order, so that they sort as text.
 */
export function lodgingReader(byRole: ReadonlyMap<Role, Column>, context: NumberContext): LodgingReader {
  const date = byRole.get("lodgingDate");
  const days = byRole.get("daysAfterMaturity");
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
  const when = whenReader(date, days, context);
  return (cells, row) => {
    const counts = sources.flatMap(({ kind, column, total }) => {
      const found = readQuantity(cells[column.index] ?? "", column, row, context).value;
      const examined = total === null ? null : readQuantity(cells[total.index] ?? "", total, row, context).value;
      if (found === null) return [];
      if (total !== null && (examined === null || examined === 0)) {
        context.log.add({
          severity: "warning",
          code: "lodged-without-examined",
          row,
          column: column.header,
          received: cells[column.index] ?? null,
          rule: "a lodging count needs the number of plants examined beside it",
          remedy: "fill in the plants examined; this count was left out, the plot's yield is kept",
        });
        return [];
      }
      const share = column.unit === "percent" || column.unit === "fraction";
      const lodged = share ? (found / 100) * (examined ?? 1) : found;
      if (examined !== null && lodged > examined) {
        context.log.add({
          severity: "error",
          code: "lodged-above-examined",
          row,
          column: column.header,
          received: cells[column.index] ?? null,
          rule: `more plants ${kind === "push" || kind === "pinch" ? "failed" : "lodged"} (${found}) than were examined (${examined})`,
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
      return [{ kind, lodged, examined }];
    });
    if (counts.length === 0) return noCounts;
    const { day, afterMaturity } = when(cells, row);
    const age = afterMaturity === null ? {} : { daysAfterMaturity: afterMaturity };
    return counts.map((count): LodgingCount => ({ ...count, date: day, ...age }));
  };
}

/** When the plants of a row were looked at; both null when the file does not say. */
function whenReader(
  date: Column | undefined,
  days: Column | undefined,
  context: NumberContext,
): (cells: readonly Cell[], row: number) => { day: string | null; afterMaturity: number | null } {
  let reported = false;
  return (cells, row) => {
    const read = dateText(date === undefined ? "" : String(cells[date.index] ?? ""));
    if (read.ambiguous && !reported) {
      reported = true;
      context.log.add({
        severity: "warning",
        code: "ambiguous-date",
        row,
        column: date?.header ?? null,
        received: read.text,
        rule: "a date must say which number is the month, and this one does not, so dates are kept as text and may be put in the wrong order",
        remedy: "write dates as 2031-10-05",
      });
    }
    const afterMaturity = days === undefined ? null : readQuantity(cells[days.index] ?? "", days, row, context).value;
    return { day: read.text === "" ? null : read.text, afterMaturity };
  };
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
