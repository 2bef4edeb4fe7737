import type { IssueLog } from "./issueLog.ts";
import { type HeaderReading, matchHeader } from "./matchHeader.ts";
import { type Kind, type Role, roleEntry } from "./roles.ts";
import type { Settings } from "./schema.ts";
import type { ColumnUnit } from "./unitWords.ts";

/** A column that has a role. */
export interface Column {
  readonly role: Role;
  readonly kind: Kind;
  readonly index: number;
  readonly header: string;
  readonly unit: ColumnUnit | null;
  readonly moistureBasis: number | null;
  readonly condition: "wet" | "dry" | null;
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
export function matchColumns(header: readonly string[], settings: Settings, log: IssueLog): ColumnMap {
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
  const fitting = new Map<Role, { strong: number[]; weak: number[] }>();
  readings.forEach((reading, index) => {
    if (taken.has(index)) return;
    if (reading.hint !== null && reading.match === null) {
      hints.set(reading.hint.role, { header: header[index] ?? "", unitText: reading.hint.unitText });
    }
    if (reading.match === null) return;
    const { role, strong } = reading.match;
    const lists = fitting.get(role) ?? { strong: [], weak: [] };
    fitting.set(role, lists);
    lists[strong ? "strong" : "weak"].push(index);
  });
  for (const [role, { strong, weak }] of fitting) {
    if (byRole.has(role) || settings.columnOf.has(role)) continue;
    let fit = strong.length > 0 ? strong : weak;
    if (role === "yield" && fit.length > 1) {
      const dry = fit.filter(
        (index) => readings[index]?.condition === "dry" || readings[index]?.moistureBasis !== null,
      );
      if (dry.length === 1) fit = dry;
    }
    const names = fit.map((index) => `"${header[index]}"`).join(" and ");
    if (fit.length > 1) {
      const refuse = decisive.includes(role);
      if (refuse) undecided.add(role);
      log.add({
        severity: refuse ? "error" : "warning",
        code: "ambiguous-column",
        column: header[fit[refuse ? 1 : 0] ?? 0] ?? null,
        rule: `one column only may hold the ${roleWords(role)}, but ${names} both can`.replace(
          "both",
          fit.length === 2 ? "both" : "all",
        ),
        remedy: `say which with schema.columns, for example { ${role}: ${JSON.stringify(header[fit[0] ?? 0])} }${refuse ? "" : "; the first was used"}`,
      });
      if (refuse) continue;
    }
    give(role, fit[0] ?? 0);
  }
  return { byRole, traits: traitNames(header, taken), undecided, hints };
}

/** The name of a role as people say it: "seedingRate" gives "seeding rate". */
export function roleWords(role: Role): string {
  return role.replace(/([A-Z])/g, (letter) => ` ${letter.toLowerCase()}`);
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
  const written =
    matched !== null && (roleEntry.get(matched.role)?.kind === kind || matched.role === role) ? matched.unit : null;
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
  };
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
