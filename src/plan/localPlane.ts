import { atan2, cos, hypot, sin } from "../core/elementary.ts";
import { check } from "../core/errors.ts";

/** Longitude and latitude, degrees, WGS84. */
export type LonLat = readonly [longitude: number, latitude: number];

/** Semi-major axis, m, and flattening of the WGS84 ellipsoid (defining constants: NGA.STND.0036, 2014). */
const A = 6378137;
const F = 1 / 298.257223563;
const E2 = F * (2 - F);

/** A flat plane that touches the ellipsoid at one point. */
export interface LocalPlane {
  /** Metres east and north of the point of contact. */
  toPlane(point: LonLat): readonly [east: number, north: number];
  toLonLat(east: number, north: number): LonLat;
}

/**
 * East-north plane tangent to the WGS84 ellipsoid at `origin`, by way of earth-centred coordinates.
 *
 * On a field 2 km across, distances on the plane and on the ellipsoid differ by less than 0.1 mm.
 *
 * @throws AnalysisError `invalid-option` for a point off the globe or within 5 degrees of a pole
 *
 * Source: Hofmann-Wellenhof, Lichtenegger & Collins (2001), GPS: Theory and Practice, section 10.2.
 */
export function localPlane(origin: LonLat): LocalPlane {
  checkPoint(origin, "origin");
  const [longitude, latitude] = origin.map((degrees) => (degrees * Math.PI) / 180);
  const [sl, cl] = [sin(longitude), cos(longitude)];
  const [sp, cp] = [sin(latitude), cos(latitude)];
  const centre = earthCentred(longitude, latitude);
  return {
    toPlane(point) {
      const at = earthCentred((point[0] * Math.PI) / 180, (point[1] * Math.PI) / 180);
      const [dx, dy, dz] = at.map((value, i) => value - centre[i]);
      return [-sl * dx + cl * dy, -sp * cl * dx - sp * sl * dy + cp * dz];
    },
    toLonLat(east, north) {
      const x = centre[0] - sl * east - sp * cl * north;
      const y = centre[1] + cl * east - sp * sl * north;
      const z = centre[2] + cp * north;
      return geodetic(x, y, z);
    },
  };
}

/** Guard: a point that can be laid out from. */
export function checkPoint([longitude, latitude]: LonLat, name: string): void {
  check(
    Math.abs(longitude) <= 180 && Math.abs(latitude) <= 85,
    "invalid-option",
    `${name} must be [longitude, latitude] in degrees, longitude -180 to 180, latitude -85 to 85, got ${longitude}, ${latitude}`,
  );
}

function earthCentred(longitude: number, latitude: number): [number, number, number] {
  const s = sin(latitude);
  const n = A / Math.sqrt(1 - E2 * s * s);
  return [n * cos(latitude) * cos(longitude), n * cos(latitude) * sin(longitude), n * (1 - E2) * s];
}

/** Longitude and latitude of an earth-centred point near the surface; the height is dropped. */
function geodetic(x: number, y: number, z: number): LonLat {
  const p = hypot(x, y);
  let latitude = atan2(z, p * (1 - E2));
  // Contraction by about E2 x height / radius: two rounds reach double precision this near the ground.
  for (let i = 0; i < 6; i++) {
    const s = sin(latitude);
    const n = A / Math.sqrt(1 - E2 * s * s);
    latitude = atan2(z + E2 * n * s, p);
  }
  return [(atan2(y, x) * 180) / Math.PI, (latitude * 180) / Math.PI];
}
