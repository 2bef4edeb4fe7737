import { checkShape, type Shape } from "../core/checkShape.ts";
import { type ConditionalModes, conditionalModes } from "./conditionalModes.ts";
import { kenwardRoger } from "./kenwardRoger.ts";
import type { RandomTerm } from "./randomTerm.ts";
import { type RemlModel, solveReml } from "./remlModel.ts";
import { satterthwaite } from "./satterthwaite.ts";

/** How far to trust the numbers of a mixed-model fit. */
export type RemlStatus = "converged" | "singular" | "iteration-limit";

/** One variance or covariance. */
export interface VarianceComponent {
  /** Name of the random term; "residual" for the plots. */
  readonly term: string;
  readonly column: string;
  /** Second column of a covariance; null for a variance. */
  readonly withColumn: string | null;
  /** Variance or covariance, in squared yield units (per squared unit of the columns). */
  readonly value: number;
  /** Standard deviation of a variance, correlation of a covariance; null where it does not exist. */
  readonly sdOrCorrelation: number | null;
}

export interface RemlFitData {
  /** Response, [n]. */
  readonly y: ArrayLike<number>;
  /** Fixed-effect columns, each [n], linearly independent; a column of ones is not added. */
  readonly x: readonly ArrayLike<number>[];
  /** Random terms; nested ones are cheap, crossed ones (few levels) ride along with the fixed effects. */
  readonly random: readonly RandomTerm[];
  /** Prior weights, Var(e_i) = sigma^2 / w_i; default 1. */
  readonly weight?: ArrayLike<number>;
}

/** What `RemlFitData` must look like. */
export const remlFitDataShape: { readonly [property: string]: Shape } = {
  y: "numbers",
  x: "list",
  random: "list",
  weight: "numbers?",
};

export interface RemlFitOptions {
  /** Names of the fixed columns; default "b1", "b2", ... */
  readonly names?: readonly string[];
  /** Default "REML". */
  readonly method?: "REML" | "ML";
  /** Degrees of freedom and, for Kenward-Roger, widened standard errors; default "satterthwaite". */
  readonly df?: "satterthwaite" | "kenward-roger";
}

/** What `RemlFitOptions` must look like. */
export const remlFitOptionsShape: { readonly [property: string]: Shape } = {
  names: "labels?",
  method: "text?",
  df: "text?",
};

/** A linear mixed model as plain data. */
export interface RemlFit {
  readonly status: RemlStatus;
  /** What the status means here, in plain words. */
  readonly message: string;
  readonly method: "REML" | "ML";
  /** In the convention of R's lme4 and nlme. */
  readonly logLikelihood: number;
  readonly nobs: number;
  readonly names: readonly string[];
  readonly coefficients: readonly number[];
  readonly standardErrors: readonly number[];
  /** Degrees of freedom of each coefficient's t; null when they cannot be worked out. */
  readonly dof: readonly (number | null)[];
  readonly dofMethod: "satterthwaite" | "kenward-roger";
  readonly vcov: readonly (readonly number[])[];
  readonly varianceComponents: readonly VarianceComponent[];
  readonly sigma: number;
  readonly modes: readonly ConditionalModes[];
  readonly iterations: number;
}

/**
 * Fits a linear mixed model y = X beta + Z u + e by restricted maximum likelihood.
 *
 * logLik = -1/2 [(n - p) log(2 pi) + log|V| + log|X'V^-1 X| + y'P y]. Grouping factors may be nested in each other to any
 * depth; what is not nested in the main one is handled as a dense border, so keep crossed factors to some hundreds of
 * columns. Cost is linear in plots and in environments.
 *
 * @throws AnalysisError `length-mismatch`, `invalid-data`, `not-estimable`
 * @example
 * const fit = remlFit({ y: [3, 5, 4, 8, 9, 11], x: [[1, 1, 1, 1, 1, 1]], random: [{ name: "field", group: [1, 1, 1, 2, 2, 2] }] });
 * fit.coefficients[0].toFixed(4); // => "6.6667"
 *
 * Source: Patterson & Thompson (1971), Biometrika 58, 545-554. Oracle: test/oracle/mixed/mixedDense.R.
 */
export function remlFit(data: RemlFitData, options: RemlFitOptions = {}): RemlFit {
  checkShape(data, "data", remlFitDataShape);
  checkShape(options, "options", remlFitOptionsShape, "invalid-option");
  for (const column of data.x) checkShape(column, "x", "numbers");
  for (const term of data.random) checkShape(term, "random", { name: "text", group: "labels" });
  const names = options.names ?? data.x.map((_, j) => `b${j + 1}`);
  const model = solveReml({
    y: data.y,
    x: data.x,
    names,
    terms: data.random,
    ...(data.weight === undefined ? {} : { weights: data.weight }),
    ...(options.method === undefined ? {} : { method: options.method }),
  });
  return describeModel(model, names, options.df ?? "satterthwaite");
}

/** The fitted model as plain data. */
export function describeModel(
  model: RemlModel,
  names: readonly string[],
  df: "satterthwaite" | "kenward-roger",
): RemlFit {
  const p = names.length;
  const small = (df === "kenward-roger" ? kenwardRoger(model) : null) ?? satterthwaite(model);
  const unit = (j: number): number[] => Array.from({ length: p }, (_, i) => (i === j ? 1 : 0));
  const { status, message } = remlStatus(model);
  return {
    status,
    message,
    method: model.reml ? "REML" : "ML",
    logLikelihood: model.logLikelihood,
    nobs: model.data.n,
    names,
    coefficients: [...model.coefficients],
    standardErrors: Array.from({ length: p }, (_, j) => Math.sqrt(small.vcov[j * (p + 1)])),
    dof: Array.from({ length: p }, (_, j) => small.df(unit(j))),
    dofMethod: small.method,
    vcov: Array.from({ length: p }, (_, i) => [...small.vcov.subarray(i * p, (i + 1) * p)]),
    varianceComponents: varianceComponents(model),
    sigma: Math.sqrt(model.sigma2),
    modes: conditionalModes(model),
    iterations: model.optimum.iterations,
  };
}

/** Status of a fit, with the singular terms named. */
export function remlStatus(model: RemlModel): { status: RemlStatus; message: string } {
  const { optimum, data } = model;
  if (!optimum.converged) {
    return {
      status: "iteration-limit",
      message: "the search for the variances stopped before it settled; do not use these numbers",
    };
  }
  if (optimum.singularTerms.length === 0)
    return { status: "converged", message: "the variances are at a proper maximum of the likelihood" };
  const words = optimum.singularTerms.map((t) => {
    const { name, columnNames, width } = data.terms[t];
    const gamma = optimum.point.gamma[t];
    const zero = columnNames.filter((_, a) => gamma[a * (width + 1)] <= 1e-10);
    if (zero.length === 0) return `the random coefficients of ${name} are perfectly correlated`;
    return `no variation of ${zero.join(" and ")} between levels of ${name} can be seen beyond the scatter of the plots`;
  });
  return { status: "singular", message: words.join("; ") };
}

/** Variances and covariances in the units of the columns, terms in model order, residual last. */
export function varianceComponents(model: RemlModel): VarianceComponent[] {
  const { data, optimum, sigma2 } = model;
  const out: VarianceComponent[] = data.terms.flatMap(({ name, columnNames, width, pairs }, t) =>
    pairs.map(([a, b]) => {
      const gamma = optimum.point.gamma[t];
      const value = sigma2 * gamma[a * width + b];
      const scale = sigma2 * Math.sqrt(gamma[a * (width + 1)] * gamma[b * (width + 1)]);
      return {
        term: name,
        column: columnNames[b],
        withColumn: a === b ? null : columnNames[a],
        value,
        sdOrCorrelation: a === b ? Math.sqrt(value) : scale > 0 ? value / scale : null,
      };
    }),
  );
  const sigma = Math.sqrt(sigma2);
  out.push({ term: "residual", column: "intercept", withColumn: null, value: sigma2, sdOrCorrelation: sigma });
  return out;
}
