import { check } from "../core/errors.ts";
import { dot2 } from "./doubleDouble.ts";
import {
  applyQ,
  applyTranspose,
  type Factorisation,
  factorise,
  inverseCrossproduct,
  solveLower,
  solveUpper,
} from "./householder.ts";

export interface LeastSquaresOptions {
  /** Relative precision of each row, > 0; shape [n]; default 1. */
  readonly weight?: ArrayLike<number> | null;
  /** A column counts when the others leave more than this share of it; default 1e-13. */
  readonly tolerance?: number;
}

/** Solution of a linear least-squares problem. */
export interface LeastSquaresFit {
  /** `singular`: some columns repeat others; those get coefficient 0 and there are no standard errors. */
  readonly status: "converged" | "singular";
  readonly rank: number;
  /** Columns left out because they repeat others. */
  readonly dropped: readonly number[];
  /** Shape [p]. */
  readonly coef: Float64Array;
  /** Shape [p]; null when singular or without residual degrees of freedom. */
  readonly stderror: Float64Array | null;
  /** Covariance of `coef`, shape [p][p]; null as `stderror`. */
  readonly vcov: readonly Float64Array[] | null;
  /** Weighted residual sum of squares. */
  readonly rss: number;
  readonly dofResidual: number;
  /** Residual standard deviation, of a row with weight 1; null without residual degrees of freedom. */
  readonly sigma: number | null;
  /** y - X coef, unweighted; shape [n]. */
  readonly residuals: Float64Array;
  /** Diagonal of the hat matrix, in [0, 1]; shape [n]. */
  readonly leverages: Float64Array;
}

/**
 * Weighted linear least squares by Householder QR with column scaling, pivoting and iterative refinement.
 *
 * Minimises sum_i w_i (y_i - sum_j b_j x_ij)^2. The refinement computes the residuals with doubled precision, so that
 * ill-conditioned designs (polynomials in raw units) come out nearly as well as the rounded data allow.
 *
 * @param columns - design by columns, shape [p][n]; include a column of ones for an intercept
 * @param y - response, shape [n], n >= p
 * @throws AnalysisError `length-mismatch`, `invalid-data` (not finite, no column, weight not > 0) or `not-estimable` (n < p)
 * @example
 * [...leastSquares([[1, 1, 1], [0, 1, 2]], [1, 3, 5]).coef]; // => [1, 2]
 *
 * Source: Bjorck (1996), Numerical Methods for Least Squares Problems, sections 2.4 and 2.9. Oracle: NIST StRD linear sets.
 */
export function leastSquares(
  columns: readonly ArrayLike<number>[],
  y: ArrayLike<number>,
  { weight = null, tolerance = 1e-13 }: LeastSquaresOptions = {},
): LeastSquaresFit {
  const p = columns.length;
  const n = y.length;
  checkDesign(columns, y, weight);
  check(n >= p, "not-estimable", `${p} coefficients need at least ${p} rows, got ${n}`);
  const root = weight ? Float64Array.from(weight, Math.sqrt) : null;
  const rooted = (values: ArrayLike<number>): Float64Array =>
    Float64Array.from(values, (v, i) => (root ? v * root[i] : v));
  const design = columns.map(rooted);
  const response = rooted(y);
  const f = factorise(design, tolerance);
  const kept = Array.from(f.pivot.subarray(0, f.rank));
  const { coef, residuals } = refine(f, kept, design, response);
  const rss = dot2(residuals, residuals);
  const dofResidual = n - f.rank;
  const sigma = dofResidual > 0 ? Math.sqrt(rss / dofResidual) : null;
  const vcov =
    f.rank === p && sigma !== null ? inverseCrossproduct(f).map((row) => row.map((v) => v * sigma * sigma)) : null;
  return {
    status: f.rank === p ? "converged" : "singular",
    rank: f.rank,
    dropped: Array.from(f.pivot.subarray(f.rank)).sort((a, b) => a - b),
    coef,
    stderror: vcov ? Float64Array.from(vcov, (row, j) => Math.sqrt(row[j])) : null,
    vcov,
    rss,
    dofResidual,
    sigma,
    residuals: root ? residuals.map((r, i) => r / root[i]) : residuals,
    leverages: leverages(f),
  };
}

function checkDesign(
  columns: readonly ArrayLike<number>[],
  y: ArrayLike<number>,
  weight: ArrayLike<number> | null,
): void {
  check(columns.length > 0, "invalid-data", "the design needs at least one column");
  const n = y.length;
  check(n > 0, "invalid-data", "y is empty");
  for (const [j, column] of columns.entries()) {
    check(column.length === n, "length-mismatch", `y has ${n} values but column ${j} has ${column.length}`);
  }
  for (const [name, values] of [...columns.map((c, j) => [`column ${j}`, c] as const), ["y", y] as const]) {
    for (let i = 0; i < n; i++)
      check(Number.isFinite(values[i]), "invalid-data", `${name} must be finite, got ${values[i]} in row ${i}`);
  }
  if (!weight) return;
  check(weight.length === n, "length-mismatch", `y has ${n} values but weight has ${weight.length}`);
  for (let i = 0; i < n; i++) {
    check(
      weight[i] > 0 && weight[i] < Infinity,
      "invalid-data",
      `weights must be finite and > 0, got ${weight[i]} in row ${i}`,
    );
  }
}

/** Solves the augmented system r + X b = y, X'r = 0 and corrects it with residuals of doubled precision. */
function refine(
  f: Factorisation,
  kept: readonly number[],
  design: readonly Float64Array[],
  y: Float64Array,
): { coef: Float64Array; residuals: Float64Array } {
  const n = y.length;
  const coef = new Float64Array(f.p);
  const row = new Float64Array(kept.length + 1);
  const used = new Float64Array(kept.length + 1);
  let residuals = new Float64Array(n);
  let previous = Infinity;
  for (let step = 0; step < 8; step++) {
    // what the two equations still miss
    for (let k = 0; k < kept.length; k++) used[k] = -coef[kept[k]];
    used[kept.length] = -1;
    const missing = new Float64Array(n);
    for (let i = 0; i < n; i++) {
      for (let k = 0; k < kept.length; k++) row[k] = design[kept[k]][i];
      row[kept.length] = residuals[i];
      missing[i] = dot2(row, used, y[i]);
    }
    const across = Float64Array.from(kept, (j) => -dot2(design[j], residuals) * f.scale[j]);
    solveLower(f, across);
    applyTranspose(f, missing);
    const change = new Float64Array(kept.length);
    for (let k = 0; k < kept.length; k++) {
      change[k] = missing[k] - across[k];
      missing[k] = across[k];
    }
    solveUpper(f, change);
    applyQ(f, missing);
    let size = 0;
    const next = Float64Array.from(coef);
    for (let k = 0; k < kept.length; k++) {
      next[kept[k]] += change[k] * f.scale[kept[k]];
      size = Math.max(size, Math.abs(change[k] * f.scale[kept[k]]) / (Math.abs(next[kept[k]]) || 1));
    }
    // a correction that no longer shrinks is rounding
    if (step > 0 && !(size < previous)) break;
    coef.set(next);
    residuals = residuals.map((r, i) => r + missing[i]);
    previous = size;
    if (size < 1e-16) break;
  }
  return { coef, residuals };
}

function leverages(f: Factorisation): Float64Array {
  const out = new Float64Array(f.n);
  for (let k = 0; k < f.rank; k++) {
    const column = new Float64Array(f.n);
    column[k] = 1;
    applyQ(f, column);
    for (let i = 0; i < f.n; i++) out[i] += column[i] * column[i];
  }
  return out.map((h) => Math.min(h, 1));
}
