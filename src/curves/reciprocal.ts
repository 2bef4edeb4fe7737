import { pow, square } from "../core/elementary.ts";
import { clampOptimum } from "./clampOptimum.ts";
import type { Curve } from "./curve.ts";
import { largestAmong } from "./largestAmong.ts";

/**
 * Asymptotic reciprocal curve: x / y = a + b x, so y = x / (a + b x), rising to 1 / b.
 *
 * `1 / a` is the yield of a plant without neighbours. The denominator must be positive where the curve is used. Yield has no
 * maximum; net of a cost r per unit of density it is largest at (sqrt(a / r) - a) / b.
 *
 * Source: Shinozaki & Kira (1956), Journal of the Institute of Polytechnics, Osaka City University D 7, 35-72 (citation from
 * memory); closed form re-derived.
 */
export const reciprocal: Curve = Object.freeze<Curve>({
  name: "reciprocal",
  parameters: ["a", "b"],
  mean: (x, theta) => x / (theta[0] + theta[1] * x),
  slope: (x, theta) => theta[0] / square(theta[0] + theta[1] * x),
  curvature: (x, theta) => (-2 * theta[0] * theta[1]) / pow(theta[0] + theta[1] * x, 3),
  gradient(x, theta, out) {
    const q = x / square(theta[0] + theta[1] * x);
    out[0] = -q;
    out[1] = -q * x;
  },
  optimum(theta, low, high, r) {
    const [a, b] = [theta[0], theta[1]];
    if (a > 0 && b > 0 && r > 0) return clampOptimum((Math.sqrt(a / r) - a) / b, low, high);
    return largestAmong((x) => x / (a + b * x) - r * x, [], low, high);
  },
});
