import { clampOptimum } from "./clampOptimum.ts";
import type { Curve } from "./curve.ts";

/**
 * Parabola: y = intercept + linear x + quadratic x^2. Optimum (r - linear) / (2 quadratic) when quadratic < 0; a parabola
 * that bends upwards is best at one of the ends.
 */
export const quadratic: Curve = Object.freeze<Curve>({
  name: "quadratic",
  parameters: ["intercept", "linear", "quadratic"],
  mean: (x, theta) => theta[0] + x * (theta[1] + x * theta[2]),
  slope: (x, theta) => theta[1] + 2 * theta[2] * x,
  curvature: (_x, theta) => 2 * theta[2],
  gradient(x, _theta, out) {
    out[0] = 1;
    out[1] = x;
    out[2] = x * x;
  },
  optimum(theta, low, high, r) {
    if (theta[2] < 0) return clampOptimum((r - theta[1]) / (2 * theta[2]), low, high);
    // Y(high) - Y(low) > r (high - low), divided by (high - low) > 0.
    const rises = theta[1] + theta[2] * (low + high) > r;
    return rises ? { kind: "upper-edge", density: high } : { kind: "lower-edge", density: low };
  },
});
