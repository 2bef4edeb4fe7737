import { checkShape, type Shape } from "../core/checkShape.ts";
import { hypot } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { type LengthUnit, type Measure, metresPer } from "../trial/units.ts";
import type { LayoutPlan, PlanPlot } from "./layoutPlan.ts";
import { checkPoint, type LonLat, localPlane } from "./localPlane.ts";

export interface GeoJsonOptions {
  /** The guidance line, driven from `a` to `b`: longitude and latitude in degrees, WGS84. */
  readonly a: LonLat;
  readonly b: LonLat;
  /** Side of the line on which the columns follow; default "right". */
  readonly side?: "right" | "left";
  /** The line is the outer edge of column 1 (default), or the centre of column 1. */
  readonly lineAt?: "edge" | "centre";
  /** Which environment of the plan lies along this line; needed when it has several. */
  readonly environment?: string;
  /** Include borders and fillers; default true. */
  readonly borders?: boolean;
}

/** What `GeoJsonOptions` must look like. */
export const geoJsonOptionsShape: { readonly [property: string]: Shape } = {
  a: "numbers",
  b: "numbers",
  side: "text?",
  lineAt: "text?",
  environment: "text?",
  borders: "flag?",
};

/** A GeoJSON feature of a plan. */
export interface PlanFeature {
  readonly type: "Feature";
  readonly id: string;
  readonly geometry:
    | { readonly type: "Polygon"; readonly coordinates: readonly (readonly LonLat[])[] }
    | { readonly type: "LineString"; readonly coordinates: readonly LonLat[] };
  readonly properties: Readonly<Record<string, string | number | null>>;
}

export interface PlanFeatureCollection {
  readonly type: "FeatureCollection";
  readonly bbox: readonly [west: number, south: number, east: number, north: number];
  readonly features: readonly PlanFeature[];
}

/** Decimals of a degree: 8 are about 1 mm, finer than any guidance. */
const DECIMALS = 8;

/**
 * A plan on the ground, as GeoJSON: one polygon a plot (ring counter-clockwise, closed) and the guidance line.
 *
 * Row 1 starts at A; rows follow each other along the line with the alley between them, columns across it. Plots are parallel to
 * the line on a plane that touches the ellipsoid at A.
 *
 * @throws AnalysisError `invalid-option` when plot sizes are missing, the line is too short or too long, or the environment unknown;
 * `not-offered` near a pole or across the 180th meridian
 * @example
 * const plan = layoutTrial({
 *   hybrids: ["Amber 12"],
 *   rates: [18, 26, 34],
 *   densityUnit: "1000 plants/ac",
 *   blocks: 4,
 *   plotLength: { value: 30, unit: "ft" },
 *   plotWidth: { value: 10, unit: "ft" },
 * });
 * const line = { a: [-93.6, 41.5], b: [-93.6, 41.501] };
 * layoutGeoJson(plan, line).features.filter(({ geometry }) => geometry.type === "Polygon").length; // => 12
 *
 * Source: RFC 7946, The GeoJSON Format (2016), sections 3.1.6 (rings), 4 (WGS84) and 5 (bounding box).
 */
export function layoutGeoJson(plan: LayoutPlan, options: GeoJsonOptions): PlanFeatureCollection {
  checkShape(plan, "plan", "standcurve/layout-plan/1");
  checkShape(options, "options", geoJsonOptionsShape, "invalid-option");
  const { a, b, side = "right", lineAt = "edge", borders = true } = options;
  const { plotLength, plotWidth, alley } = plan;
  check(
    plotLength !== null && plotWidth !== null,
    "invalid-option",
    "a plan is put on the ground only with plotLength and plotWidth",
  );
  check(side === "right" || side === "left", "invalid-option", `side must be right or left, got "${side}"`);
  check(lineAt === "edge" || lineAt === "centre", "invalid-option", `lineAt must be edge or centre, got "${lineAt}"`);
  checkPoint(a, "a");
  checkPoint(b, "b");
  check(Math.abs(a[0] - b[0]) < 180, "not-offered", "a line across the 180th meridian is not offered");
  const plane = localPlane(a);
  const [east, north] = plane.toPlane(b);
  const distance = hypot(east, north);
  check(
    distance >= 1 && distance <= 20_000,
    "invalid-option",
    `the line from a to b must be 1 m to 20 km long, got ${distance.toPrecision(4)} m`,
  );
  const along = [east / distance, north / distance] as const;
  const sign = side === "right" ? 1 : -1;
  const across = [sign * along[1], -sign * along[0]] as const;
  const length = metresOf(plotLength);
  const width = metresOf(plotWidth);
  const gap = alley === null ? 0 : metresOf(alley);
  const offset = lineAt === "centre" ? -width / 2 : 0;

  const corner = (u: number, v: number): LonLat => {
    const [longitude, latitude] = plane.toLonLat(u * along[0] + v * across[0], u * along[1] + v * across[1]);
    check(Math.abs(longitude - a[0]) < 180, "not-offered", "a field across the 180th meridian is not offered");
    return [rounded(longitude), rounded(latitude)];
  };
  const plots = plotsOf(plan, options.environment).filter((plot) => borders || plot.kind === "plot");
  const features = plots.map((plot): PlanFeature => {
    const u = (plot.row - 1) * (length + gap);
    const v = (plot.column - 1) * width + offset;
    const ring = [corner(u, v), corner(u, v + width), corner(u + length, v + width), corner(u + length, v)];
    // To the right of the line this order runs counter-clockwise; to the left it must be turned round.
    if (side === "left") ring.reverse();
    return {
      type: "Feature",
      id: plot.plot,
      geometry: { type: "Polygon", coordinates: [[...ring, ring[0]]] },
      properties: propertiesOf(plot, plan),
    };
  });
  const line: PlanFeature = {
    type: "Feature",
    id: "guidance-line",
    geometry: { type: "LineString", coordinates: [a, b].map(([x, y]): LonLat => [rounded(x), rounded(y)]) },
    properties: { kind: "guidance-line" },
  };
  const all = [line, ...features];
  return { type: "FeatureCollection", bbox: boxOf(all), features: all };
}

function plotsOf(plan: LayoutPlan, environment: string | undefined): readonly PlanPlot[] {
  if (plan.environments.length <= 1 && environment === undefined) return plan.plots;
  check(
    environment !== undefined && plan.environments.includes(environment),
    "invalid-option",
    `environment must be one of ${plan.environments.join(", ")}, got ${environment}`,
  );
  return plan.plots.filter((plot) => plot.environment === environment);
}

function propertiesOf(plot: PlanPlot, { densityUnit }: LayoutPlan): PlanFeature["properties"] {
  const { environment, kind, block, mainPlot, row, column, order, hybrid, seedingRate } = plot;
  return {
    plot: plot.plot,
    ...(environment === null ? {} : { environment }),
    kind,
    block,
    ...(mainPlot === null ? {} : { mainPlot }),
    row,
    column,
    order,
    hybrid,
    seedingRate,
    seedingRateUnit: densityUnit.replace("plants", "seeds"),
  };
}

function boxOf(features: readonly PlanFeature[]): PlanFeatureCollection["bbox"] {
  let [west, south, east, north] = [180, 90, -180, -90];
  for (const { geometry } of features) {
    const points = geometry.type === "Polygon" ? geometry.coordinates[0] : geometry.coordinates;
    for (const [x, y] of points) {
      west = Math.min(west, x);
      east = Math.max(east, x);
      south = Math.min(south, y);
      north = Math.max(north, y);
    }
  }
  return [west, south, east, north];
}

const rounded = (degrees: number): number => Number(degrees.toFixed(DECIMALS));
const metresOf = ({ value, unit }: Measure<LengthUnit>): number => value * metresPer[unit];
