import { headerWords } from "./headerWords.ts";
import type { IssueLog } from "./issueLog.ts";
import { type HeaderReading, matchHeader } from "./matchHeader.ts";
import { type Kind, type Role, roleEntry } from "./roles.ts";
import type { Settings } from "./schema.ts";
import type { Table } from "./table.ts";
import { type ColumnUnit, unitFromWords } from "./unitWords.ts";

/** A column that has a role. */
export interface Column {
  readonly role: Role;
  readonly kind: Kind;
  readonly index: number;
  readonly header: string;
  readonly unit: ColumnUnit | null;
  readonly moistureBasis: number | null;
  readonly condition: "wet" | "dry" | null;
  /** False when the header's words can mean something else too. */
  readonly sure: boolean;
}

/** Which column plays which role. */
export interface ColumnMap {
  readonly byRole: ReadonlyMap<Role, Column>;
  /** Columns without a role, with names made unique. */
  readonly traits: readonly { readonly index: number; readonly name: string }[];
  /** Roles that several columns fit equally well, so that none was taken. */
  readonly undecided: ReadonlySet<Role>;
  /** Headers that look like a role but carry a unit it cannot have. */
  readonly hints: ReadonlyMap<Role, { readonly header: string; readonly unitText: string }>;
}

/** Roles on which the answer hangs: when two columns fit, the caller must say which. */
const decisive: readonly Role[] = ["yield", "harvestWeight", "seedingRate", "stand", "hybrid"];

/** Gives every column its role: first those the caller named, then clear headers, then weaker ones. */
export function matchColumns(table: Table, settings: Settings, log: IssueLog): ColumnMap {
  const { header } = table;
  reportHeaderFaults(header, log);
  const readings = header.map(matchHeader);
  const byRole = new Map<Role, Column>();
  const undecided = new Set<Role>();
  const hints = new Map<Role, { header: string; unitText: string }>();
  const taken = new Set<number>();
  const give = (role: Role, index: number): void => {
    taken.add(index);
    byRole.set(role, column(role, index, header[index] ?? "", readings[index], settings, log));
  };
  for (const [role, name] of settings.columnOf) {
    if (name === null) continue;
    const index = findHeader(header, name);
    if (index === -1) reportNotFound(header, role, name, log);
    else give(role, index);
  }
  const fitting = columnsThatFit(header, readings, taken, hints);
  densityBesideStand(fitting, header, byRole, settings, log);
  for (const [role, { strong, weak }] of fitting) {
    if (byRole.has(role) || settings.columnOf.has(role)) continue;
    const fit = withoutCopies(strong.length > 0 ? strong : weak, table, taken, log);
    const chosen = choose(role, fit, header, readings, log);
    if (chosen === null) undecided.add(role);
    else give(role, chosen);
  }
  return { byRole, traits: traitNames(header, taken), undecided, hints };
}

type Fitting = Map<Role, { strong: number[]; weak: number[] }>;

function columnsThatFit(
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
function densityBesideStand(
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
function withoutCopies(fit: readonly number[], table: Table, taken: Set<number>, log: IssueLog): number[] {
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
function choose(
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

const spoken: ReadonlyMap<Role, string> = new Map<Role, string>([
  ["plot", "plot id"],
  ["standCount", "number of plants counted"],
  ["countLength", "counted row length"],
  ["countRows", "number of rows counted"],
  ["harvestRows", "number of rows harvested"],
  ["lodgedStalk", "stalk lodging"],
  ["lodgedRoot", "root lodging"],
  ["lodgedSnap", "green snap"],
  ["lodgedAny", "lodging"],
  ["examined", "number of plants examined"],
  ["examinedStalk", "number of plants examined for stalk lodging"],
  ["examinedRoot", "number of plants examined for root lodging"],
  ["examinedSnap", "number of plants examined for green snap"],
  ["positionRow", "field row"],
  ["positionColumn", "field column"],
  ["order", "strip order"],
]);

/** The name of a role as people say it: "seedingRate" gives "seeding rate". */
export function roleWords(role: Role): string {
  return spoken.get(role) ?? role.replace(/([A-Z])/g, (letter) => ` ${letter.toLowerCase()}`);
}

function column(
  role: Role,
  index: number,
  header: string,
  reading: HeaderReading | undefined,
  settings: Settings,
  log: IssueLog,
): Column {
  const declared = settings.unitOf.get(role) ?? null;
  const kind = roleEntry.get(role)?.kind ?? "text";
  const matched = reading?.match ?? null;
  // A column the caller named may still carry its unit in the header, whatever role the words would suggest.
  const written = matched?.role === role ? matched.unit : trailingUnit(kind, header);
  if (declared !== null && written !== null && declared !== written) {
    log.add({
      severity: "warning",
      code: "unit-conflict",
      column: header,
      received: written,
      rule: `the header says ${written} but schema.units.${role} says ${declared}`,
      remedy: "the schema was followed; correct whichever is wrong",
    });
  }
  return {
    role,
    kind,
    index,
    header,
    unit: declared ?? written,
    moistureBasis: reading?.moistureBasis ?? null,
    condition: reading?.condition ?? null,
    sure: matched?.role !== role || matched.strong,
  };
}

/** The unit at the end of a header whose other words are free, such as "My best guess (bu/ac)". */
function trailingUnit(kind: Kind, header: string): ColumnUnit | null {
  const { words } = headerWords(header);
  for (let cut = 0; cut < words.length; cut++) {
    const unit = unitFromWords(kind, words.slice(cut));
    if (unit !== null) return unit;
  }
  return null;
}

function findHeader(header: readonly string[], name: string): number {
  const exact = header.indexOf(name);
  if (exact !== -1) return exact;
  const wanted = name.trim().toLowerCase();
  return header.findIndex((text) => text.trim().toLowerCase() === wanted);
}

function reportNotFound(header: readonly string[], role: Role, name: string, log: IssueLog): void {
  log.add({
    severity: "error",
    code: "column-not-found",
    received: name,
    rule: `schema.columns.${role} must be a header of this file`,
    remedy: `the headers are ${listed(header)}`,
  });
}

function reportHeaderFaults(header: readonly string[], log: IssueLog): void {
  const seen = new Map<string, number>();
  header.forEach((name, index) => {
    const first = name === "" ? undefined : seen.get(name);
    if (first === undefined) {
      seen.set(name, index);
      return;
    }
    log.add({
      severity: "warning",
      code: "duplicate-header",
      column: name,
      rule: `every header must be different, but columns ${first + 1} and ${index + 1} are both called "${name}"`,
      remedy: "rename one of them",
    });
  });
}

function traitNames(header: readonly string[], taken: ReadonlySet<number>): { index: number; name: string }[] {
  const used = new Map<string, number>();
  return header.flatMap((text, index) => {
    if (taken.has(index)) return [];
    const name = text === "" ? `column ${index + 1}` : text.slice(0, 200);
    const times = (used.get(name) ?? 0) + 1;
    used.set(name, times);
    return [{ index, name: times === 1 ? name : `${name} (${times})` }];
  });
}

/** Up to twelve names in quotes, and how many more there are. */
export function listed(names: readonly string[]): string {
  const shown = names.slice(0, 12).map((name) => `"${name.length > 40 ? `${name.slice(0, 39)}…` : name}"`);
  return `${shown.join(", ")}${names.length > 12 ? ` and ${names.length - 12} more` : ""}`;
}
