import type { Curve } from "./curve.ts";

/** No response to density: y = intercept. Any positive seed cost makes the lowest density the cheapest. */
export const flat: Curve = Object.freeze<Curve>({
  name: "flat",
  parameters: ["intercept"],
  mean: (_x, theta) => theta[0],
  slope: () => 0,
  curvature: () => 0,
  gradient(_x, _theta, out) {
    out[0] = 1;
  },
  optimum: (_theta, low) => ({ kind: "lower-edge", density: low }),
});
