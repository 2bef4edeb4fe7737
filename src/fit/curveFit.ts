import { log } from "../core/elementary.ts";
import type { Family } from "../curves/family.ts";

/**
 * How the solver ended. `converged`: the least-squares answer, exact or polished. `not-estimable`: the design cannot carry
 * this family (too few densities or plots). `singular`: density is confounded with blocks. `iteration-limit`: a smooth
 * family's iteration ended early. Only `converged` fits are used downstream.
 */
export type FitStatus = "converged" | "not-estimable" | "singular" | "iteration-limit";

/**
 * When the best fit of a family is a simpler curve. `join-not-identified`: only the lowest density lies below the plateau,
 * so every join between the two lowest densities fits alike (the higher is given by convention). `join-beyond-range`: the
 * join lies above the highest density; inside the range the curve is the plain quadratic. `join-at-highest`: the join is the
 * highest density; the curve is the straight line. `straight-line`, `flat`, `step`: the sum of squares has no minimum, only
 * this limit, so some coefficients do not exist (null).
 */
export type FitLimit =
  | "join-not-identified"
  | "join-beyond-range"
  | "join-at-highest"
  | "straight-line"
  | "flat"
  | "step";

/** One fitted curve: plain data that survives `JSON.stringify`. */
export interface CurveFit {
  readonly schema: "standcurve/curve-fit/1";
  readonly family: Family;
  readonly status: FitStatus;
  /** Why there is no fit, or what the limit means, in words; null when there is nothing to say. */
  readonly reason: string | null;
  readonly limit: FitLimit | null;
  /** Estimates by name; null where the coefficient does not exist in this limit. Units: those of the data. */
  readonly coefficients: Readonly<Record<string, number | null>>;
  /** Standard errors by name; null where they do not exist (join on a tested density, no residual degrees of freedom). */
  readonly standardErrors: Readonly<Record<string, number | null>>;
  /** Covariance matrix in the order of `coefficients`; null where the standard errors are. */
  readonly vcov: readonly (readonly number[])[] | null;
  /** The curve to draw and evaluate: the family itself or, in a limit, the simpler family it equals. */
  readonly curve: { readonly family: Family; readonly theta: readonly number[] } | null;
  /** Deviation of each block from the average block, in yield units. */
  readonly blockEffects: readonly { readonly block: string; readonly effect: number }[];
  readonly nobs: number;
  /** Parameters of the mean: blocks + shape (the join included). */
  readonly dof: number;
  readonly dofResidual: number;
  /** Weighted residual sum of squares, yield units squared. */
  readonly rss: number | null;
  /** Residual standard deviation, yield units; null without residual degrees of freedom. */
  readonly sigma: number | null;
  /** Gaussian log-likelihood at the maximum (RSS / n for the variance); null when the fit is perfect. */
  readonly logLikelihood: number | null;
  /** Information criteria; every mean parameter and the variance are counted. AICc is null when n - dof - 2 <= 0. */
  readonly aic: number | null;
  readonly aicc: number | null;
  readonly bic: number | null;
  /** Tested range of the density. */
  readonly range: readonly [number, number];
  /** Number of distinct densities. */
  readonly levels: number;
  /** Other local minima of the join's sum of squares, best first (plateau families). */
  readonly localMinima?: readonly { readonly join: number; readonly rss: number }[];
}

/** The figures that follow from n, the parameter count, the residual sum of squares and the weights. */
export function fitStatistics(
  nobs: number,
  dof: number,
  rss: number,
  weight: ArrayLike<number>,
): Pick<CurveFit, "nobs" | "dof" | "dofResidual" | "rss" | "sigma" | "logLikelihood" | "aic" | "aicc" | "bic"> {
  const dofResidual = nobs - dof;
  let logWeights = 0;
  for (let i = 0; i < weight.length; i++) logWeights += log(weight[i]);
  const logLikelihood = rss > 0 ? (logWeights - nobs * (log((2 * Math.PI * rss) / nobs) + 1)) / 2 : null;
  const k = dof + 1;
  const aic = logLikelihood === null ? null : 2 * k - 2 * logLikelihood;
  const room = nobs - k - 1;
  return {
    nobs,
    dof,
    dofResidual,
    rss,
    sigma: dofResidual > 0 ? Math.sqrt(rss / dofResidual) : null,
    logLikelihood,
    aic,
    aicc: aic !== null && room > 0 ? aic + (2 * k * (k + 1)) / room : null,
    bic: logLikelihood === null ? null : k * log(nobs) - 2 * logLikelihood,
  };
}
