import type { Shape } from "../core/checkShape.ts";
import type { ConditionalModes } from "./conditionalModes.ts";
import type { RemlStatus, VarianceComponent } from "./remlFit.ts";

/** Response families a mixed model can carry. */
export type MixedCurve = "linear" | "quadratic" | "linear-plateau" | "quadratic-plateau";

/** Part of an environment's curve that may vary at random: its level, its slope, its curvature at the centre density. */
export type RandomPart = "intercept" | "slope" | "curvature";

/** Plots of several environments in parallel arrays of equal length n. */
export interface MixedData {
  /** Plants or seeds per area, [n]. */
  readonly density: ArrayLike<number>;
  /** Grain per area, [n]. */
  readonly yield: ArrayLike<number>;
  /** Environment (site x year) of each plot, [n]. */
  readonly environment: ArrayLike<string | number>;
  /** Block within its environment, [n]; the same label in two environments means two blocks. */
  readonly block?: ArrayLike<string | number>;
  /** Hybrid of each plot, [n]. */
  readonly hybrid?: ArrayLike<string | number>;
  /** Main plot within its block, [n], when hybrids (or densities) were randomised on larger plots. */
  readonly mainPlot?: ArrayLike<string | number>;
  /** Relative precision of each plot, [n], > 0; default 1. */
  readonly weight?: ArrayLike<number>;
}

/** What `MixedData` must look like. */
export const mixedDataShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  yield: "numbers",
  environment: "labels",
  block: "labels?",
  hybrid: "labels?",
  mainPlot: "labels?",
  weight: "numbers?",
};

export interface MixedOptions {
  /** Default "quadratic". */
  readonly curve?: MixedCurve;
  /**
   * What varies at random between environments. Default: all parts of the curve from 5 environments on, the intercept
   * alone below. A list, such as ["intercept"], is taken as given; one name means that part and all before it.
   */
  readonly random?: RandomPart | readonly RandomPart[];
  /** `unstructured` (default) estimates the correlations of the random parts, `diagonal` sets them to zero. */
  readonly covariance?: "unstructured" | "diagonal";
  /**
   * How hybrids enter. `curves`: each its own fixed curve; `level`: a fixed shift of one common curve; `random`: curves
   * drawn around a mean curve (shrunken); `pooled`: ignored. Default: `curves` below 10 hybrids, `random` from 10 on.
   */
  readonly hybrids?: HybridEffect;
  /**
   * What varies at random between the environments of one hybrid, beyond what all hybrids share; independent parts.
   * Default: the intercept when hybrids repeat within environments, else nothing.
   */
  readonly hybridByEnvironment?: readonly RandomPart[];
  /** What to do with variances that cannot be told from zero; default "reduce". */
  readonly onSingular?: "reduce" | "keep";
  /** Degrees of freedom; `kenward-roger` also widens the standard errors. Default "satterthwaite". */
  readonly df?: "satterthwaite" | "kenward-roger";
  /** z = (density - centre) / scale; default: middle and half width of the tested range. */
  readonly scaling?: Scaling;
}

/** What `MixedOptions` must look like. */
export const mixedOptionsShape: { readonly [property: string]: Shape } = {
  curve: "text?",
  random: "any?",
  covariance: "text?",
  hybrids: "any?",
  hybridByEnvironment: "list?",
  onSingular: "text?",
  df: "text?",
  scaling: "object?",
};

export type HybridEffect = "curves" | "level" | "random" | "pooled";

export interface Scaling {
  readonly centre: number;
  readonly scale: number;
}

/** How much worse a plateau curve fits with another join, at the fitted variances. */
export interface JoinProfile {
  /** Joins, ascending, density units, from the second tested density (below it every join fits alike) to the last. */
  readonly density: readonly number[];
  /** Rise of the generalised sum of squares over sigma^2: t^2 of the join being there. */
  readonly excess: readonly number[];
  /** Best k at each join, on the z scale. */
  readonly rise: readonly number[];
}

/** One model on the way from the one asked for to the one reported. */
export interface ReductionStep {
  /** What varies at random, in words. */
  readonly random: string;
  readonly logLikelihood: number;
  /** Estimates of this step. */
  readonly varianceComponents: readonly VarianceComponent[];
  /** Why it was left, or that it was kept. */
  readonly outcome: string;
}

/** Expected curve of one hybrid (or of all, when there is one curve) over environments, on the z scale. */
export interface MeanCurve {
  /** Null when the curve is for all hybrids. */
  readonly hybrid: string | null;
  /** Coefficients of 1, z, z^2 (or of 1 and the rise below the join), [w]. */
  readonly coefficients: readonly number[];
  readonly vcov: readonly (readonly number[])[];
  /** Derivative of `vcov` by each variance parameter of `componentCovariance`, [k][w][w]. */
  readonly vcovSlopes: readonly (readonly (readonly number[])[])[];
  readonly nobs: number;
}

/** What an environment adds to the mean curve. */
export interface EnvironmentCurve {
  readonly environment: string;
  /** Predicted deviations of the coefficients on the z scale, [w]; zero where a part does not vary. */
  readonly modes: readonly number[];
  /** Var(u^ - u), [w][w]. */
  readonly variance: readonly (readonly number[])[];
  /** Cov(beta^, u^ - u) for each mean curve, [curves][w][w]. */
  readonly withMean: readonly (readonly (readonly number[])[])[];
  readonly nobs: number;
}

/** A mixed-model response as plain data. */
export interface MixedResponseFit {
  readonly schema: "standcurve/mixed-response/1";
  /** `reduced`: converged after random parts that cannot be told from zero were left out (see `path`). */
  readonly status: RemlStatus | "reduced";
  readonly message: string;
  readonly notes: readonly string[];
  readonly path: readonly ReductionStep[];
  readonly curve: MixedCurve;
  readonly hybrids: HybridEffect;
  readonly random: readonly RandomPart[];
  /** REML, for coefficients of 1, density, density^2 in density units, as R's lme4 reports it. */
  readonly logLikelihood: number;
  readonly nobs: number;
  /** Estimates by name, in density units ("H1: linear" when every hybrid has its own curve). */
  readonly coefficients: Readonly<Record<string, number>>;
  readonly standardErrors: Readonly<Record<string, number>>;
  /** Degrees of freedom of each coefficient's t; null when they cannot be worked out. */
  readonly dof: Readonly<Record<string, number | null>>;
  readonly dofMethod: "satterthwaite" | "kenward-roger";
  /** Covariance matrix in the order of `coefficients`. */
  readonly vcov: readonly (readonly number[])[];
  /** Variances of the random parts on the z scale, and of blocks and plots, in squared yield units. */
  readonly varianceComponents: readonly VarianceComponent[];
  readonly sigma: number;
  readonly scaling: Scaling;
  /** Lowest and highest tested density. */
  readonly densityRange: readonly [number, number];
  /** Distinct tested densities. */
  readonly densities: readonly number[];
  /** Join of a plateau curve, density units; null for the others. */
  readonly join: number | null;
  /** Profile of the join of a plateau curve; null for the others. */
  readonly joinProfile: JoinProfile | null;
  readonly curves: readonly MeanCurve[];
  readonly environments: readonly EnvironmentCurve[];
  /** Covariance of an environment's coefficients on the z scale, [w][w]. */
  readonly environmentCovariance: readonly (readonly number[])[];
  /** Which variance parameters `componentCovariance` and `vcovSlopes` speak of; `residual` is last. */
  readonly componentNames: readonly ComponentName[];
  /** Covariance of the estimates of those parameters (observed information); null when it is not positive definite. */
  readonly componentCovariance: readonly (readonly number[])[] | null;
  /** Conditional modes of every random term. */
  readonly modes: readonly ConditionalModes[];
}

export interface ComponentName {
  readonly term: string;
  readonly column: number;
  readonly withColumn: number;
}
