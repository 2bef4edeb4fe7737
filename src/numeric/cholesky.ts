import { log } from "../core/elementary.ts";

/**
 * Cholesky factor of a symmetric positive definite matrix, in place: A = L L'.
 *
 * Only the lower triangle of `a` is read; on success it holds L and the upper triangle is zero.
 *
 * @param a - matrix, row-major, shape [n * n]
 * @param n - order
 * @returns false when a pivot is not clearly positive (the matrix is singular or indefinite); `a` is then spoiled
 *
 * Source: Golub & Van Loan (2013), Matrix Computations, 4th ed., algorithm 4.2.1.
 */
export function factorCholesky(a: Float64Array, n: number): boolean {
  for (let j = 0; j < n; j++) {
    const rowJ = j * n;
    const before = a[rowJ + j];
    let pivot = before;
    for (let k = 0; k < j; k++) pivot -= a[rowJ + k] * a[rowJ + k];
    // A pivot that lost all its digits is rounding noise, whatever its sign.
    if (!(pivot > before * 1e-14) || !Number.isFinite(pivot)) return false;
    const root = Math.sqrt(pivot);
    a[rowJ + j] = root;
    for (let i = j + 1; i < n; i++) {
      const rowI = i * n;
      let sum = a[rowI + j];
      for (let k = 0; k < j; k++) sum -= a[rowI + k] * a[rowJ + k];
      a[rowI + j] = sum / root;
      a[rowJ + i] = 0;
    }
  }
  return true;
}

/** Overwrites B with L^-1 B. L is lower triangular [n * n], B is [n * m], both row-major. */
export function solveLower(l: Float64Array, n: number, b: Float64Array, m: number): void {
  for (let i = 0; i < n; i++) {
    for (let k = 0; k < i; k++) {
      const factor = l[i * n + k];
      if (factor !== 0) for (let c = 0; c < m; c++) b[i * m + c] -= factor * b[k * m + c];
    }
    const scale = 1 / l[i * n + i];
    for (let c = 0; c < m; c++) b[i * m + c] *= scale;
  }
}

/** Overwrites B with L'^-1 B. L is lower triangular [n * n], B is [n * m], both row-major. */
export function solveLowerTransposed(l: Float64Array, n: number, b: Float64Array, m: number): void {
  for (let i = n - 1; i >= 0; i--) {
    for (let k = i + 1; k < n; k++) {
      const factor = l[k * n + i];
      if (factor !== 0) for (let c = 0; c < m; c++) b[i * m + c] -= factor * b[k * m + c];
    }
    const scale = 1 / l[i * n + i];
    for (let c = 0; c < m; c++) b[i * m + c] *= scale;
  }
}

/** Inverse of A = L L' from its factor L; shape [n * n], symmetric. */
export function invertFromCholesky(l: Float64Array, n: number): Float64Array {
  const inverse = new Float64Array(n * n);
  for (let i = 0; i < n; i++) inverse[i * n + i] = 1;
  solveLower(l, n, inverse, n);
  solveLowerTransposed(l, n, inverse, n);
  return inverse;
}

/** log |A| of A = L L' from its factor L. */
export function logDeterminant(l: Float64Array, n: number): number {
  let sum = 0;
  for (let i = 0; i < n; i++) sum += log(l[i * n + i]);
  return 2 * sum;
}
