import { cos, hypot, sin } from "../core/elementary.ts";

/**
 * Curves on an ellipse: a, b, c (see `scaledCurve.ts`) = mean + cosine x + sine y with x^2 + y^2 = 1. `from` and `to` are the angles
 * of the part that counts, for searches along it; `conditions` cut off the same part, for known directions.
 */
export interface CurveArc {
  readonly family: number;
  readonly mean: readonly [number, number, number];
  readonly cosine: readonly [number, number, number];
  readonly sine: readonly [number, number, number];
  readonly from: number;
  readonly to: number;
  /** Weights of b and c in sums that must not be negative. */
  readonly conditions: readonly (readonly [number, number])[];
}

/** Rounding on the border of a condition. */
const SLACK = 1e-12;

/** Writes the curve in a direction (x, y); false where a condition is broken. */
export function curveInDirection(
  { family, mean, cosine, sine, conditions }: CurveArc,
  x: number,
  y: number,
  out: Float64Array,
): boolean {
  for (let i = 0; i < 3; i++) out[i] = mean[i] + x * cosine[i] + y * sine[i];
  for (const [b, c] of conditions) {
    const size =
      Math.abs(b * mean[1]) +
      Math.abs(c * mean[2]) +
      Math.abs(b * cosine[1]) +
      Math.abs(b * sine[1]) +
      Math.abs(c * sine[2]);
    if (b * out[1] + c * out[2] < -SLACK * size) return false;
  }
  // Rounding where a plateau's slope is cut off at zero.
  if (family > 2) out[1] = Math.max(out[1], 0);
  return true;
}

/** Writes the curve at an angle; false where a condition is broken. */
export function curveOnArc(arc: CurveArc, angle: number, out: Float64Array): boolean {
  return curveInDirection(arc, cos(angle), sin(angle), out);
}

/** Room for the directions that `ratioDirections` may find. */
export const MOST_DIRECTIONS = 12;

/**
 * Directions among which a monotone function of Y(u2) / Y(u1) takes its extremes: both yields are linear in x and y, so the ratio N / D
 * is stationary where N' D - N D' = p y + q x + r = 0; then the borders of the conditions; the smallest N and D, where the ratio may
 * cease to exist; and both ends of the first axis, for an ellipse that is a line.
 *
 * @param out - receives x and y of each
 * @returns how many there are
 */
export function ratioDirections(arc: CurveArc, u1: number, u2: number, out: Float64Array): number {
  const { mean, cosine, sine, conditions } = arc;
  const [a1, b1, c1] = yieldTerms(arc, u1);
  const [a2, b2, c2] = yieldTerms(arc, u2);
  let count = 0;
  const add = (x: number, y: number): void => {
    out[2 * count] = x;
    out[2 * count + 1] = y;
    count += 1;
  };
  /** p y + q x + r = 0 on the circle. */
  const addRoots = (p: number, q: number, r: number): void => {
    const size = hypot(p, q);
    if (!(size > Math.abs(r))) return;
    const [x, y, t] = [q / size, p / size, -r / size];
    const side = Math.sqrt((1 - t) * (1 + t));
    add(t * x - side * y, t * y + side * x);
    add(t * x + side * y, t * y - side * x);
  };
  const addSmallest = (b: number, c: number): void => {
    const size = hypot(b, c);
    if (size > 0) add(-b / size, -c / size);
  };
  add(1, 0);
  add(-1, 0);
  addRoots(a2 * b1 - a1 * b2, a1 * c2 - a2 * c1, b1 * c2 - b2 * c1);
  addSmallest(b1, c1);
  addSmallest(b2, c2);
  for (const [b, c] of conditions) {
    addRoots(b * sine[1] + c * sine[2], b * cosine[1] + c * cosine[2], b * mean[1] + c * mean[2]);
  }
  return count;
}

/** Y(u) on the arc as [constant, weight of the cosine, weight of the sine]. */
function yieldTerms({ family, mean, cosine, sine }: CurveArc, u: number): [number, number, number] {
  const below = Math.max(mean[2] - u, 0);
  const b = family <= 2 ? u : -(family === 3 ? below : below * below);
  const c = family === 2 ? u * u : 0;
  const at = (v: readonly [number, number, number]): number => v[0] + b * v[1] + c * v[2];
  return [at(mean), at(cosine), at(sine)];
}
