import { checkShape, type Shape } from "../core/checkShape.ts";
import { cos } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { DensityUnit } from "../trial/trial.ts";
import { literal, words } from "./channels.ts";
import { type Chart, type ChartOptions, chartOptionsShape } from "./chart.ts";
import { chartTheme, finishChart } from "./chartTheme.ts";
import { densityAxis } from "./densityAxis.ts";
import { figure, nameText } from "./figureText.ts";
import { inkOn, tint } from "./tint.ts";
import type { GeoFeature, Row } from "./vegaLite.ts";

/** What the chart needs of a plan by zones; the plan of `planZones` fits. */
export interface ZonePlanView {
  readonly rateUnit: DensityUnit;
  readonly areaUnit: string;
  readonly zones: readonly {
    readonly id: string;
    readonly rate: number;
    readonly area: number;
    readonly hybrid?: string;
  }[];
  readonly uniform?: { readonly rate: number } | null;
}

/** What `ZonePlanView` must look like. */
export const zonePlanViewShape: { readonly [property: string]: Shape } = {
  rateUnit: "text",
  areaUnit: "text",
  zones: "objects",
  uniform: "object|null?",
};

/** Features in the order of the plan's zones (RFC 7946), polygons or multipolygons. */
export interface ZoneShapes {
  readonly features: readonly { readonly geometry: unknown }[];
}

/** What `ZoneShapes` must look like. */
export const zoneShapesShape: { readonly [property: string]: Shape } = { features: "objects" };

type Ring = readonly (readonly number[])[];

/**
 * Map of a field's zones with the seeding rate of each, darker where more is planted; names and rates stand in the zones.
 *
 * @param plan - from `planZones`
 * @param shapes - the collection the zones came from, in the same order
 * @throws AnalysisError `length-mismatch` when the numbers differ; `invalid-data` for a geometry that is no polygon
 * @example
 * const ring = [[-93.6, 41.5], [-93.59, 41.5], [-93.59, 41.51], [-93.6, 41.5]];
 * const plan = { rateUnit: "1000 plants/ac", areaUnit: "ac", zones: [{ id: "hill", rate: 28, area: 22 }] };
 * zoneMapChart(plan, { features: [{ geometry: { type: "Polygon", coordinates: [ring] } }] }).alt.includes("hill 28"); // => true
 */
export function zoneMapChart(plan: ZonePlanView, shapes: ZoneShapes, options: ChartOptions = {}): Chart {
  checkShape(plan, "plan", zonePlanViewShape);
  for (const zone of plan.zones) checkShape(zone, "zone", { id: "text", rate: "number", area: "number" });
  checkShape(shapes, "shapes", zoneShapesShape);
  checkShape(options, "options", chartOptionsShape, "invalid-option");
  check(
    plan.zones.length === shapes.features.length && plan.zones.length > 0,
    "length-mismatch",
    `the plan has ${plan.zones.length} zones but there are ${shapes.features.length} shapes`,
  );
  const theme = chartTheme(options);
  const rates = plan.zones.map(({ rate }) => rate);
  const low = Math.min(...rates);
  const high = Math.max(...rates);
  const axis = densityAxis({ densityUnit: plan.rateUnit, densityAxis: "seeding-rate" }, high);
  const polygons = shapes.features.map(({ geometry }, i) => polygonsOf(geometry, plan.zones[i].id));
  const places = polygons.map(labelPlace);
  const points = polygons.flatMap((zone) => zone.flatMap((rings) => rings.flat()));
  const west = Math.min(...points.map(([x]) => x));
  const east = Math.max(...points.map(([x]) => x));
  const south = Math.min(...points.map(([, y]) => y));
  const north = Math.max(...points.map(([, y]) => y));
  const ratio = (north - south) / ((east - west) * cos((((north + south) / 2) * Math.PI) / 180)) || 1;
  const height = Math.round(Math.min(Math.max(theme.width * ratio, theme.width * 0.25), theme.width * 1.1));
  const strength = (rate: number): number => (high > low ? 0.12 + (0.78 * (rate - low)) / (high - low) : 0.4);
  const colors = rates.map((rate) => tint([0, 84, 66], strength(rate), theme.paper));
  const shapesOut: GeoFeature[] = polygons.map((polygon, i) => ({
    type: "Feature",
    geometry: { type: "MultiPolygon", coordinates: polygon },
    properties: { color: colors[i] },
  }));
  const labels: Row[] = plan.zones.map(({ id, rate }, i) => ({
    lon: places[i][0],
    lat: places[i][1],
    name: nameText(id, 18),
    rate: axis.text(rate),
    text: axis.text(rate),
    ink: inkOn(colors[i]),
  }));
  const at = {
    longitude: { field: "lon", type: "quantitative" },
    latitude: { field: "lat", type: "quantitative" },
    color: literal("ink"),
  } as const;
  const total = plan.zones.reduce((sum, { area }) => sum + area, 0);
  const one = plan.uniform == null ? "" : ` One rate for the whole field would be ${axis.text(plan.uniform.rate)}.`;
  return finishChart(
    theme,
    {
      title: options.title ?? "Seeding rates by zone",
      notes: [
        `${axis.unit.charAt(0).toUpperCase()}${axis.unit.slice(1)}; darker: more seeds. ${plan.zones.length} zones, ${figure(total, 1)} ${plan.areaUnit}.${one}`,
      ],
      alt: `Map of ${plan.zones.length} zones with seeding rates in ${axis.unit}: ${plan.zones
        .slice(0, 20)
        .map(({ id, rate, area }) => `${nameText(id, 18)} ${axis.text(rate)} on ${figure(area, 1)} ${plan.areaUnit}`)
        .join("; ")}${plan.zones.length > 20 ? "; and more" : ""}.${one}`,
    },
    {
      width: theme.width,
      height,
      projection: { type: "mercator" },
      layer: [
        {
          data: { values: shapesOut },
          mark: { type: "geoshape", stroke: theme.ink, strokeWidth: 1 },
          encoding: { color: literal("properties.color") },
        },
        {
          data: { values: labels },
          mark: {
            type: "text",
            fontWeight: 600,
            fontSize: Math.round(theme.font * 1.2),
            dy: -Math.round(theme.font * 0.5),
          },
          encoding: { ...at, text: words },
        },
        {
          data: { values: labels },
          mark: { type: "text", dy: Math.round(theme.font * 0.9), fontSize: theme.font },
          encoding: { ...at, text: { field: "name", type: "nominal" } },
        },
      ],
    },
  );
}

/** Polygons with rings turned as the map projection wants them: outer rings clockwise, the reverse of RFC 7946. */
function polygonsOf(geometry: unknown, id: string): Ring[][] {
  const { type, coordinates } = (geometry ?? {}) as { type?: unknown; coordinates?: unknown };
  const polygons = type === "Polygon" ? [coordinates] : type === "MultiPolygon" ? coordinates : null;
  check(Array.isArray(polygons) && polygons.length > 0, "invalid-data", `zone ${id} has no polygon to draw`);
  return (polygons as unknown[]).map((polygon) => {
    check(Array.isArray(polygon) && polygon.length > 0, "invalid-data", `zone ${id} has an empty polygon`);
    return (polygon as unknown[]).map((ring, i) => {
      check(Array.isArray(ring) && ring.length >= 4, "invalid-data", `zone ${id} has a ring of fewer than four points`);
      const points = (ring as unknown[]).map((point) => {
        const pair = Array.isArray(point) ? point.slice(0, 2) : [];
        check(
          pair.length === 2 && pair.every(Number.isFinite),
          "invalid-data",
          `zone ${id} has a point that is not two numbers`,
        );
        return pair as number[];
      });
      const clockwise = signedArea(points) < 0;
      return clockwise === (i === 0) ? points : points.reverse();
    });
  });
}

function signedArea(ring: Ring): number {
  let sum = 0;
  for (let i = 0; i < ring.length; i++) {
    const [x1, y1] = ring[i];
    const [x2, y2] = ring[(i + 1) % ring.length];
    sum += x1 * y2 - x2 * y1;
  }
  return sum / 2;
}

/** A point inside the largest polygon: the middle of the longest stretch on the horizontal line through its middle. */
function labelPlace(polygons: readonly Ring[][]): readonly [number, number] {
  const largest = polygons.reduce((a, b) => (Math.abs(signedArea(b[0])) > Math.abs(signedArea(a[0])) ? b : a));
  const ys = largest[0].map(([, y]) => y);
  const y = (Math.min(...ys) + Math.max(...ys)) / 2 + (Math.max(...ys) - Math.min(...ys)) * 1e-6;
  const crossings = largest
    .flatMap((ring) =>
      ring.flatMap(([x1, y1], i) => {
        const [x2, y2] = ring[(i + 1) % ring.length];
        return y1 <= y === y2 <= y ? [] : [x1 + ((y - y1) / (y2 - y1)) * (x2 - x1)];
      }),
    )
    .sort((a, b) => a - b);
  let best: readonly [number, number] = [crossings[0] ?? largest[0][0][0], 0];
  for (let i = 0; i + 1 < crossings.length; i += 2) {
    const width = crossings[i + 1] - crossings[i];
    if (width > best[1]) best = [(crossings[i] + crossings[i + 1]) / 2, width];
  }
  return [best[0], y];
}
