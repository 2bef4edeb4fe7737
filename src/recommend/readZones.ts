import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Issue } from "../core/issue.ts";
import { parseJson } from "../core/parseJson.ts";
import { cellNumber } from "../trial/cellNumber.ts";
import { parseCsv } from "../trial/csv.ts";
import { detectDelimiter } from "../trial/delimiter.ts";
import { issueLog } from "../trial/issueLog.ts";
import { checkInput, inputIssue } from "./checkInput.ts";
import { asCollection, geoJsonIssues, geometryArea } from "./geoJson.ts";
import type { Zone, ZoneReading } from "./zone.ts";
import { type ZoneColumn, zoneColumn } from "./zoneColumns.ts";
import { zoneSchema } from "./zoneSchema.ts";

const mostCharacters = 50_000_000;

/**
 * Reads zones from the text of a CSV table or of a GeoJSON feature collection, and reports all problems at once.
 *
 * Columns (properties) are found by name, whatever their case and separators: zone, area_ac or area_ha, yield_goal (with a unit at the
 * end, else the trial's), establishment, tolerated_lodging, present_rate, environment, hybrid, nitrogen_rate, supply_unit, and for N,
 * P2O5, K2O and S k2o_soil, k2o_soil_recovery, k2o_applied, k2o_recovery. Others are kept. A polygon without an area gets its own.
 *
 * @param text - the whole file
 * @throws AnalysisError `invalid-data` when it is no text, `unreadable-source` when it is longer than 50 million characters
 * @example
 * readZones("zone,area_ac\nhill,20\nflat,60\n").zones.length; // => 2
 */
export function readZones(text: string): ZoneReading {
  checkShape(text, "text", "text");
  check(
    text.length <= mostCharacters,
    "unreadable-source",
    `the text has ${text.length} characters; at most ${mostCharacters} are read`,
  );
  const body = text.charCodeAt(0) === 0xfeff ? text.slice(1) : text;
  return /^\s*[[{]/.test(body) ? fromGeoJson(body) : fromCsv(body);
}

function fromGeoJson(text: string): ZoneReading {
  const parsed = parseJson(text);
  if (parsed.kind === "bad") {
    const rule = `must be JSON: ${parsed.reason}`;
    const issue = inputIssue({ row: null, what: "zones" }, "", undefined, "not-json", rule, "export the zones again");
    return { zones: null, source: null, issues: [issue] };
  }
  const { value } = parsed;
  const faults = geoJsonIssues(value);
  if (faults.length > 0) return { zones: null, source: null, issues: faults };
  const collection = asCollection(value);
  const issues: Issue[] = [];
  const drafts = collection.features.map((feature, i) => {
    const { properties, geometry } = feature;
    const cells = Object.entries(properties ?? {}).filter(
      ([, cell]) => typeof cell === "string" || typeof cell === "number",
    );
    const draft = draftZone(cells as [string, string | number][], i + 1, "zone", ".", issues);
    const size = draft["area"] === undefined ? geometryArea(geometry) : null;
    if (size !== null) Object.assign(draft, { area: size / 10_000, areaUnit: "ha" });
    return draft;
  });
  const zones = finish(
    drafts,
    drafts.map((_, i) => i + 1),
    "zone",
    issues,
  );
  return { zones, source: { kind: "geojson", collection }, issues };
}

function fromCsv(text: string): ZoneReading {
  const log = issueLog("Line", 50);
  const { records, lines } = parseCsv(text, detectDelimiter(text), log);
  const issues: Issue[] = [...log.list()];
  const whole = { row: null, what: "zones" };
  const first = records.findIndex((record) => record.some((cell) => cell.trim() !== ""));
  const header = (records[first] ?? []).map((cell) => cell.trim());
  const filled = records.flatMap((record, i) =>
    i > first && record.some((cell) => cell.trim() !== "") ? [{ record, line: lines[i] }] : [],
  );
  if (first === -1 || filled.length === 0) {
    issues.push(
      inputIssue(
        whole,
        "",
        undefined,
        "no-zones",
        "a zone table needs a header and at least one row",
        "check that the right file was given",
      ),
    );
    return { zones: null, source: null, issues };
  }
  // One comma-decimal cell in a semicolon table decides for all, as spreadsheets write them.
  const decimal = filled.some(({ record }) => record.some((cell) => /^\s*\d+,\d+\s*$/.test(cell))) ? "," : ".";
  const drafts = filled.map(({ record, line }) =>
    draftZone(
      header.map((name, j) => [name, record[j] ?? ""]),
      line,
      "line",
      decimal,
      issues,
    ),
  );
  const zones = finish(
    drafts,
    filled.map(({ line }) => line),
    "line",
    issues,
  );
  const rows = filled.map(({ record }) => header.map((_, j) => record[j] ?? ""));
  return { zones, source: { kind: "csv", header, rows }, issues };
}

type Draft = Record<string, unknown>;

/** The zone's figures from named cells; empty cells say nothing. */
function draftZone(
  cells: readonly (readonly [string, string | number])[],
  row: number,
  what: string,
  decimal: "." | ",",
  issues: Issue[],
): Draft {
  const draft: Draft = {};
  const supply: Draft = {};
  const seen = new Set<string>();
  for (const [name, cell] of cells) {
    const column = zoneColumn(name);
    if (column === null || String(cell).trim() === "") continue;
    const key = column.role === "nutrient" ? `${column.nutrient} ${column.part}` : column.role;
    if (seen.has(key)) {
      const place = { row, what: `${what} ${row}` };
      issues.push(
        inputIssue(
          place,
          name,
          cell,
          "repeated-column",
          "repeats another column of the same meaning",
          "leave one of them out",
        ),
      );
      continue;
    }
    seen.add(key);
    put(
      column,
      name,
      cell,
      draft,
      supply,
      (path, received, rule) =>
        issues.push(
          inputIssue(
            { row, what: `${what} ${row}` },
            path,
            received,
            "not-a-number",
            rule,
            "correct the cell or leave it empty",
          ),
        ),
      decimal,
    );
  }
  if (Object.keys(supply).length > 0) draft["supply"] = supply;
  return draft;
}

function put(
  column: ZoneColumn,
  name: string,
  cell: string | number,
  draft: Draft,
  supply: Draft,
  complain: (path: string, received: unknown, rule: string) => void,
  decimal: "." | ",",
): void {
  if (column.role === "id" || column.role === "hybrid" || column.role === "environment") {
    draft[column.role] = String(cell).trim();
    return;
  }
  if (column.role === "supplyUnit") {
    supply["unit"] = String(cell).trim();
    return;
  }
  const read = cellNumber(cell, decimal, new Set());
  if (read.kind === "missing") return;
  if (read.kind === "bad") {
    complain(name, cell, "must be a number");
    return;
  }
  const { value } = read;
  switch (column.role) {
    case "area":
      draft["area"] = value;
      if (column.unit !== null) draft["areaUnit"] = column.unit;
      break;
    case "yieldGoal":
      draft["yieldGoal"] = value;
      if (column.unit !== null) draft["yieldUnit"] = column.unit;
      break;
    case "presentRate":
      draft["presentRate"] = value;
      if (column.unit !== null) draft["rateUnit"] = column.unit;
      break;
    case "rootingFactor":
      supply["rootingFactor"] = value;
      break;
    case "nutrient":
      supply[column.nutrient] = { ...(supply[column.nutrient] as Draft | undefined), [column.part]: value };
      break;
    default:
      draft[column.role] = value;
  }
}

function finish(drafts: readonly Draft[], rows: readonly number[], what: string, issues: Issue[]): Zone[] | null {
  const ids = new Map<string, number>();
  drafts.forEach((draft, i) => {
    const place = { row: rows[i], what: `${what} ${rows[i]}` };
    draft["id"] ??= String(i + 1);
    const id = draft["id"] as string;
    const twin = ids.get(id);
    if (twin !== undefined)
      issues.push(
        inputIssue(
          place,
          "id",
          id,
          "repeated-zone",
          `every zone needs its own name; ${what} ${twin} has the same`,
          "rename one of them",
        ),
      );
    ids.set(id, rows[i]);
    const unitless = draft["area"] !== undefined && draft["areaUnit"] === undefined;
    if (unitless)
      issues.push(
        inputIssue(
          place,
          "area",
          draft["area"],
          "no-unit",
          "the unit of the area must be in its name",
          "call the column area_ac or area_ha",
        ),
      );
    // A unit is missed once: with an area by the issue above, without one by the missing area itself.
    const found = checkInput(draft, zoneSchema, place);
    issues.push(...found.filter(({ column }) => column !== "areaUnit" || draft["areaUnit"] !== undefined));
  });
  return issues.some(({ severity }) => severity === "error") ? null : (drafts as unknown as Zone[]);
}

/** Zones given as objects, checked as those from a file are. */
export function checkZones(zones: readonly unknown[]): Issue[] {
  const issues = zones.flatMap((zone, i) => checkInput(zone, zoneSchema, { row: i + 1, what: `zone ${i + 1}` }));
  const seen = new Set<unknown>();
  zones.forEach((zone, i) => {
    const id = (zone as { id?: unknown } | null)?.id;
    if (id !== undefined && seen.has(id))
      issues.push(
        inputIssue(
          { row: i + 1, what: `zone ${i + 1}` },
          "id",
          id,
          "repeated-zone",
          "every zone needs its own name",
          "rename one of them",
        ),
      );
    seen.add(id);
  });
  return issues;
}
