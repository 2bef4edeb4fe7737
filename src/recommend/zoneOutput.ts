import { checkShape } from "../core/checkShape.ts";
import { csvCell } from "../core/csvCell.ts";
import { check } from "../core/errors.ts";
import type { GeoJsonCollection, ZoneSource } from "./zone.ts";
import type { PlannedZone, ZonePlan } from "./zonePlan.ts";

type Cell = string | number | null;

/** Columns added for every zone, without their prefix. */
function planCells(plan: ZonePlan, zone: PlannedZone): Record<string, Cell> {
  return {
    zone: zone.id,
    hybrid: zone.hybrid,
    area: tidy(zone.area),
    area_unit: plan.areaUnit,
    rate: zone.rate,
    rate_unit: plan.rateUnit.replace("plants", "seeds"),
    seeds: Math.round(zone.seeds),
    seed_units: zone.units === null ? null : tidy(zone.units),
    seed_cost: tidy(zone.seedCost),
    yield: tidy(zone.yield.mean),
    yield_unit: plan.yieldUnit,
    return_per_area: tidy(zone.return.mean),
    return: tidy(zone.totalReturn),
    limit: zone.bindingLimit,
    uniform_rate: plan.uniform?.rate ?? null,
  };
}

const tidy = (value: number): number => Number(value.toPrecision(7));

/**
 * The plan as CSV (RFC 4180): every column the zones came with, unchanged, then the plan's, with a prefix that none of them has.
 *
 * Texts that a spreadsheet would take for a formula get an apostrophe in front; plain numbers stay numbers.
 *
 * @param source - from `readZones`; null: the plan's columns only
 * @example
 * const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
 * const zones = [{ id: "hill", area: 22, areaUnit: "ac" }, { id: "slope", area: 30, areaUnit: "ac" }];
 * const options = { field: { hybrid: "Amber 12", prices } };
 * zonesCsv(planZones(analysis, zones, options)).includes("hill"); // => true
 */
export function zonesCsv(plan: ZonePlan, source: ZoneSource | null = null): string {
  checkShape(plan, "plan", "standcurve/zone-plan/1");
  checkSource(source);
  const kept = keptTable(source);
  const prefix = freePrefix(kept?.header ?? []);
  const rows = plan.zones.map((zone) => planCells(plan, zone));
  const names = Object.keys(rows[0]);
  const header = [...(kept?.header ?? []), ...names.map((name) => `${prefix}${name}`)];
  const lines = rows.map((cells, i) => [...(kept?.rows[i] ?? []), ...names.map((name) => cells[name])]);
  return [header, ...lines].map((line) => `${line.map(csvCell).join(",")}\r\n`).join("");
}

/**
 * The plan as GeoJSON (RFC 7946): the collection that came in, with geometries, foreign members and properties as they were and the
 * plan's properties added under a prefix that none of them has. Zones from a table get no geometry.
 *
 * @param source - from `readZones`; null: features without geometry
 * @example
 * const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
 * const zones = [{ id: "hill", area: 22, areaUnit: "ac" }, { id: "slope", area: 30, areaUnit: "ac" }];
 * const options = { field: { hybrid: "Amber 12", prices } };
 * zonesGeoJson(planZones(analysis, zones, options)).type; // => "FeatureCollection"
 */
export function zonesGeoJson(plan: ZonePlan, source: ZoneSource | null = null): GeoJsonCollection {
  checkShape(plan, "plan", "standcurve/zone-plan/1");
  checkSource(source);
  const added = plan.zones.map((zone) => planCells(plan, zone));
  if (source?.kind === "geojson") {
    const { features } = source.collection;
    const prefix = freePrefix(features.flatMap(({ properties }) => Object.keys(properties ?? {})));
    return {
      ...source.collection,
      features: features.map((feature, i) => ({
        ...feature,
        properties: { ...feature.properties, ...prefixed(added[i], prefix) },
      })),
    };
  }
  const kept = keptTable(source);
  const prefix = freePrefix(kept?.header ?? []);
  return {
    type: "FeatureCollection",
    features: added.map((cells, i) => ({
      type: "Feature" as const,
      geometry: null,
      properties: {
        ...Object.fromEntries((kept?.header ?? []).map((name, j) => [name, kept?.rows[i][j] ?? null])),
        ...prefixed(cells, prefix),
      },
    })),
  };
}

function prefixed(cells: Record<string, Cell>, prefix: string): Record<string, Cell> {
  return Object.fromEntries(Object.entries(cells).map(([name, cell]) => [`${prefix}${name}`, cell]));
}

/** "plan_", or plan2_, plan3_ … where a name already begins so. */
function freePrefix(names: readonly string[]): string {
  for (let k = 1; ; k++) {
    const prefix = k === 1 ? "plan_" : `plan${k}_`;
    if (!names.some((name) => name.startsWith(prefix))) return prefix;
  }
}

function keptTable(
  source: ZoneSource | null,
): { header: readonly string[]; rows: readonly (readonly Cell[])[] } | null {
  if (source === null) return null;
  if (source.kind === "csv") return source;
  const { features } = source.collection;
  const header = [...new Set(features.flatMap(({ properties }) => Object.keys(properties ?? {})))];
  const rows = features.map(({ properties }) =>
    header.map((name): Cell => {
      const value = properties !== null && Object.hasOwn(properties, name) ? properties[name] : null;
      if (value === null || value === undefined) return null;
      return typeof value === "number" || typeof value === "string" ? value : JSON.stringify(value);
    }),
  );
  return { header, rows };
}

function checkSource(source: ZoneSource | null): void {
  if (source === null) return;
  checkShape(source, "source", { kind: "text" });
  if (source.kind === "csv") {
    checkShape(source, "source", { header: "labels", rows: "list" });
    check(
      source.rows.every(Array.isArray) && source.header.every((name) => typeof name === "string"),
      "invalid-data",
      "source must be what readZones gave: a header of texts and rows of cells",
    );
  } else checkShape(source.collection, "source.collection", { features: "objects" });
}
