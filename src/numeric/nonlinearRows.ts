/** A nonlinear least-squares problem: minimise sum_i w_i (y_i - mean_i(theta))^2. */
export interface NonlinearProblem {
  /** Response, shape [n]. */
  readonly y: ArrayLike<number>;
  /** Relative precision of each row, > 0; shape [n]; default 1. */
  readonly weight?: ArrayLike<number> | null;
  /** Writes the mean of every row to `out`, shape [n]; values that are not finite mark theta as impossible. */
  readonly mean: (theta: Float64Array, out: Float64Array) => void;
  /** Writes the exact derivatives of the mean to `columns`, shape [p][n]. */
  readonly jacobian: (theta: Float64Array, columns: readonly Float64Array[]) => void;
}

/** Evaluations of the derivatives that a path may still use. */
export interface Budget {
  left: number;
}

/** A point with its weighted residuals. */
export interface Point {
  readonly theta: Float64Array;
  readonly residuals: Float64Array;
  readonly rss: number;
}

export interface Rows {
  readonly n: number;
  readonly p: number;
  /** The weighted problem at theta; null where the mean is not finite. */
  at(theta: Float64Array): Point | null;
  /** Weighted derivatives; null where they are not finite. */
  derivatives(theta: Float64Array): Float64Array[] | null;
}

export function scaledRows(problem: NonlinearProblem, p: number): Rows {
  const { y, weight } = problem;
  const n = y.length;
  const root = weight ? Float64Array.from(weight, Math.sqrt) : null;
  return {
    n,
    p,
    at(theta) {
      const residuals = new Float64Array(n);
      problem.mean(theta, residuals);
      let rss = 0;
      for (let i = 0; i < n; i++) {
        residuals[i] = (y[i] - residuals[i]) * (root ? root[i] : 1);
        rss += residuals[i] * residuals[i];
      }
      return rss < Infinity ? { theta, residuals, rss } : null;
    },
    derivatives(theta) {
      const columns = Array.from({ length: p }, () => new Float64Array(n));
      problem.jacobian(theta, columns);
      for (const column of columns) {
        for (let i = 0; i < n; i++) {
          if (root) column[i] *= root[i];
          if (!Number.isFinite(column[i])) return null;
        }
      }
      return columns;
    },
  };
}

/** theta + share step. */
export function moved(theta: Float64Array, step: Float64Array, share: number): Float64Array {
  return theta.map((t, j) => t + share * step[j]);
}

/** Largest change of a parameter relative to itself. */
export function relativeSize(step: Float64Array, theta: Float64Array): number {
  return step.reduce(
    (most, s, j) => Math.max(most, s === 0 ? 0 : Math.abs(s) / Math.max(Math.abs(theta[j]), Number.MIN_VALUE)),
    0,
  );
}
