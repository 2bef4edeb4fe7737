import { checkShape, type Shape } from "../core/checkShape.ts";
import { log, pow, square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { chiSquareUpper, tQuantile, tTwoSided } from "../numeric/distributions.ts";

/** One estimate per environment or publication. */
export interface SummaryEstimate {
  readonly label: string;
  readonly estimate: number;
  readonly standardError: number;
}

export interface CombineOptions {
  /** Confidence level, default 0.95. */
  readonly level?: number;
  /**
   * Hartung-Knapp error (default true): the scatter of the estimates themselves, never below the plain random-effects
   * error when `floor` is set.
   */
  readonly hartungKnapp?: boolean;
  /** Keep the Hartung-Knapp factor at 1 or above (the modified rule for few or unequal studies); default true. */
  readonly floor?: boolean;
}

/** What `CombineOptions` must look like. */
export const combineOptionsShape: { readonly [property: string]: Shape } = {
  level: "number?",
  hartungKnapp: "flag?",
  floor: "flag?",
};

/** A combined estimate; flagged as made from summaries, not from plots. */
export interface CombinedEstimate {
  readonly schema: "standcurve/combined-estimate/1";
  /** Always true: environments entered as summaries. */
  readonly twoStage: true;
  readonly estimate: number;
  readonly standardError: number;
  readonly lower: number;
  readonly upper: number;
  readonly dof: number;
  readonly p: number;
  /** Variance of the true values between environments, REML; and its square root. */
  readonly tau2: number;
  readonly tau: number;
  /** Weighted scatter about the common-effect mean, its degrees of freedom and p. */
  readonly heterogeneity: { readonly q: number; readonly df: number; readonly p: number; readonly i2Percent: number };
  /** Interval for the true value of a further environment; null below 5 estimates. */
  readonly prediction: { readonly lower: number; readonly upper: number } | null;
  readonly weights: readonly { readonly label: string; readonly weight: number }[];
  readonly restrictedLogLikelihood: number;
  readonly level: number;
  readonly notes: readonly string[];
}

const FEWEST_FOR_PREDICTION = 5;

/**
 * Random-effects combination of estimates that come with standard errors only (published or summary data).
 *
 * y_i ~ N(mu, s_i^2 + tau^2), tau^2 by REML: the maximum of -1/2 [sum log v_i + log sum 1/v_i + sum (y_i - mu)^2 / v_i],
 * v_i = s_i^2 + tau^2. Hartung-Knapp: Var(mu) = q / sum w, q = sum w (y - mu)^2 / (k - 1), t with k - 1 degrees of freedom.
 * Prediction: mu +- t(k - 2) sqrt(tau^2 + Var(mu)).
 *
 * @throws AnalysisError `invalid-data` unless every standard error is positive; `not-estimable` below 2 estimates
 * @example
 * const both = [{ label: "A", estimate: 30, standardError: 1 }, { label: "B", estimate: 34, standardError: 1 }];
 * combineEstimates(both).estimate; // => 32
 *
 * Source: Viechtbauer (2005), J. Educ. Behav. Stat. 30, 261-293; Knapp & Hartung (2003), Stat. Med. 22, 2693-2710;
 * Roever et al. (2015), BMC Med. Res. Methodol. 15, 99 (the floor); Higgins et al. (2009), JRSS A 172, 137-159 (prediction).
 */
export function combineEstimates(
  estimates: readonly SummaryEstimate[],
  options: CombineOptions = {},
): CombinedEstimate {
  checkShape(estimates, "estimates", "objects");
  checkShape(options, "options", combineOptionsShape, "invalid-option");
  const { level = 0.95, hartungKnapp = true, floor = true } = options;
  const k = estimates.length;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(k >= 2, "not-estimable", `at least 2 estimates are needed, got ${k}`);
  for (const { label, estimate, standardError } of estimates) {
    check(Number.isFinite(estimate), "invalid-data", `the estimate of ${label} is not a number`);
    check(
      standardError > 0 && Number.isFinite(standardError),
      "invalid-data",
      `the standard error of ${label} must be > 0, got ${standardError}`,
    );
  }
  const y = estimates.map(({ estimate }) => estimate);
  const s2 = estimates.map(({ standardError }) => standardError * standardError);
  const tau2 = remlTau2(y, s2);
  const { mu, total, scatter, weights } = atTau2(y, s2, tau2);
  const factor = hartungKnapp ? scatter / (k - 1) : 1;
  const used = hartungKnapp && floor ? Math.max(1, factor) : factor;
  const standardError = Math.sqrt(used / total);
  const dof = k - 1;
  const half = tQuantile(1 - (1 - level) / 2, dof) * standardError;
  const common = atTau2(y, s2, 0);
  const notes = ["made from summaries of environments, not from plots: it cannot see errors inside them"];
  if (k < FEWEST_FOR_PREDICTION) notes.push(`${k} estimates are too few for an interval for a further environment`);
  if (tau2 === 0) notes.push("the estimates scatter no more than their own errors explain");
  const reach =
    k < FEWEST_FOR_PREDICTION
      ? 0
      : tQuantile(1 - (1 - level) / 2, k - 2) * Math.sqrt(tau2 + standardError * standardError);
  return {
    schema: "standcurve/combined-estimate/1",
    twoStage: true,
    estimate: mu,
    standardError,
    lower: mu - half,
    upper: mu + half,
    dof,
    p: standardError > 0 ? tTwoSided(mu / standardError, dof) : 0,
    tau2,
    tau: Math.sqrt(tau2),
    heterogeneity: {
      q: common.scatter,
      df: k - 1,
      p: chiSquareUpper(common.scatter, k - 1),
      i2Percent: common.scatter > 0 ? Math.max(0, (100 * (common.scatter - (k - 1))) / common.scatter) : 0,
    },
    prediction: k < FEWEST_FOR_PREDICTION ? null : { lower: mu - reach, upper: mu + reach },
    weights: estimates.map(({ label }, i) => ({ label, weight: weights[i] / total })),
    restrictedLogLikelihood: restricted(y, s2, tau2),
    level,
    notes,
  };
}

function atTau2(
  y: readonly number[],
  s2: readonly number[],
  tau2: number,
): { mu: number; total: number; scatter: number; weights: number[] } {
  const weights = s2.map((v) => 1 / (v + tau2));
  const total = weights.reduce((sum, w) => sum + w, 0);
  const mu = weights.reduce((sum, w, i) => sum + w * y[i], 0) / total;
  const scatter = weights.reduce((sum, w, i) => sum + w * square(y[i] - mu), 0);
  return { mu, total, scatter, weights };
}

function restricted(y: readonly number[], s2: readonly number[], tau2: number): number {
  const { total, scatter } = atTau2(y, s2, tau2);
  const logs = s2.reduce((sum, v) => sum + log(v + tau2), 0);
  return -0.5 * ((y.length - 1) * log(2 * Math.PI) + logs + log(total) + scatter);
}

/** Maximum of the restricted likelihood over tau^2 >= 0: brackets on a logarithmic scale, then bisection of the score. */
function remlTau2(y: readonly number[], s2: readonly number[]): number {
  const score = (tau2: number): number => {
    const { mu, total, weights } = atTau2(y, s2, tau2);
    let sum = 0;
    let squares = 0;
    for (let i = 0; i < y.length; i++) {
      sum += weights[i] * weights[i] * square(y[i] - mu) - weights[i];
      squares += weights[i] * weights[i];
    }
    return 0.5 * (sum + squares / total);
  };
  const mean = y.reduce((sum, v) => sum + v, 0) / y.length;
  const spread = y.reduce((sum, v) => sum + square(v - mean), 0) / (y.length - 1);
  const top = 100 * (spread + Math.max(...s2));
  const bottom = 1e-12 * Math.min(...s2);
  const points = [0, ...Array.from({ length: 240 }, (_, i) => bottom * pow(top / bottom, i / 239))];
  let best = 0;
  let bestValue = restricted(y, s2, 0);
  for (let i = 0; i + 1 < points.length; i++) {
    if (!(score(points[i]) > 0 && score(points[i + 1]) <= 0)) continue;
    let low = points[i];
    let high = points[i + 1];
    for (let step = 0; step < 200 && high - low > 1e-16 * high; step++) {
      const middle = 0.5 * (low + high);
      if (score(middle) > 0) low = middle;
      else high = middle;
    }
    const value = restricted(y, s2, 0.5 * (low + high));
    if (value > bestValue) {
      best = 0.5 * (low + high);
      bestValue = value;
    }
  }
  return best;
}
