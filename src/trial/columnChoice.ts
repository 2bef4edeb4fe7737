import type { Column } from "./columns.ts";
import type { IssueLog } from "./issueLog.ts";
import type { HeaderReading } from "./matchHeader.ts";
import type { Role } from "./roles.ts";
import { roleWords } from "./roleWords.ts";
import type { Settings } from "./schema.ts";
import type { Table } from "./table.ts";

/** Roles on which the answer hangs: when two columns fit, the caller must say which. */
const decisive: readonly Role[] = ["yield", "harvestWeight", "seedingRate", "stand", "hybrid"];

/** Columns that fit a role by clear headers, and by weaker ones. */
export type Fitting = Map<Role, { strong: number[]; weak: number[] }>;

/** Sorts columns without a role by the role their header fits; headers with an unusable unit leave a hint. */
export function columnsThatFit(
  header: readonly string[],
  readings: readonly HeaderReading[],
  taken: ReadonlySet<number>,
  hints: Map<Role, { header: string; unitText: string }>,
): Fitting {
  const fitting: Fitting = new Map();
  readings.forEach(({ match, hint }, index) => {
    if (taken.has(index)) return;
    if (match === null) {
      if (hint !== null) hints.set(hint.role, { header: header[index] ?? "", unitText: hint.unitText });
      return;
    }
    const lists = fitting.get(match.role) ?? { strong: [], weak: [] };
    fitting.set(match.role, lists);
    lists[match.strong ? "strong" : "weak"].push(index);
  });
  return fitting;
}

/** "density" beside "final stand", without any seeding rate, is what was aimed at: the treatment. */
export function densityBesideStand(
  fitting: Fitting,
  header: readonly string[],
  byRole: ReadonlyMap<Role, Column>,
  settings: Settings,
  log: IssueLog,
): void {
  const stand = fitting.get("stand");
  const rates: readonly Role[] = ["seedingRate", "targetDensity"];
  if (
    stand === undefined ||
    stand.weak.length !== 1 ||
    rates.some((role) => fitting.has(role) || settings.columnOf.has(role))
  )
    return;
  if (stand.strong.length === 0 && !byRole.has("stand")) return;
  fitting.set("targetDensity", { strong: [stand.weak[0] as number], weak: [] });
  stand.weak.length = 0;
  log.add({
    severity: "note",
    code: "density-taken-as-rate",
    column: header[fitting.get("targetDensity")?.strong[0] ?? 0] ?? null,
    rule: "beside a counted stand, this density is taken as the one aimed at, that is as the seeding rate",
    remedy: "if it is something else, declare schema.columns { seedingRate: null, targetDensity: null }",
  });
}

/** Columns that repeat another cell by cell are no ambiguity. */
export function withoutCopies(fit: readonly number[], table: Table, taken: Set<number>, log: IssueLog): number[] {
  const first = fit[0] ?? 0;
  return fit.filter((index) => {
    if (index === first || !table.rows.every((row) => row[index] === row[first])) return true;
    taken.add(index);
    log.add({
      severity: "note",
      code: "repeated-column",
      column: table.header[index] ?? null,
      rule: `column ${index + 1} repeats column ${first + 1} ("${table.header[first]}") cell by cell`,
      remedy: "the first was used",
    });
    return false;
  });
}

/** The column for a role among those that fit equally well; null when it matters and the headers do not tell. */
export function choose(
  role: Role,
  fit: readonly number[],
  header: readonly string[],
  readings: readonly HeaderReading[],
  log: IssueLog,
): number | null {
  const first = fit[0] ?? 0;
  if (fit.length === 1) return first;
  const dry = fit.filter((index) => readings[index]?.condition === "dry" || readings[index]?.moistureBasis !== null);
  const counts = fit.filter(
    (index) => readings[index]?.match?.unit !== "percent" && readings[index]?.match?.unit !== "fraction",
  );
  const clear = role === "yield" ? dry : role.startsWith("lodged") ? counts : [];
  const decided = clear.length === 1 ? clear[0] : undefined;
  const refuse = decided === undefined && decisive.includes(role);
  const used = decided ?? first;
  const names = fit.map((index) => `"${header[index]}"`).join(" and ");
  const same = new Set(fit.map((index) => header[index])).size < fit.length;
  const how = same
    ? "rename one of them"
    : `say which with schema.columns, for example { ${role}: ${JSON.stringify(header[used])} }`;
  log.add({
    severity: refuse ? "error" : decided === undefined ? "warning" : "note",
    code: "ambiguous-column",
    column: header[refuse ? (fit[1] ?? 0) : used] ?? null,
    rule: `one column only may hold the ${roleWords(role)}, but ${names} ${fit.length === 2 ? "both" : "all"} can`,
    remedy: refuse ? how : `"${header[used]}" was used; to use another, ${how}`,
  });
  return refuse ? null : used;
}
