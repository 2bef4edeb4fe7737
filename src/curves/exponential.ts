import { exp } from "../core/elementary.ts";
import { clampOptimum } from "./clampOptimum.ts";
import type { Curve } from "./curve.ts";
import { lambertW } from "./lambertW.ts";
import { largestAmong } from "./largestAmong.ts";

/**
 * Exponential decline of yield per plant: y / x = exp(a + b x), so y = x exp(a + b x).
 *
 * `a` is the logarithm of the yield of a plant without neighbours, `b` (< 0) the relative loss per plant and unit of density.
 * Yield is largest at -1 / b; net of a cost r per unit of density at (W(r exp(1 - a)) - 1) / b, W = Lambert's function.
 *
 * Source: Carmer & Jackobs (1965), Agronomy Journal 57, 241-244.
 */
export const exponential: Curve = Object.freeze<Curve>({
  name: "exponential",
  parameters: ["a", "b"],
  mean: (x, theta) => x * exp(theta[0] + theta[1] * x),
  slope: (x, theta) => (1 + theta[1] * x) * exp(theta[0] + theta[1] * x),
  curvature: (x, theta) => theta[1] * (2 + theta[1] * x) * exp(theta[0] + theta[1] * x),
  gradient(x, theta, out) {
    const y = x * exp(theta[0] + theta[1] * x);
    out[0] = y;
    out[1] = x * y;
  },
  optimum(theta, low, high, r) {
    const [a, b] = [theta[0], theta[1]];
    if (b < 0) {
      // The slope falls from exp(a) at 0; beyond -1 / b it is negative for good.
      return r < exp(a)
        ? clampOptimum((lambertW(r * exp(1 - a)) - 1) / b, low, high)
        : { kind: "lower-edge", density: low };
    }
    return largestAmong((x) => x * exp(a + b * x) - r * x, [], low, high);
  },
});
