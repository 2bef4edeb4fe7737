import { acos, atan2, cos, hypot, sin } from "../core/elementary.ts";

/** Curves on an arc of an ellipse: a, b, c (see `scaledCurve.ts`) = mean + cosine cos(angle) + sine sin(angle). */
export interface CurveArc {
  readonly family: number;
  readonly mean: readonly [number, number, number];
  readonly cosine: readonly [number, number, number];
  readonly sine: readonly [number, number, number];
  readonly from: number;
  readonly to: number;
  /** Weights of b and c in sums that must not be negative: only that part of the arc counts. */
  readonly conditions: readonly (readonly [number, number])[];
}

/** Rounding on the border of a condition. */
const SLACK = 1e-12;

/** Writes the curve at an angle; false where a condition is broken. */
export function curveOnArc(
  { family, mean, cosine, sine, conditions }: CurveArc,
  angle: number,
  out: Float64Array,
): boolean {
  const along = cos(angle);
  const across = sin(angle);
  for (let i = 0; i < 3; i++) out[i] = mean[i] + along * cosine[i] + across * sine[i];
  // Rounding at the end of an arc that is cut off there.
  if (family > 2) out[1] = Math.max(out[1], 0);
  for (const [b, c] of conditions) {
    const size = Math.abs(b * mean[1]) + Math.abs(c * mean[2]) + Math.abs(b * cosine[1]) + Math.abs(c * sine[2]);
    if (b * out[1] + c * out[2] < -SLACK * size) return false;
  }
  return true;
}

/**
 * Angles among which a monotone function of Y(u2) / Y(u1) takes its extremes on the arc: both yields are linear in cosine and sine, so
 * the ratio N / D is stationary where N' D - N D' = p sin + q cos + r = 0; then the arc's ends and the borders of its conditions;
 * and the smallest N and D, where the ratio may cease to exist.
 */
export function ratioAngles(arc: CurveArc, u1: number, u2: number): number[] {
  const { mean, cosine, sine, from, to, conditions } = arc;
  const [a1, b1, c1] = yieldTerms(arc, u1);
  const [a2, b2, c2] = yieldTerms(arc, u2);
  const found = [from, to];
  const add = (angle: number): void => {
    const turn = 2 * Math.PI;
    const placed = angle - turn * Math.floor((angle - from) / turn);
    if (placed <= to) found.push(placed);
  };
  const addRoots = (p: number, q: number, r: number): void => {
    const size = hypot(p, q);
    if (!(size > Math.abs(r))) return;
    const middle = atan2(p, q);
    const half = acos(-r / size);
    add(middle + half);
    add(middle - half);
  };
  addRoots(a2 * b1 - a1 * b2, a1 * c2 - a2 * c1, b1 * c2 - b2 * c1);
  add(atan2(c1, b1) + Math.PI);
  add(atan2(c2, b2) + Math.PI);
  for (const [b, c] of conditions) {
    addRoots(b * sine[1] + c * sine[2], b * cosine[1] + c * cosine[2], b * mean[1] + c * mean[2]);
  }
  return found;
}

/** Y(u) on the arc as [constant, weight of the cosine, weight of the sine]. */
function yieldTerms({ family, mean, cosine, sine }: CurveArc, u: number): [number, number, number] {
  const below = Math.max(mean[2] - u, 0);
  const b = family <= 2 ? u : -(family === 3 ? below : below * below);
  const c = family === 2 ? u * u : 0;
  const at = (v: readonly [number, number, number]): number => v[0] + b * v[1] + c * v[2];
  return [at(mean), at(cosine), at(sine)];
}
