import { hypot, square } from "../core/elementary.ts";

/**
 * Eigenvalues and eigenvectors of a small symmetric matrix by cyclic Jacobi rotations.
 *
 * @param a - symmetric matrix, row-major, shape [n * n]; not changed
 * @param n - order
 * @returns `values` in descending order, shape [n]; `vectors` row-major [n * n], column j belongs to values[j]
 *
 * Source: Golub & Van Loan (2013), Matrix Computations, 4th ed., section 8.5.
 */
export function symmetricEigen(a: Float64Array, n: number): { values: Float64Array; vectors: Float64Array } {
  const work = a.slice();
  const vectors = new Float64Array(n * n);
  for (let i = 0; i < n; i++) vectors[i * n + i] = 1;
  for (let sweep = 0; sweep < 60; sweep++) {
    let off = 0;
    let on = 0;
    for (let i = 0; i < n; i++) {
      on += square(work[i * n + i]);
      for (let j = 0; j < i; j++) off += square(work[i * n + j]);
    }
    if (off <= 1e-32 * on || off === 0) break;
    for (let p = 0; p < n - 1; p++) for (let q = p + 1; q < n; q++) rotate(work, vectors, n, p, q);
  }
  const order = Array.from({ length: n }, (_, i) => i).sort((i, j) => work[j * n + j] - work[i * n + i]);
  const sorted = new Float64Array(n * n);
  order.forEach((from, to) => {
    for (let i = 0; i < n; i++) sorted[i * n + to] = vectors[i * n + from];
  });
  return { values: Float64Array.from(order, (i) => work[i * n + i]), vectors: sorted };
}

function rotate(a: Float64Array, v: Float64Array, n: number, p: number, q: number): void {
  const apq = a[p * n + q];
  if (apq === 0) return;
  const tau = (a[q * n + q] - a[p * n + p]) / (2 * apq);
  const t = (tau >= 0 ? 1 : -1) / (Math.abs(tau) + hypot(1, tau));
  const c = 1 / hypot(1, t);
  const s = t * c;
  for (let k = 0; k < n; k++) {
    const akp = a[k * n + p];
    const akq = a[k * n + q];
    a[k * n + p] = c * akp - s * akq;
    a[k * n + q] = s * akp + c * akq;
  }
  for (let k = 0; k < n; k++) {
    const apk = a[p * n + k];
    const aqk = a[q * n + k];
    a[p * n + k] = c * apk - s * aqk;
    a[q * n + k] = s * apk + c * aqk;
    const vkp = v[k * n + p];
    const vkq = v[k * n + q];
    v[k * n + p] = c * vkp - s * vkq;
    v[k * n + q] = s * vkp + c * vkq;
  }
}
