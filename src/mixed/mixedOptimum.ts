import { checkShape, type Shape } from "../core/checkShape.ts";
import { type Economics, priceRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import {
  type CurveEstimate,
  type CurveOptimumAnswer,
  curveFlex,
  curveOptimum,
  type FlexAnswer,
} from "./curveAnswers.ts";
import { combinationDof } from "./curveInference.ts";
import { meanCurveOf } from "./mixedBasis.ts";
import type { MixedResponseFit } from "./mixedResponse.ts";

export interface MixedOptimumOptions {
  readonly hybrid?: string;
  readonly prices?: Economics;
  /** Reference densities of the flex score, density units. */
  readonly between?: readonly [number, number];
  /** Confidence level, default 0.95. */
  readonly level?: number;
}

/** What `MixedOptimumOptions` must look like. */
export const mixedOptimumOptionsShape: { readonly [property: string]: Shape } = {
  hybrid: "text?",
  prices: "object?",
  between: "numbers?",
  level: "number?",
};

/** Optima and flex score of the curve expected on average over environments. */
export interface MixedOptimum {
  readonly hybrid: string | null;
  readonly agronomic: CurveOptimumAnswer;
  /** Null without prices. */
  readonly economic: CurveOptimumAnswer | null;
  /** Yield units per density unit that pay for the seed; null without prices. */
  readonly priceRatio: number | null;
  /** Null without reference densities. */
  readonly flex: FlexAnswer | null;
  readonly level: number;
}

/**
 * Optima of the average curve over environments, with test-inversion intervals on Satterthwaite degrees of freedom.
 *
 * @throws AnalysisError `invalid-option`
 * @example
 * const density = [2, 3, 4, 5, 2, 3, 4, 5, 2, 3, 4, 5];
 * const yield_ = [7.1, 8.2, 8.4, 8.1, 5.2, 5.9, 6.3, 5.8, 9.0, 10.3, 10.2, 10.1];
 * const environment = ["A", "A", "A", "A", "B", "B", "B", "B", "C", "C", "C", "C"];
 * const fit = fitMixedResponse({ density, yield: yield_, environment });
 * mixedOptimum(fit).agronomic.kind; // => "interior"
 */
export function mixedOptimum(fit: MixedResponseFit, options: MixedOptimumOptions = {}): MixedOptimum {
  checkShape(fit, "fit", "standcurve/mixed-response/1");
  checkShape(options, "options", mixedOptimumOptionsShape, "invalid-option");
  const level = options.level ?? 0.95;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  const curve = meanCurveOf(fit, options.hybrid);
  const estimate: CurveEstimate = {
    coefficients: curve.coefficients,
    vcov: curve.vcov,
    dof: (c) => combinationDof(fit, curve, c),
  };
  return { hybrid: curve.hybrid, ...answers(fit, estimate, options, level), level };
}

/** The optima and flex score that the options ask for. */
export function answers(
  fit: MixedResponseFit,
  estimate: CurveEstimate,
  options: Pick<MixedOptimumOptions, "prices" | "between">,
  level: number,
): Pick<MixedOptimum, "agronomic" | "economic" | "priceRatio" | "flex"> {
  const ratio = options.prices === undefined ? null : priceRatio(options.prices);
  const slopeDof = new Map<number, number | null>();
  return {
    agronomic: curveOptimum(fit, estimate, 0, level, slopeDof),
    economic: ratio === null ? null : curveOptimum(fit, estimate, ratio, level, slopeDof),
    priceRatio: ratio,
    flex: options.between === undefined ? null : curveFlex(fit, estimate, options.between, level),
  };
}
