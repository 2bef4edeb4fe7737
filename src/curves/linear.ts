import type { Curve } from "./curve.ts";

/** Straight line: y = intercept + linear x. It has no optimum of its own, only an end of the range. */
export const linear: Curve = Object.freeze<Curve>({
  name: "linear",
  parameters: ["intercept", "linear"],
  mean: (x, theta) => theta[0] + theta[1] * x,
  slope: (_x, theta) => theta[1],
  curvature: () => 0,
  gradient(x, _theta, out) {
    out[0] = 1;
    out[1] = x;
  },
  optimum: (theta, low, high, r) =>
    theta[1] > r ? { kind: "upper-edge", density: high } : { kind: "lower-edge", density: low },
});
