import { exp, log } from "../core/elementary.ts";
import { clampOptimum } from "./clampOptimum.ts";
import type { Curve } from "./curve.ts";
import { largestAmong } from "./largestAmong.ts";

/**
 * Mitscherlich's law of diminishing returns: y = a - b exp(-c x), rising to `a` when b and c are positive.
 *
 * `b` is what is missing from the asymptote at density 0, `c` the relative rate at which it is made up. Yield has no maximum;
 * net of a cost r per unit of density it is largest at ln(b c / r) / c.
 *
 * Source: Mitscherlich (1909), Landwirtschaftliche Jahrbuecher 38, 537-552 (citation from memory); closed form re-derived.
 */
export const mitscherlich: Curve = Object.freeze<Curve>({
  name: "mitscherlich",
  parameters: ["a", "b", "c"],
  mean: (x, theta) => theta[0] - theta[1] * exp(-theta[2] * x),
  slope: (x, theta) => theta[1] * theta[2] * exp(-theta[2] * x),
  curvature: (x, theta) => -theta[1] * theta[2] * theta[2] * exp(-theta[2] * x),
  gradient(x, theta, out) {
    const e = exp(-theta[2] * x);
    out[0] = 1;
    out[1] = -e;
    out[2] = theta[1] * x * e;
  },
  optimum(theta, low, high, r) {
    const [, b, c] = [theta[0], theta[1], theta[2]];
    if (b > 0 && c > 0 && r > 0) return clampOptimum(log((b * c) / r) / c, low, high);
    if (b > 0 && c > 0)
      return high > low ? { kind: "upper-edge", density: high } : { kind: "lower-edge", density: low };
    return largestAmong((x) => -b * exp(-c * x) - r * x, [], low, high);
  },
});
