import type { ColumnMap } from "./columns.ts";
import type { IssueLog } from "./issueLog.ts";
import type { Role } from "./roles.ts";
import { listed } from "./roleWords.ts";
import type { Settings } from "./schema.ts";
import type { Crop } from "./trial.ts";

/** How yields, stands and harvested ground are worked out from the columns that are there. */
export interface ReadPlan {
  readonly yieldFrom: "yield" | "weight" | null;
  /** Moisture of the yield before it is brought to standard: that of the row, or a percentage; null: it is standard. */
  readonly moistureOfYield: "row" | number | null;
  readonly standFrom: "stand" | "count" | null;
  readonly rateFrom: "seedingRate" | "targetDensity" | null;
  readonly areaFrom: "area" | "length x width" | "length x rows" | null;
  readonly standardMoisture: number;
  /** Columns on which the analysis hangs and whose units must be known. */
  readonly needed: readonly Role[];
}

/** Works out the plan; null, with issues, when yields or densities cannot be had from these columns. */
export function readPlan(
  columns: ColumnMap,
  header: readonly string[],
  crop: Crop,
  settings: Settings,
  log: IssueLog,
): ReadPlan | null {
  const has = (role: Role): boolean => columns.byRole.has(role);
  const needed: Role[] = [];
  const areaFrom = areaSource(has, settings);
  const yieldFrom = has("yield") ? "yield" : has("harvestWeight") && areaFrom !== null ? "weight" : null;
  if (yieldFrom === "yield") needed.push("yield");
  if (yieldFrom === "weight") needed.push("harvestWeight", ...areaRoles(areaFrom, settings));
  const rateFrom = has("seedingRate") ? "seedingRate" : has("targetDensity") ? "targetDensity" : null;
  const countable =
    has("standCount") &&
    (has("countLength") || settings.countLength !== undefined) &&
    (has("rowWidth") || settings.rowWidth !== undefined);
  const standFrom = has("stand") ? "stand" : countable ? "count" : null;
  if (rateFrom !== null) needed.push(rateFrom);
  if (standFrom === "stand") needed.push("stand");
  if (standFrom === "count") {
    if (has("countLength")) needed.push("countLength");
    if (has("rowWidth")) needed.push("rowWidth");
  }
  let good = true;
  if (yieldFrom === null && settings.columnOf.get("yield") === null) {
    // The caller says so: a trial of stalks or lodging only.
  } else if (yieldFrom === null && standabilityOnly(columns, has)) {
    reportStandabilityOnly(log);
  } else if (yieldFrom === null) {
    good = false;
    reportNoYield(columns, header, has, log);
  }
  if (rateFrom === null && standFrom === null) {
    good = false;
    reportNoDensity(columns, header, has, log);
  } else if (has("standCount") && standFrom === null) {
    log.add({
      severity: "warning",
      code: "stand-count-without-area",
      column: columns.byRole.get("standCount")?.header ?? null,
      rule: "plants counted become a stand only with the length of row counted and the row width",
      remedy:
        "add those columns, or declare schema.countLength and schema.rowWidth; the counts were left out and seeding rates used",
    });
  }
  const { standardMoisture } = crop;
  const moistureOfYield =
    yieldFrom === null ? null : moistureSource(columns, yieldFrom, standardMoisture, settings, log);
  if (moistureOfYield === undefined || !good) return null;
  if (moistureOfYield === "row") needed.push("moisture");
  return { yieldFrom, moistureOfYield, standFrom, rateFrom, areaFrom, standardMoisture, needed };
}

/** Lodging counts without any yield column are a trial too. */
function standabilityOnly({ undecided }: ColumnMap, has: (role: Role) => boolean): boolean {
  const lodging: readonly Role[] = [
    "lodgedStalk",
    "lodgedRoot",
    "lodgedSnap",
    "lodgedAny",
    "failedPush",
    "failedPinch",
  ];
  return !undecided.has("yield") && !has("harvestWeight") && !undecided.has("harvestWeight") && lodging.some(has);
}

function reportStandabilityOnly(log: IssueLog): void {
  log.add({
    severity: "warning",
    code: "no-yield-column",
    rule: "the file has lodging but no yield, so only standability can be analysed",
    remedy: "if there is a yield column, name it with schema.columns",
  });
}

function areaSource(has: (role: Role) => boolean, settings: Settings): ReadPlan["areaFrom"] {
  if (has("plotArea")) return "area";
  if (has("stripLength") && has("stripWidth")) return "length x width";
  return has("stripLength") && has("harvestRows") && (has("rowWidth") || settings.rowWidth !== undefined)
    ? "length x rows"
    : null;
}

function areaRoles(from: ReadPlan["areaFrom"], settings: Settings): Role[] {
  if (from === "area") return ["plotArea"];
  if (from === "length x width") return ["stripLength", "stripWidth"];
  return settings.rowWidth === undefined ? ["stripLength", "rowWidth"] : ["stripLength"];
}

/** Which moisture a yield is brought to standard from; undefined, with an issue, when it is needed and not there. */
function moistureSource(
  { byRole }: ColumnMap,
  yieldFrom: "yield" | "weight",
  standardMoisture: number,
  settings: Settings,
  log: IssueLog,
): ReadPlan["moistureOfYield"] | undefined {
  const column = byRole.get(yieldFrom === "yield" ? "yield" : "harvestWeight");
  const declared = settings.yieldMoisture;
  if (typeof declared === "number") return declared === standardMoisture ? null : declared;
  if (declared === "standard") return null;
  if (declared === undefined && yieldFrom === "yield") {
    const basis = column?.moistureBasis ?? null;
    if (basis !== null) return basis === standardMoisture ? null : basis;
    if (column?.condition === "dry") return null;
    if (column?.condition !== "wet") {
      if (byRole.has("moisture")) {
        log.add({
          severity: "note",
          code: "yield-moisture-assumed",
          column: column?.header ?? null,
          rule: `the yield is taken to be stated at ${standardMoisture} % moisture already, and the moisture column is kept as information`,
          remedy: 'if it is the yield as harvested, declare schema.yieldMoisture "harvest"',
        });
      }
      return null;
    }
  }
  if (byRole.has("moisture")) return "row";
  log.add({
    severity: "error",
    code: "no-moisture-column",
    column: column?.header ?? null,
    rule: `a ${yieldFrom === "yield" ? "wet yield" : "harvested weight"} can be brought to ${standardMoisture} % moisture only when its own moisture is known`,
    remedy:
      'add a moisture column, or declare schema.yieldMoisture: a percentage, or "standard" if the figures are corrected already',
  });
  return undefined;
}

function reportNoYield(
  columns: ColumnMap,
  header: readonly string[],
  has: (role: Role) => boolean,
  log: IssueLog,
): void {
  if (columns.undecided.has("yield") || (columns.undecided.has("harvestWeight") && !has("yield"))) return;
  if (has("harvestWeight")) {
    log.add({
      severity: "error",
      code: "weight-without-area",
      column: columns.byRole.get("harvestWeight")?.header ?? null,
      rule: "a harvested weight becomes a yield only with the ground it came from",
      remedy: "add strip length and strip width (or rows harvested and row width), or the plot area",
    });
    return;
  }
  reportNoColumn(
    "yield",
    "no-yield-column",
    "a yield, or a harvested weight with strip length and width",
    columns,
    header,
    log,
  );
}

function reportNoDensity(
  columns: ColumnMap,
  header: readonly string[],
  has: (role: Role) => boolean,
  log: IssueLog,
): void {
  if (columns.undecided.has("seedingRate") || columns.undecided.has("stand")) return;
  if (has("standCount")) {
    log.add({
      severity: "error",
      code: "stand-count-without-area",
      column: columns.byRole.get("standCount")?.header ?? null,
      rule: "plants counted become a stand only with the length of row counted and the row width",
      remedy: "add those columns, or declare schema.countLength and schema.rowWidth",
    });
    return;
  }
  reportNoColumn("seedingRate", "no-density-column", "a seeding rate or a stand", columns, header, log);
}

function reportNoColumn(
  role: Role,
  code: string,
  what: string,
  columns: ColumnMap,
  header: readonly string[],
  log: IssueLog,
): void {
  const hint =
    columns.hints.get(role) ??
    (role === "seedingRate" ? (columns.hints.get("stand") ?? columns.hints.get("targetDensity")) : undefined);
  const near =
    hint === undefined
      ? ""
      : `; "${hint.header}" looks like one, but "${hint.unitText}" is not a unit of ${role === "yield" ? "yield per area" : "plants or seeds per area"}`;
  log.add({
    severity: "error",
    code,
    rule: `the file must have a column with ${what}, and none was found among ${listed(header)}${near}`,
    remedy: `rename the column, or say which it is with schema.columns { ${role}: "…" } and its unit with schema.units${role === "yield" ? "; if only other traits were measured, declare schema.columns { yield: null }" : ""}`,
  });
}
