/** A B for row-major A [n * k] and B [k * m]. */
export function multiply(a: Float64Array, b: Float64Array, n: number, k: number, m: number): Float64Array {
  const out = new Float64Array(n * m);
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < k; j++) {
      const factor = a[i * k + j];
      if (factor === 0) continue;
      for (let c = 0; c < m; c++) out[i * m + c] += factor * b[j * m + c];
    }
  }
  return out;
}

/** A' B for row-major A [k * n] and B [k * m]. */
export function multiplyTransposed(a: Float64Array, b: Float64Array, k: number, n: number, m: number): Float64Array {
  const out = new Float64Array(n * m);
  for (let j = 0; j < k; j++) {
    for (let i = 0; i < n; i++) {
      const factor = a[j * n + i];
      if (factor === 0) continue;
      for (let c = 0; c < m; c++) out[i * m + c] += factor * b[j * m + c];
    }
  }
  return out;
}

/** A x for row-major A [n * m] and x [m]. */
export function multiplyVector(a: Float64Array, x: Float64Array, n: number, m: number): Float64Array {
  const out = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    let sum = 0;
    for (let j = 0; j < m; j++) sum += a[i * m + j] * x[j];
    out[i] = sum;
  }
  return out;
}

/** x' y. */
export function dot(x: Float64Array, y: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < x.length; i++) sum += x[i] * y[i];
  return sum;
}

/** x' A y for row-major A [x.length * y.length]. */
export function quadraticForm(x: Float64Array, a: Float64Array, y: Float64Array): number {
  return dot(x, multiplyVector(a, y, x.length, y.length));
}

/** tr(A B) for square row-major matrices of order n. */
export function traceProduct(a: Float64Array, b: Float64Array, n: number): number {
  let sum = 0;
  for (let i = 0; i < n; i++) for (let j = 0; j < n; j++) sum += a[i * n + j] * b[j * n + i];
  return sum;
}

/** Rows `rowFrom..rowTo` and columns `columnFrom..columnTo` (ends excluded) of a row-major matrix with `columns` columns. */
export function slice(
  a: Float64Array,
  columns: number,
  [rowFrom, rowTo]: readonly [number, number],
  [columnFrom, columnTo]: readonly [number, number],
): Float64Array {
  const width = columnTo - columnFrom;
  const out = new Float64Array((rowTo - rowFrom) * width);
  for (let i = rowFrom; i < rowTo; i++) {
    for (let j = columnFrom; j < columnTo; j++) out[(i - rowFrom) * width + j - columnFrom] = a[i * columns + j];
  }
  return out;
}

/** Identity matrix of order n. */
export function identity(n: number): Float64Array {
  const out = new Float64Array(n * n);
  for (let i = 0; i < n; i++) out[i * n + i] = 1;
  return out;
}

/** A' of a row-major A [n * m]. */
export function transpose(a: Float64Array, n: number, m: number): Float64Array {
  const out = new Float64Array(n * m);
  for (let i = 0; i < n; i++) for (let j = 0; j < m; j++) out[j * n + i] = a[i * m + j];
  return out;
}
