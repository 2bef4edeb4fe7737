import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { finiteResult } from "../core/finiteResult.ts";

/** Estimates and covariance of y = … + b1 x + b2 x^2, in any units. */
export interface QuadraticEstimates {
  readonly linear: number;
  readonly quadratic: number;
  readonly varLinear: number;
  readonly covariance: number;
  readonly varQuadratic: number;
}

/** What `QuadraticEstimates` must look like. */
export const quadraticEstimatesShape: { readonly [property: string]: Shape } = {
  linear: "number",
  quadratic: "number",
  varLinear: "number",
  covariance: "number",
  varQuadratic: "number",
};

/**
 * Fieller's confidence set for the optimum (m - b1) / (2 b2) of a quadratic. `interval`: between lower and upper.
 * `outside`: everything but the stretch between them. `whole-line`: the data say nothing.
 */
export type FiellerSet =
  | { readonly kind: "interval" | "outside"; readonly lower: number; readonly upper: number; readonly g: number }
  | { readonly kind: "whole-line"; readonly g: number };

/**
 * Exact confidence set, under normal errors, of the density where the slope of a quadratic equals m.
 *
 * With p = m - b1, q = 2 b2: all x with (p - x q)^2 <= t^2 var(p - x q). g = t^2 var(q) / q^2 >= 1 means that the bend is not
 * significant, and the set is not an interval.
 *
 * @param m - price ratio (0: agronomic optimum), yield units per density unit
 * @param t - quantile of Student's t, > 0
 * @example
 * const estimates = { linear: 6.4, quadratic: -0.1, varLinear: 0.04, covariance: -0.0006, varQuadratic: 0.00001 };
 * fiellerSet(estimates, 0, 2.2).kind; // => "interval"
 *
 * Source: Fieller (1954), JRSS B 16, 175-185; Bachmaier (2009), Statistical Papers 50, 649-660 for the optimum of a quadratic.
 */
export function fiellerSet(estimates: QuadraticEstimates, m: number, t: number): FiellerSet {
  checkShape(estimates, "estimates", quadraticEstimatesShape);
  checkShape(m, "m", "number", "invalid-option");
  checkShape(t, "t", "number", "invalid-option");
  check(t > 0, "invalid-option", `t must be > 0, got ${t}`);
  const p = m - estimates.linear;
  const q = 2 * estimates.quadratic;
  const vpp = estimates.varLinear;
  const vqq = 4 * estimates.varQuadratic;
  const vpq = -2 * estimates.covariance;
  const t2 = t * t;
  const a = q * q - t2 * vqq;
  const b = p * q - t2 * vpq;
  const c = p * p - t2 * vpp;
  const discriminant = b * b - a * c;
  const g = q === 0 ? Number.MAX_VALUE : (t2 * vqq) / (q * q);
  if (a === 0 || discriminant < 0) return finiteResult({ kind: "whole-line", g } as const);
  // The two roots without cancellation: one from the sum, the other from the product.
  const root = Math.sqrt(discriminant);
  const far = (b + (b >= 0 ? root : -root)) / a;
  const near = far === 0 ? 0 : c / a / far;
  return finiteResult({
    kind: a > 0 ? "interval" : "outside",
    lower: Math.min(far, near),
    upper: Math.max(far, near),
    g,
  } as const);
}
