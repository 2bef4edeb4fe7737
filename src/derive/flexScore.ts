import { checkShape, type Shape } from "../core/checkShape.ts";
import { log } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { fittedCurve } from "../fit/fittedCurve.ts";

export interface FlexOptions {
  /** Reference densities [x1, x2], 0 < x1 < x2, in the density unit of the fit; the same for all hybrids compared. */
  readonly between: readonly [number, number];
  /** Allow reference densities outside the tested range; default false. */
  readonly extrapolate?: boolean;
}

/** What `FlexOptions` must look like. */
export const flexOptionsShape: { readonly [property: string]: Shape } = { between: "numbers", extrapolate: "flag?" };

/** How far plants make up for missing neighbours, between two densities. */
export interface FlexScore {
  /** 100 x the compensation elasticity averaged on the log axis; null when it does not exist, see `reason`. */
  readonly score: number | null;
  readonly between: readonly [number, number];
  /** Yield units per density unit between the same densities. */
  readonly slope: number | null;
  /** The part below the curve's optimum (making up when thin) and above it (crowding), each a score of its own. */
  readonly left: number | null;
  readonly right: number | null;
  /** Compensation elasticity at x1, at the log midpoint and at x2. */
  readonly local: readonly { readonly density: number; readonly elasticity: number }[];
  /** Why there is no score; null when there is one. */
  readonly reason: string | null;
}

/**
 * Flex score of a fitted curve: 100 (1 - ln(Y(x2) / Y(x1)) / ln(x2 / x1)).
 *
 * It is 100 x the mean over ln x of eps(x) = -d ln(yield per plant) / d ln x = 1 - d ln Y / d ln x. 0: each plant keeps its
 * ear whatever the stand, so yield grows with the plants; 100: fewer plants are fully made up by bigger ears; above 100:
 * overcrowded, more plants yield less.
 *
 * @throws AnalysisError `invalid-option` unless 0 < x1 < x2
 * @throws AnalysisError `not-estimable` when the fit did not succeed
 * @example
 * const fit = fitCurve("linear", { density: [10, 20, 30], yield: [100, 200, 300] });
 * Math.abs(flexScore(fit, { between: [10, 30] }).score ?? 1) < 1e-9; // => true
 *
 * Source: definition from the identity Y = x w; at a smooth optimum eps is exactly 1.
 */
export function flexScore(fit: CurveFit, options: FlexOptions): FlexScore {
  checkShape(fit, "fit", "standcurve/curve-fit/1");
  checkShape(options, "options", flexOptionsShape, "invalid-option");
  const { between, extrapolate = false } = options;
  const [x1, x2] = between;
  check(x1 > 0 && x2 > x1 && Number.isFinite(x2), "invalid-option", `between needs 0 < x1 < x2, got [${x1}, ${x2}]`);
  const curve = fittedCurve(fit);
  const [low, high] = fit.range;
  if (!extrapolate && (x1 < low || x2 > high)) {
    return without(between, `the reference densities ${x1} to ${x2} are not inside the tested range ${low} to ${high}`);
  }
  const y1 = curve.mean(x1);
  const y2 = curve.mean(x2);
  if (!(y1 > 0 && y2 > 0)) return without(between, "the fitted yield is not positive at a reference density");

  const score = (a: number, b: number): number => 100 * (1 - log(curve.mean(b) / curve.mean(a)) / log(b / a));
  const top = curve.optimum(x1, x2, 0);
  const split = fit.curve?.family === "flat" ? null : top;
  return {
    score: score(x1, x2),
    between,
    slope: (y2 - y1) / (x2 - x1),
    left: split === null || split.kind === "lower-edge" ? null : score(x1, split.density),
    right: split === null || split.kind === "upper-edge" ? null : score(split.density, x2),
    local: [x1, Math.sqrt(x1 * x2), x2].map((density) => ({
      density,
      elasticity: 1 - (density * curve.slope(density)) / curve.mean(density),
    })),
    reason: null,
  };
}

function without(between: readonly [number, number], reason: string): FlexScore {
  return { score: null, between, slope: null, left: null, right: null, local: [], reason };
}

/**
 * Compensation elasticity at one density: eps(x) = 1 - x Y'(x) / Y(x). Exactly 1 at a smooth agronomic optimum.
 *
 * @returns null when the fitted yield there is not positive
 * @throws AnalysisError `invalid-option` unless density > 0
 * @example
 * const fit = fitCurve("linear", { density: [20, 30, 40], yield: [100, 110, 120] });
 * compensationElasticity(fit, 40); // => 1 - 40 / 120
 */
export function compensationElasticity(fit: CurveFit, density: number): number | null {
  checkShape(fit, "fit", "standcurve/curve-fit/1");
  checkShape(density, "density", "number", "invalid-option");
  check(density > 0, "invalid-option", `density must be > 0, got ${density}`);
  const curve = fittedCurve(fit);
  const level = curve.mean(density);
  return level > 0 ? 1 - (density * curve.slope(density)) / level : null;
}
