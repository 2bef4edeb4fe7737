import { checkShape } from "../core/checkShape.ts";
import { log1p, sin } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";

/** WGS 84: semi-major axis, m, and flattening. */
const A = 6378137;
const F = 1 / 298.257223563;

/** Longitude and latitude, degrees. */
export type Position = readonly number[];

/**
 * Area of a polygon on the WGS 84 ellipsoid, m2: outer ring less its holes.
 *
 * Exact for edges that are straight in longitude and in the sine of authalic latitude; for fields the difference to geodesic edges is
 * below a millionth. Rings may turn either way and must not cross the antimeridian.
 *
 * @param rings - closed rings of [longitude, latitude], the outer one first
 * @example
 * const field = [[[-93.6, 41.5], [-93.59, 41.5], [-93.59, 41.51], [-93.6, 41.51], [-93.6, 41.5]]];
 * (polygonArea(field) / 10_000).toFixed(1); // => "92.7"
 *
 * Source: authalic latitude, Snyder (1987), Map Projections: A Working Manual, eq. 3-11 and 3-12.
 */
export function polygonArea(rings: readonly (readonly Position[])[]): number {
  checkShape(rings, "rings", "list");
  for (const ring of rings) {
    checkShape(ring, "ring", "list");
    for (const position of ring) {
      checkShape(position, "position", "list");
      check(
        position.length >= 2 && position.every((one) => Math.abs(one) <= 1e100),
        "invalid-data",
        `a position is longitude and latitude; got ${shown(position)}`,
      );
    }
  }
  const sizes = rings.map((ring) => Math.abs(ringArea(ring)));
  return (sizes[0] ?? 0) - sizes.slice(1).reduce((sum, size) => sum + size, 0);
}

function ringArea(ring: readonly Position[]): number {
  if (ring.length === 0) return 0;
  let sum = 0;
  // Differences from the first corner keep small fields from drowning in the size of the globe.
  const origin = authalic(ring[0][1]);
  for (let i = 1; i < ring.length; i++) {
    const turn = ((ring[i][0] - ring[i - 1][0]) * Math.PI) / 180;
    sum += (turn * (authalic(ring[i][1]) - origin + (authalic(ring[i - 1][1]) - origin))) / 2;
  }
  return (sum * A * A) / 2;
}

/** q of Snyder's eq. 3-12: area of the zone from the equator to a latitude is pi a^2 q. */
function authalic(latitude: number): number {
  const e2 = F * (2 - F);
  const e = Math.sqrt(e2);
  const s = sin((latitude * Math.PI) / 180);
  return (1 - e2) * (s / (1 - e2 * s * s) + log1p((2 * e * s) / (1 - e * s)) / (2 * e));
}
