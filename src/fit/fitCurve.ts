import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { allFamilies, type Family, isInner } from "../curves/family.ts";
import type { CurveFit } from "./curveFit.ts";
import { type CurveData, curveDataShape, type PreparedData, prepareData } from "./fitData.ts";
import { fitInner } from "./fitInner.ts";
import { fitSmooth } from "./fitSmooth.ts";

export interface FitCurveOptions {
  /**
   * `rising` (default): plateau families rise to their plateau, Mitscherlich curves to their asymptote. `any`: falling ones too, so the answer is the global
   * least-squares fit whatever its direction.
   */
  readonly direction?: "rising" | "any";
}

/** What `FitCurveOptions` must look like. */
export const fitCurveOptionsShape: { readonly [property: string]: Shape } = { direction: "text?" };

/**
 * Least-squares fit of one response family with block effects and weights.
 *
 * The inner families (flat, linear, quadratic, linear-plateau, quadratic-plateau) are solved exactly: the answer is the global
 * minimum, without starting values. The smooth families are polished to at least nine digits. With blocks, the level
 * coefficient (intercept, plateau) is that of the average block.
 *
 * @param family - name of the family
 * @param data - plots in parallel arrays; density and yield in any units, which the coefficients share
 * @returns plain data; `status` says whether it can be used, `limit` whether it is a simpler curve in disguise
 * @throws AnalysisError `invalid-option` for an unknown family or direction
 * @throws AnalysisError `length-mismatch` or `invalid-data` when the arrays do not fit together
 * @example
 * const fit = fitCurve("linear-plateau", { density: [1, 2, 3, 4, 5], yield: [1, 2, 3, 3, 3] });
 * fit.coefficients["join"]; // => 3
 *
 * Source: exact profile over the join, see `numeric/joinDesign.ts`. Oracle: test/oracle, R 4.2.2 lm and profile search.
 */
export function fitCurve(family: Family, data: CurveData, options: FitCurveOptions = {}): CurveFit {
  checkShape(family, "family", "text", "invalid-option");
  checkShape(data, "data", curveDataShape);
  checkShape(options, "options", fitCurveOptionsShape, "invalid-option");
  const { direction = "rising" } = options;
  check(
    allFamilies.includes(family),
    "invalid-option",
    `unknown family "${family}"; choose one of ${allFamilies.join(", ")}`,
  );
  check(
    direction === "rising" || direction === "any",
    "invalid-option",
    `direction must be "rising" or "any", got ${direction}`,
  );
  return fitPrepared(family, prepareData(data), direction);
}

/** Prepared data and fits are never changed, so a curve that is asked for again is the one fitted before. */
const fitted = new WeakMap<PreparedData, Map<string, CurveFit>>();

/** The same for data that were checked before: several families share one preparation, and every caller one fit. */
export function fitPrepared(family: Family, data: PreparedData, direction: "rising" | "any" = "rising"): CurveFit {
  const known = fitted.get(data) ?? new Map<string, CurveFit>();
  fitted.set(data, known);
  const key = `${family} ${direction}`;
  const before = known.get(key);
  if (before !== undefined) return before;
  const anySlope = direction === "any";
  const fit = isInner(family) ? fitInner(family, data, anySlope) : fitSmooth(family, data, anySlope);
  known.set(key, fit);
  return fit;
}
