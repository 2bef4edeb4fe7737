import { checkShape } from "../core/checkShape.ts";
import { type Economics, economicsShape } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { fittedCurve } from "../fit/fittedCurve.ts";
import { economicOptimum } from "./optimum.ts";

/** Money per area left after seed along a fitted curve. */
export interface ReturnCurve {
  readonly density: readonly number[];
  /** (grainPrice - yieldCost) Y(x) - seedCost x / establishment, money per area; shape of `density`. */
  readonly return: readonly number[];
  /** The same less its largest value inside the tested range: 0 at the best density, negative elsewhere. */
  readonly loss: readonly number[];
  readonly best: {
    readonly kind: "interior" | "lower-edge" | "upper-edge";
    readonly density: number;
    readonly return: number;
  };
}

/**
 * Return after seed against density at one pair of prices.
 *
 * @param densities - in the unit of the fit, inside the tested range; shape [n]
 * @throws AnalysisError `not-estimable`, `invalid-option` as `economicOptimum`, and `invalid-option` for a seed cost of 0 on a flat curve,
 *   where every density returns the same
 * @example
 * const fit = fitCurve("quadratic", { density: [20, 25, 30, 35, 40], yield: [150, 175, 190, 195, 190] });
 * const curve = returnCurve(fit, { grainPrice: 4.5, seedCost: 3.75 }, [20, 30, 40]);
 * Math.max(...curve.loss) <= 0; // => true
 */
export function returnCurve(fit: CurveFit, economics: Economics, densities: readonly number[]): ReturnCurve {
  checkShape(fit, "fit", "standcurve/curve-fit/1");
  checkShape(economics, "economics", economicsShape);
  checkShape(densities, "densities", "numbers");
  const { grainPrice, seedCost, establishment = 1, yieldCost = 0 } = economics;
  const optimum = economicOptimum(fit, economics);
  check(optimum.density !== null && optimum.kind !== "none", "invalid-option", "every density returns the same here");
  const curve = fittedCurve(fit);
  const money = densities.map((x) => (grainPrice - yieldCost) * curve.mean(x) - (seedCost * x) / establishment);
  return {
    density: [...densities],
    return: money,
    loss: money.map((value) => Math.min(value - optimum.return, 0)),
    best: { kind: optimum.kind, density: optimum.density, return: optimum.return },
  };
}
