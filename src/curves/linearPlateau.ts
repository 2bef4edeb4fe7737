import { clampOptimum } from "./clampOptimum.ts";
import type { Curve } from "./curve.ts";

/**
 * Straight rise to a plateau: y = plateau - slope max(join - x, 0). The optimum is the join when the rise pays (slope > r)
 * and the lowest density when it does not.
 */
export const linearPlateau: Curve = Object.freeze<Curve>({
  name: "linear-plateau",
  parameters: ["plateau", "slope", "join"],
  mean: (x, theta) => theta[0] - theta[1] * Math.max(theta[2] - x, 0),
  slope: (x, theta) => (x < theta[2] ? theta[1] : 0),
  curvature: () => 0,
  gradient(x, theta, out) {
    const below = x < theta[2];
    out[0] = 1;
    out[1] = below ? x - theta[2] : 0;
    out[2] = below ? -theta[1] : 0;
  },
  optimum: (theta, low, high, r) =>
    theta[1] > r ? clampOptimum(theta[2], low, high) : { kind: "lower-edge", density: low },
});
