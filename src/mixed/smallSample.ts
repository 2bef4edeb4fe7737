import { multiply } from "../numeric/matrix.ts";
import type { RemlModel } from "./remlModel.ts";

/** A test that several linear combinations of fixed effects are zero. */
export interface FixedTest {
  readonly f: number;
  readonly df1: number;
  /** Denominator degrees of freedom; null when they cannot be worked out. */
  readonly df2: number | null;
}

/** Standard errors and degrees of freedom of linear combinations of fixed effects. */
export interface SmallSample {
  readonly method: "satterthwaite" | "kenward-roger";
  /** Covariance of the coefficients in the units given, [p * p]; widened under Kenward-Roger. */
  readonly vcov: Float64Array;
  /** Degrees of freedom of the t statistic of l'beta; null when the information is not positive definite. */
  df(l: ArrayLike<number>): number | null;
  /** F test of L beta = 0, L row-major [r * p] of full row rank. */
  test(l: Float64Array, r: number): FixedTest;
}

/** l in the units of the scaled columns. */
export function scaledRow(model: RemlModel, l: ArrayLike<number>): Float64Array {
  return Float64Array.from(l, (v, j) => v / model.columnScale[j]);
}

/** L in the units of the scaled columns, [r * p]. */
export function scaledRows(model: RemlModel, l: Float64Array, r: number): Float64Array {
  const { p } = model.data;
  const out = new Float64Array(r * p);
  for (let i = 0; i < r * p; i++) out[i] = l[i] / model.columnScale[i % p];
  return out;
}

/** Coefficients of the scaled columns. */
export function scaledBeta(model: RemlModel): Float64Array {
  return model.coefficients.map((b, j) => b * model.columnScale[j]);
}

/** L C L', [r * r]. */
export function rowCovariance(rows: Float64Array, c: Float64Array, r: number, p: number): Float64Array {
  const lc = multiply(rows, c, r, p, p);
  const out = new Float64Array(r * r);
  for (let i = 0; i < r; i++) {
    for (let j = 0; j < r; j++) {
      for (let s = 0; s < p; s++) out[i * r + j] += lc[i * p + s] * rows[j * p + s];
    }
  }
  return out;
}
