import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { finiteResult } from "../core/finiteResult.ts";
import { type QuadraticEstimates, quadraticEstimatesShape } from "../interval/fieller.ts";

/**
 * First-order (delta, Wald) interval of the density where a quadratic's slope equals m: estimate -+ t SE.
 *
 * For comparison with other software only. It is symmetric and bounded whatever the data say, and covers 70 to 90 % where it
 * claims 95 in small trials; `optimumInterval` never uses it.
 *
 * @param m - price ratio (0: agronomic optimum)
 * @param t - quantile of Student's t, > 0
 * @throws AnalysisError `not-estimable` when the quadratic coefficient is zero
 * @example
 * const estimates = { linear: 6.4, quadratic: -0.1, varLinear: 0.04, covariance: -0.0006, varQuadratic: 0.00001 };
 * deltaInterval(estimates, 0, 2.2).estimate; // => 32
 *
 * Source: Bachmaier (2009), Statistical Papers 50, 649-660, who compares it with Fieller's interval.
 */
export function deltaInterval(
  estimates: QuadraticEstimates,
  m: number,
  t: number,
): { readonly estimate: number; readonly stderror: number; readonly lower: number; readonly upper: number } {
  checkShape(estimates, "estimates", quadraticEstimatesShape);
  checkShape(m, "m", "number", "invalid-option");
  checkShape(t, "t", "number", "invalid-option");
  const { linear, quadratic, varLinear, covariance, varQuadratic } = estimates;
  check(quadratic !== 0, "not-estimable", "a straight line has no density where its slope changes");
  check(t > 0, "invalid-option", `t must be > 0, got ${t}`);
  const estimate = (m - linear) / (2 * quadratic);
  const byLinear = -1 / (2 * quadratic);
  const byQuadratic = -estimate / quadratic;
  const variance =
    byLinear * byLinear * varLinear +
    2 * byLinear * byQuadratic * covariance +
    byQuadratic * byQuadratic * varQuadratic;
  check(!(variance < 0), "invalid-data", `variances and covariance contradict each other: a variance of ${variance}`);
  const stderror = Math.sqrt(variance);
  return finiteResult({ estimate, stderror, lower: estimate - t * stderror, upper: estimate + t * stderror });
}
