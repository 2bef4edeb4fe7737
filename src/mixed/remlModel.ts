import { log, square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { factorCholesky, solveLower, solveLowerTransposed } from "../numeric/cholesky.ts";
import { type Crossproducts, crossproducts } from "./crossproducts.ts";
import { optimiseReml, type RemlOptimum } from "./optimiseReml.ts";
import { layoutTerm, type RandomTerm, type TermLayout } from "./randomTerm.ts";

/** A fitted linear mixed model with the machinery that later questions need; not a result for users. */
export interface RemlModel {
  readonly data: Crossproducts;
  readonly optimum: RemlOptimum;
  /** REML or ML log-likelihood, with prior weights and column scales accounted for. */
  readonly logLikelihood: number;
  readonly sigma2: number;
  /** Coefficients in the units of the columns given, [p]. */
  readonly coefficients: Float64Array;
  /** Their covariance matrix, [p * p]. */
  readonly vcov: Float64Array;
  /** Factor by which each fixed column was divided before the computation, [p]. */
  readonly columnScale: Float64Array;
  readonly reml: boolean;
}

export interface SolveRemlInput {
  readonly y: ArrayLike<number>;
  /** Fixed-effect columns, each [n]. */
  readonly x: readonly ArrayLike<number>[];
  readonly names: readonly string[];
  readonly terms: readonly RandomTerm[];
  /** Prior weights, Var(e_i) = sigma^2 / w_i; default 1. */
  readonly weights?: ArrayLike<number>;
  readonly method?: "REML" | "ML";
  readonly starts?: readonly number[];
  /** Cholesky factors of a nearby fit, to start from. */
  readonly warm?: readonly Float64Array[];
}

/**
 * Fits a linear mixed model and keeps everything needed for tests, degrees of freedom and predictions.
 *
 * @throws AnalysisError `length-mismatch`, `invalid-data`; `not-estimable` when the fixed columns are linearly
 * dependent, nothing is left for the residual, or the data are fitted without error
 */
export function solveReml(input: SolveRemlInput): RemlModel {
  const n = input.y.length;
  const p = input.x.length;
  const reml = input.method !== "ML";
  check(p >= 1, "invalid-data", "a model needs at least one fixed-effect column");
  for (const column of input.x) {
    check(column.length === n, "length-mismatch", `y has ${n} values but a fixed-effect column has ${column.length}`);
  }
  check(n > p, "not-estimable", `${p} fixed effects need more than ${p} observations, got ${n}`);
  const rootWeight = rootWeights(input.weights, n);
  const x = input.x.map((column) => weighted(column, rootWeight));
  const raw = weighted(input.y, rootWeight);
  const terms = input.terms.map((term) => weightedTerm(term, n, rootWeight));

  const columnScale = Float64Array.from(x, (column) => {
    let sum = 0;
    for (let i = 0; i < n; i++) sum += column[i] * column[i];
    return Math.sqrt(sum / n) || 1;
  });
  x.forEach((column, j) => {
    for (let i = 0; i < n; i++) column[i] /= columnScale[j];
  });
  // REML does not change when a fixed combination is taken from y; removing the least-squares fit saves digits.
  const { coefficients: start, residuals, total } = leastSquares(x, raw, input.names);
  let rss = 0;
  for (let i = 0; i < n; i++) rss += residuals[i] * residuals[i];
  check(
    rss > 1e-22 * total,
    "not-estimable",
    "the fixed effects reproduce the response exactly: there is no residual variation to analyse",
  );

  const data = crossproducts(x, residuals, terms);
  const optimum = optimiseReml(data, reml, input.starts, input.warm);
  check(
    optimum !== null,
    "not-estimable",
    "the restricted likelihood cannot be evaluated: the random terms fit the data without error",
  );
  const { point } = optimum;
  let logScale = 0;
  for (let j = 0; j < p; j++) logScale += log(columnScale[j]);
  let logWeight = 0;
  for (let i = 0; i < n; i++) logWeight += log(rootWeight?.[i] ?? 1);
  const coefficients = point.beta.map((b, j) => (b + start[j]) / columnScale[j]);
  const vcov = point.c.map((v, i) => (v * point.sigma2) / (columnScale[Math.floor(i / p)] * columnScale[i % p]));
  const logLikelihood = point.logLikelihood - (reml ? logScale : 0) + logWeight;
  return { data, optimum, logLikelihood, sigma2: point.sigma2, coefficients, vcov, columnScale, reml };
}

function rootWeights(weights: ArrayLike<number> | undefined, n: number): Float64Array | null {
  if (weights === undefined) return null;
  check(weights.length === n, "length-mismatch", `y has ${n} values but weights has ${weights.length}`);
  const out = Float64Array.from(weights, Math.sqrt);
  check(
    out.every((w) => w > 0 && Number.isFinite(w)),
    "invalid-data",
    "weights must be positive and finite",
  );
  return out.every((w) => w === 1) ? null : out;
}

function weighted(values: ArrayLike<number>, rootWeight: Float64Array | null): Float64Array {
  const out = Float64Array.from(values);
  check(out.every(Number.isFinite), "invalid-data", "values of a mixed model must be finite numbers");
  if (rootWeight !== null) for (let i = 0; i < out.length; i++) out[i] *= rootWeight[i];
  return out;
}

function weightedTerm(term: RandomTerm, n: number, rootWeight: Float64Array | null): TermLayout {
  check(
    term.group.length === n,
    "length-mismatch",
    `y has ${n} values but the groups of ${term.name} ${term.group.length}`,
  );
  const layout = layoutTerm(term, n);
  for (const column of layout.columns) {
    check(
      column.length === n,
      "length-mismatch",
      `y has ${n} values but a column of ${term.name} has ${column.length}`,
    );
  }
  if (rootWeight === null) return layout;
  return { ...layout, columns: layout.columns.map((column) => column.map((v, i) => v * rootWeight[i])) };
}

/** Ordinary least squares with a check of rank that names the offending column. */
function leastSquares(
  x: readonly Float64Array[],
  y: Float64Array,
  names: readonly string[],
): { coefficients: Float64Array; residuals: Float64Array; total: number } {
  const p = x.length;
  const n = y.length;
  const gram = new Float64Array(p * p);
  const right = new Float64Array(p);
  let total = 0;
  const at = new Int32Array(p);
  for (let i = 0; i < n; i++) {
    let nonzero = 0;
    for (let j = 0; j < p; j++) if (x[j][i] !== 0) at[nonzero++] = j;
    total += y[i] * y[i];
    for (let a = 0; a < nonzero; a++) {
      const value = x[at[a]][i];
      right[at[a]] += value * y[i];
      for (let b = 0; b <= a; b++) gram[at[a] * p + at[b]] += value * x[at[b]][i];
    }
  }
  const factor = gram.slice();
  if (factorCholesky(factor, p) && smallestPivot(factor, p) > 1e-6) {
    solveLower(factor, p, right, 1);
    solveLowerTransposed(factor, p, right, 1);
    const residuals = y.slice();
    for (let c = 0; c < p; c++) {
      if (right[c] !== 0) for (let i = 0; i < n; i++) residuals[i] -= right[c] * x[c][i];
    }
    return { coefficients: right, residuals, total };
  }
  for (let j = 1; j <= p; j++) {
    const leading = new Float64Array(j * j);
    for (let a = 0; a < j; a++) for (let b = 0; b <= a; b++) leading[a * j + b] = gram[a * p + b];
    const independent = factorCholesky(leading, j) && smallestPivot(leading, j) > 1e-6;
    check(
      independent,
      "not-estimable",
      `the fixed effect "${names[j - 1] ?? j}" is a linear combination of the others`,
    );
  }
  check(false, "not-estimable", "the fixed effects are linearly dependent");
}

/** Smallest diagonal of L relative to the column's own length: 0 means dependent, 1 orthogonal. */
function smallestPivot(l: Float64Array, n: number): number {
  let least = Number.POSITIVE_INFINITY;
  for (let i = 0; i < n; i++) {
    let length = 0;
    for (let k = 0; k <= i; k++) length += square(l[i * n + k]);
    least = Math.min(least, l[i * n + i] / Math.sqrt(length));
  }
  return least;
}
