import { checkShape, type Shape } from "../core/checkShape.ts";
import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { tQuantile } from "../numeric/distributions.ts";
import { combinationDof, form } from "./curveInference.ts";
import { basisOf, meanCurveOf, toZ } from "./mixedBasis.ts";
import type { MixedResponseFit } from "./mixedResponse.ts";

export interface PredictOptions {
  /** Densities to predict at, density units. */
  readonly density: readonly number[];
  /** Hybrid, when the fit has a curve per hybrid. */
  readonly hybrid?: string;
  /** An environment of the fit: its own curve instead of the average over environments. */
  readonly environment?: string;
  /** Confidence level, default 0.95. */
  readonly level?: number;
}

/** What `PredictOptions` must look like. */
export const predictOptionsShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  hybrid: "text?",
  environment: "text?",
  level: "number?",
};

/** Expected yield at one density. */
export interface Prediction {
  readonly density: number;
  readonly yield: number;
  readonly standardError: number;
  /** Degrees of freedom of the interval; null when they cannot be worked out (then no interval). */
  readonly dof: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
  /** Interval for the expected yield of an environment not yet seen; null when withheld or for a known environment. */
  readonly newEnvironment: { readonly lower: number; readonly upper: number; readonly dof: number } | null;
  readonly outsideRange: boolean;
}

export interface Predictions {
  readonly kind: "marginal" | "conditional";
  readonly rows: readonly Prediction[];
  /** Why there is no interval for a new environment; null when there is one or it was not asked for. */
  readonly withheld: string | null;
  readonly level: number;
}

/** Below this many environments an interval for the next one says nothing. */
export const FEWEST_FOR_PREDICTION = 5;

/**
 * Expected yields of a mixed response, on average over environments (marginal) or in a known environment (conditional).
 *
 * Marginal: c'beta with SE sqrt(c'V c) and Satterthwaite degrees of freedom; the interval for a new environment adds its
 * variance, c'V c + c'G c. Conditional: c'(beta + u_e) with the prediction covariance of beta^ and u^_e together; variances
 * are taken as known there and the degrees of freedom are those of the residual, so it is a little short with few plots.
 *
 * @throws AnalysisError `invalid-option` for an unknown hybrid or environment, or a level outside (0, 1)
 * @example
 * const density = [2, 3, 4, 5, 2, 3, 4, 5, 2, 3, 4, 5];
 * const yield_ = [7.1, 8.2, 8.4, 8.1, 5.2, 5.9, 6.3, 5.8, 9.0, 10.3, 10.2, 10.1];
 * const environment = ["A", "A", "A", "A", "B", "B", "B", "B", "C", "C", "C", "C"];
 * const fit = fitMixedResponse({ density, yield: yield_, environment });
 * predictResponse(fit, { density: [3, 4] }).rows.length; // => 2
 */
export function predictResponse(fit: MixedResponseFit, options: PredictOptions): Predictions {
  checkShape(fit, "fit", "standcurve/mixed-response/1");
  checkShape(options, "options", predictOptionsShape, "invalid-option");
  const { level = 0.95, environment } = options;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(options.density.every(Number.isFinite), "invalid-option", "density must be finite numbers");
  const curve = meanCurveOf(fit, options.hybrid);
  const at = fit.curves.indexOf(curve);
  const basis = basisOf(fit);
  const known = environment === undefined ? null : fit.environments.find((one) => one.environment === environment);
  check(known !== undefined, "invalid-option", `the fit has no environment "${environment}"`);
  const tail = 1 - (1 - level) / 2;
  const few = fit.environments.length < FEWEST_FOR_PREDICTION;
  const rows = options.density.map((density): Prediction => {
    const z = toZ(fit.scaling, density);
    const c = basis.gradient(z, curve.coefficients);
    let mean = basis.mean(z, curve.coefficients);
    let variance = form(c, curve.vcov, c);
    let dof = combinationDof(fit, curve, c);
    if (known !== null) {
      mean += c.reduce((sum, v, i) => sum + v * known.modes[i], 0);
      variance += form(c, known.variance, c) + 2 * form(c, known.withMean[at], c);
      dof = residualDof(fit);
    }
    const standardError = Math.sqrt(Math.max(0, variance));
    const half = dof === null ? null : tQuantile(tail, Math.max(1, dof)) * standardError;
    const newDof = known === null && !few ? combinationDof(fit, curve, c, true) : null;
    const total = Math.sqrt(variance + form(c, fit.environmentCovariance, c));
    const reach = newDof === null ? 0 : tQuantile(tail, Math.max(1, newDof)) * total;
    return {
      density,
      yield: mean,
      standardError,
      dof,
      lower: half === null ? null : mean - half,
      upper: half === null ? null : mean + half,
      newEnvironment: newDof === null ? null : { lower: mean - reach, upper: mean + reach, dof: newDof },
      outsideRange: density < fit.densityRange[0] || density > fit.densityRange[1],
    };
  });
  const withheld =
    known !== null || !few
      ? null
      : `${fit.environments.length} environments are too few to say what a new one would give (${FEWEST_FOR_PREDICTION} are needed)`;
  return { kind: known === null ? "marginal" : "conditional", rows, withheld, level };
}

/** Degrees of freedom of the residual variance, 2 s^4 / Var(s^2). */
export function residualDof(fit: MixedResponseFit): number | null {
  if (fit.componentCovariance === null) return null;
  const last = fit.componentCovariance.length - 1;
  return (2 * pow(fit.sigma, 4)) / fit.componentCovariance[last][last];
}
