import type { Issue } from "../core/issue.ts";
import { shown } from "../core/shown.ts";
import { inputIssue } from "./checkInput.ts";
import { type Position, polygonArea } from "./polygonArea.ts";
import type { GeoJsonCollection } from "./zone.ts";

/** Rules of RFC 7946 that a zone file breaks, all at once; features are counted from 1. */
export function geoJsonIssues(value: unknown): Issue[] {
  const whole = { row: null, what: "zones" };
  const problem = (path: string, found: unknown, code: string, rule: string, remedy: string): Issue =>
    inputIssue(whole, path, found, code, rule, remedy);
  if (!isRecord(value) || value["type"] !== "FeatureCollection") {
    const type = isRecord(value) ? value["type"] : value;
    return [
      problem(
        "type",
        type,
        "not-a-feature-collection",
        "must be a GeoJSON FeatureCollection",
        "export the zones as GeoJSON (RFC 7946), one feature a zone",
      ),
    ];
  }
  const issues: Issue[] = [];
  const { features } = value;
  if (!Array.isArray(features) || features.length === 0) {
    return [
      problem(
        "features",
        features,
        "no-zones",
        "must be a list with at least one feature",
        "one feature a zone is needed",
      ),
    ];
  }
  if (value["crs"] !== undefined && !/CRS84|4326/.test(crsName(value["crs"]))) {
    issues.push(
      problem(
        "crs",
        value["crs"],
        "not-wgs84",
        "coordinates must be longitude and latitude on WGS 84 (RFC 7946, 4)",
        "export the file again in WGS 84",
      ),
    );
  }
  if (!isFinitePlain(value)) {
    // JSON.parse reads 1e999 as infinity, which could not be written back.
    issues.push(problem("", undefined, "not-finite", "numbers must be below 1.8e308", "export the zones again"));
  }
  return [...issues, ...features.flatMap((feature: unknown, i) => featureIssues(feature, i + 1))];
}

/** Are all numbers in this parsed JSON finite? */
function isFinitePlain(value: unknown): boolean {
  if (typeof value === "number") return Number.isFinite(value);
  return typeof value !== "object" || value === null || Object.values(value).every(isFinitePlain);
}

/** Name of a coordinate system as GeoJSON of 2008 gives it: { type: "name", properties: { name } }. */
function crsName(crs: unknown): string {
  const properties = isRecord(crs) ? crs["properties"] : null;
  const name = isRecord(properties) ? properties["name"] : null;
  return typeof name === "string" ? name : shown(crs);
}

function featureIssues(feature: unknown, row: number): Issue[] {
  const place = { row, what: `zone ${row}` };
  const problem = (path: string, found: unknown, code: string, rule: string, remedy: string): Issue =>
    inputIssue(place, path, found, code, rule, remedy);
  if (!isRecord(feature) || feature["type"] !== "Feature") {
    return [
      problem(
        "type",
        isRecord(feature) ? feature["type"] : feature,
        "not-a-feature",
        "must be a GeoJSON Feature",
        "see RFC 7946, section 3.2",
      ),
    ];
  }
  const issues: Issue[] = [];
  const { properties, geometry } = feature;
  if (properties !== null && !isRecord(properties)) {
    issues.push(
      problem(
        "properties",
        properties,
        "no-properties",
        "properties must be an object or null",
        "see RFC 7946, section 3.2",
      ),
    );
  }
  if (geometry === null) return issues;
  if (!isRecord(geometry) || (geometry["type"] !== "Polygon" && geometry["type"] !== "MultiPolygon")) {
    issues.push(
      problem(
        "geometry",
        isRecord(geometry) ? geometry["type"] : geometry,
        "not-a-polygon",
        "a zone's geometry must be a Polygon, a MultiPolygon or null",
        "points and lines have no area",
      ),
    );
    return issues;
  }
  const polygons: unknown = geometry["type"] === "Polygon" ? [geometry["coordinates"]] : geometry["coordinates"];
  const fault = Array.isArray(polygons) ? ringFault(polygons) : "coordinates must be a list";
  if (fault !== null) {
    issues.push(
      problem("geometry.coordinates", undefined, "bad-coordinates", fault, "see RFC 7946, sections 3.1 and 4"),
    );
  }
  return issues;
}

function ringFault(polygons: readonly unknown[]): string | null {
  if (polygons.length === 0) return "a polygon needs a ring";
  for (const polygon of polygons) {
    if (!Array.isArray(polygon) || polygon.length === 0) return "a polygon needs a ring";
    for (const ring of polygon as readonly unknown[]) {
      if (!Array.isArray(ring) || ring.length < 4) return "a ring needs four positions or more";
      for (const position of ring as readonly unknown[]) {
        if (!isPosition(position)) return "a position must be two or three finite numbers";
        const [longitude, latitude] = position;
        if (Math.abs(longitude) > 180 || Math.abs(latitude) > 90)
          return `positions must be longitude and latitude in degrees, found ${longitude}, ${latitude} (projected coordinates?)`;
      }
      const [first, last] = [ring[0] as number[], ring[ring.length - 1] as number[]];
      if (first[0] !== last[0] || first[1] !== last[1]) return "a ring must end where it began";
    }
  }
  return null;
}

function isPosition(value: unknown): value is [number, number] {
  return (
    Array.isArray(value) &&
    value.length >= 2 &&
    value.every((part) => typeof part === "number" && Number.isFinite(part))
  );
}

/** Area of a checked feature's geometry, m2; null without one. */
export function geometryArea(geometry: unknown): number | null {
  if (!isRecord(geometry)) return null;
  const coordinates = geometry["coordinates"];
  const polygons = (
    geometry["type"] === "Polygon" ? [coordinates] : coordinates
  ) as readonly (readonly (readonly Position[])[])[];
  return polygons.reduce((sum, rings) => sum + polygonArea(rings), 0);
}

/** The collection after `geoJsonIssues` found nothing. */
export function asCollection(value: unknown): GeoJsonCollection {
  return value as GeoJsonCollection;
}

function isRecord(value: unknown): value is Readonly<Record<string, unknown>> {
  return typeof value === "object" && value !== null && !Array.isArray(value);
}
