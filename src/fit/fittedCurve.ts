import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { curveOf } from "../curves/catalogue.ts";
import type { CurveFit } from "./curveFit.ts";

/** A finished curve as functions of density. */
export interface FittedCurve {
  mean(x: number): number;
  slope(x: number): number;
  /** Where Y(x) - r x is largest on [low, high]. */
  optimum(low: number, high: number, r: number): ReturnType<ReturnType<typeof curveOf>["optimum"]>;
}

/**
 * The functions behind a fit.
 *
 * @throws AnalysisError `not-estimable` when the fit did not succeed; the message repeats the fit's own reason
 */
export function fittedCurve(fit: CurveFit): FittedCurve {
  check(
    fit.curve !== null && fit.status === "converged",
    "not-estimable",
    `the ${fit.family} fit cannot be used: ${fit.reason ?? fit.status}`,
  );
  const { family, theta } = fit.curve;
  const curve = curveOf(family);
  return {
    mean: (x) => curve.mean(x, theta),
    slope: (x) => curve.slope(x, theta),
    optimum: (low, high, r) => curve.optimum(theta, low, high, r),
  };
}

/**
 * Yield on the fitted curve at given densities, for the average block.
 *
 * @param densities - shape [n], in the unit of the fit
 * @returns shape [n], in the yield unit of the fit
 * @throws AnalysisError `not-estimable` when the fit did not succeed
 * @example
 * const fit = fitCurve("linear", { density: [20, 30, 40], yield: [100, 110, 120] });
 * predictCurve(fit, [25, 35]); // => [105, 115]
 */
export function predictCurve(fit: CurveFit, densities: ArrayLike<number>): number[] {
  checkShape(fit, "fit", "standcurve/curve-fit/1");
  checkShape(densities, "densities", "numbers");
  const curve = fittedCurve(fit);
  return Array.from(densities, (x) => curve.mean(x));
}

/**
 * Yield gained by one more density unit on the fitted curve (its slope) at given densities; at a kink, to the right.
 *
 * @param densities - shape [n], in the unit of the fit
 * @returns shape [n], yield units per density unit
 * @throws AnalysisError `not-estimable` when the fit did not succeed
 * @example
 * const fit = fitCurve("linear", { density: [20, 30, 40], yield: [100, 110, 120] });
 * marginalYield(fit, [25, 35]); // => [1, 1]
 */
export function marginalYield(fit: CurveFit, densities: ArrayLike<number>): number[] {
  checkShape(fit, "fit", "standcurve/curve-fit/1");
  checkShape(densities, "densities", "numbers");
  const curve = fittedCurve(fit);
  return Array.from(densities, (x) => curve.slope(x));
}
