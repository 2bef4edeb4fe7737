import { square } from "../core/elementary.ts";
import { clampOptimum } from "./clampOptimum.ts";
import type { Curve } from "./curve.ts";

/**
 * Curved rise that meets its plateau smoothly: y = plateau - curvature max(join - x, 0)^2. Optimum join - r / (2 curvature).
 */
export const quadraticPlateau: Curve = Object.freeze<Curve>({
  name: "quadratic-plateau",
  parameters: ["plateau", "curvature", "join"],
  mean: (x, theta) => theta[0] - theta[1] * square(Math.max(theta[2] - x, 0)),
  slope: (x, theta) => 2 * theta[1] * Math.max(theta[2] - x, 0),
  curvature: (x, theta) => (x < theta[2] ? -2 * theta[1] : 0),
  gradient(x, theta, out) {
    const below = Math.max(theta[2] - x, 0);
    out[0] = 1;
    out[1] = -below * below;
    out[2] = -2 * theta[1] * below;
  },
  optimum: (theta, low, high, r) =>
    theta[1] > 0 ? clampOptimum(theta[2] - r / (2 * theta[1]), low, high) : { kind: "lower-edge", density: low },
});
