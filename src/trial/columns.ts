import { choose, columnsThatFit, densityBesideStand, withoutCopies } from "./columnChoice.ts";
import { findHeader } from "./findHeader.ts";
import { headerWords } from "./headerWords.ts";
import type { IssueLog } from "./issueLog.ts";
import { type HeaderReading, matchHeader } from "./matchHeader.ts";
import { type Kind, type Role, roleEntry } from "./roles.ts";
import { listed } from "./roleWords.ts";
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

/**
 * Gives every column its role: first those the caller named, then clear headers, then weaker ones.
 *
 * @param free - columns that must stay traits whatever their header (ratings)
 */
export function matchColumns(
  table: Table,
  settings: Settings,
  log: IssueLog,
  free: { has(index: number): boolean } = new Set<number>(),
): ColumnMap {
  const { header } = table;
  reportHeaderFaults(header, log);
  const readings = header.map((text, index) => (free.has(index) ? noReading : matchHeader(text)));
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

const noReading: HeaderReading = { match: null, hint: null, moistureBasis: null, condition: null };

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
