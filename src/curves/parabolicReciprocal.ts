import { square } from "../core/elementary.ts";
import { rootsInUnitInterval, toBernstein } from "../numeric/intervalRoots.ts";
import { clampOptimum } from "./clampOptimum.ts";
import type { Curve } from "./curve.ts";
import { largestAmong } from "./largestAmong.ts";

/**
 * Parabolic reciprocal curve: x / y = a + b x + c x^2, so y = x / (a + b x + c x^2).
 *
 * Yield is largest at sqrt(a / c), where it is 1 / (b + 2 sqrt(a c)); net of a cost r per unit of density at a root of
 * a - c x^2 = r (a + b x + c x^2)^2. The denominator must be positive where the curve is used.
 *
 * Source: Holliday (1960), Field Crop Abstracts 13, 159-167 (citation from memory); closed forms re-derived.
 */
export const parabolicReciprocal: Curve = Object.freeze<Curve>({
  name: "parabolic-reciprocal",
  parameters: ["a", "b", "c"],
  mean: (x, theta) => x / denominator(x, theta),
  slope: (x, theta) => (theta[0] - theta[2] * x * x) / square(denominator(x, theta)),
  curvature(x, theta) {
    const d = denominator(x, theta);
    return (-2 * (theta[2] * x * d + (theta[0] - theta[2] * x * x) * (theta[1] + 2 * theta[2] * x))) / (d * d * d);
  },
  gradient(x, theta, out) {
    const q = x / square(denominator(x, theta));
    out[0] = -q;
    out[1] = -q * x;
    out[2] = -q * x * x;
  },
  optimum(theta, low, high, r) {
    const [a, b, c] = [theta[0], theta[1], theta[2]];
    if (r === 0 && a > 0 && c > 0) return clampOptimum(Math.sqrt(a / c), low, high);
    return largestAmong((x) => x / denominator(x, theta) - r * x, stationary(a, b, c, low, high, r), low, high);
  },
});

function denominator(x: number, theta: ArrayLike<number>): number {
  return theta[0] + x * (theta[1] + x * theta[2]);
}

/** Roots of a - c x^2 - r (a + b x + c x^2)^2 inside (low, high), with x = low + (high - low) t. */
function stationary(a: number, b: number, c: number, low: number, high: number, r: number): number[] {
  const span = high - low;
  if (!(span > 0)) return [];
  const d = [a + low * (b + low * c), (b + 2 * c * low) * span, c * span * span];
  const quartic = [
    a - c * low * low - r * d[0] * d[0],
    -2 * c * low * span - 2 * r * d[0] * d[1],
    -c * span * span - r * (d[1] * d[1] + 2 * d[0] * d[2]),
    -2 * r * d[1] * d[2],
    -r * d[2] * d[2],
  ];
  const bernstein = new Float64Array(5);
  toBernstein(quartic, 4, bernstein);
  const roots = new Float64Array(4);
  const found = rootsInUnitInterval(bernstein, 4, roots);
  return Array.from(roots.subarray(0, found), (t) => low + span * t);
}
