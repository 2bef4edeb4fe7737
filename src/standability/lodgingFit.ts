import type { Separation } from "../fit/fitBinomialSeparation.ts";

/** How the spread of counts between plots of one density is treated. */
export type DispersionModel = "binomial" | "quasi" | "beta-binomial";

/** Counts of lodged plants per plot, as given, in parallel arrays of length n. */
export interface LodgingData {
  readonly density: readonly number[];
  /** Lodged plants, or the lodged share (0 to 1) when `examined` is null. */
  readonly lodged: readonly number[];
  /** Plants looked at; null when the data are shares without counts. */
  readonly examined: readonly number[] | null;
  /** Label of the block or environment of each plot. */
  readonly block: readonly string[];
}

/** Lodged share against density: link(p) = block level + slope * density. JSON-safe; made by `fitLodging`. */
export interface LodgingFit {
  readonly schema: "standcurve/lodging-fit/1";
  /**
   * `converged`; `separation`: the ordinary estimate is infinite, so the bias-reduced one is given; `none-lodged` and
   * `all-lodged`: no curve, see `standabilityLimit`; `singular`: fewer than two densities inside every block;
   * `iteration-limit`: do not use.
   */
  readonly status: "converged" | "separation" | "none-lodged" | "all-lodged" | "iteration-limit" | "singular";
  readonly link: "logit" | "cloglog";
  readonly dispersionModel: DispersionModel;
  readonly bias: "none" | "firth";
  /** Which plots stand apart, when the status is `separation`. */
  readonly separation: Separation | null;
  /** On the link scale: level of the average block (mean of the block levels) at density 0, and change per unit of density. */
  readonly coefficients: { readonly intercept: number | null; readonly slope: number | null };
  readonly standardErrors: { readonly intercept: number | null; readonly slope: number | null };
  /** Covariance of (intercept, slope), dispersion included. */
  readonly vcov: readonly (readonly number[])[] | null;
  /** Level of each block minus the average block, link scale. */
  readonly blockEffects: readonly { readonly block: string; readonly effect: number }[];
  /** Pearson chi-square / dofResidual: 1 for plants that fall independently; null without residual degrees of freedom. */
  readonly dispersion: number | null;
  /** Factor by which the binomial variances are multiplied: the dispersion for `quasi`, else 1. */
  readonly scale: number;
  /** Correlation between plants of one plot, at the mean plot size; null when it cannot be told. */
  readonly icc: { readonly value: number; readonly method: "moment" | "maximum-likelihood" } | null;
  readonly deviance: number | null;
  readonly pearson: number | null;
  readonly nobs: number;
  readonly dofResidual: number;
  /** With the binomial coefficients; null for `quasi`, which has no likelihood. */
  readonly logLikelihood: number | null;
  /** Is there any change with density? F (dispersion estimated) or chi-square on the drop in deviance. */
  readonly slopeTest: {
    readonly statistic: number;
    readonly dof1: number;
    readonly dof2: number | null;
    readonly pValue: number;
  } | null;
  /** Fitted lodged share per plot. */
  readonly fitted: readonly number[];
  /** Plain statements about what was done and what to be careful with. */
  readonly notes: readonly string[];
  readonly data: LodgingData;
  /**
   * The same fit on z = (density - centre) / spread with one level per block, in the order of `blocks`, then the slope,
   * then (beta-binomial) theta; vcov without `scale`. Later steps use it because it loses no digits.
   */
  readonly working: {
    readonly centre: number;
    readonly spread: number;
    readonly blocks: readonly string[];
    readonly theta: readonly number[];
    readonly vcov: readonly (readonly number[])[];
  } | null;
}
