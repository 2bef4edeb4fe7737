import { log2, pow, square } from "../core/elementary.ts";

/**
 * Householder QR factorisation of a column-scaled matrix with column pivoting: X S P = Q R, S powers of two so that scaling
 * is exact. Columns are arrays of length n; the input is not touched.
 */
export interface Factorisation {
  readonly n: number;
  /** Number of columns. */
  readonly p: number;
  /** Columns that carry information beyond those before them. */
  readonly rank: number;
  /** Householder vectors below the diagonal, R on and above it; pivoted columns. */
  readonly qr: readonly Float64Array[];
  readonly tau: Float64Array;
  /** qr column k is input column `pivot[k]`. */
  readonly pivot: Int32Array;
  /** Power of two by which each input column was multiplied. */
  readonly scale: Float64Array;
}

/** Power of two nearest to 1 / norm, 1 for a column of zeros. */
function powerOfTwo(norm: number): number {
  return norm > 0 && norm < Infinity ? pow(2, -Math.round(log2(norm))) : 1;
}

export function norm(values: ArrayLike<number>, from = 0): number {
  let largest = 0;
  for (let i = from; i < values.length; i++) largest = Math.max(largest, Math.abs(values[i]));
  if (largest === 0) return 0;
  let sum = 0;
  for (let i = from; i < values.length; i++) sum += square(values[i] / largest);
  return largest * Math.sqrt(sum);
}

/**
 * Factors a matrix given by its columns.
 *
 * @param columns - shape [p][n], n >= p
 * @param tolerance - a column counts when what it adds is above this share of its own length
 *
 * Source: Golub & Van Loan (2013), Matrix Computations, 4th ed., algorithms 5.1.1 and 5.4.1.
 */
export function factorise(columns: readonly ArrayLike<number>[], tolerance: number): Factorisation {
  const p = columns.length;
  const n = columns[0]?.length ?? 0;
  const scale = new Float64Array(p);
  const qr = columns.map((column, j) => {
    const s = powerOfTwo(norm(column));
    scale[j] = s;
    return Float64Array.from(column, (v) => v * s);
  });
  const full = qr.map((column) => norm(column));
  const pivot = Int32Array.from({ length: p }, (_, j) => j);
  const tau = new Float64Array(p);
  let rank = 0;
  for (let k = 0; k < Math.min(n, p); k++) {
    // the column with the largest share of itself left; lengths are recomputed, p is small
    let best = k;
    let bestNorm = -1;
    for (let j = k; j < p; j++) {
      const left = norm(qr[j], k);
      if (left > bestNorm) {
        best = j;
        bestNorm = left;
      }
    }
    if (!(bestNorm > tolerance * full[best])) break;
    if (best !== k) {
      [qr[k], qr[best]] = [qr[best], qr[k]];
      [full[k], full[best]] = [full[best], full[k]];
      [pivot[k], pivot[best]] = [pivot[best], pivot[k]];
    }
    const v = qr[k];
    const alpha = v[k] > 0 ? -bestNorm : bestNorm;
    const head = v[k] - alpha;
    for (let i = k + 1; i < n; i++) v[i] /= head;
    tau[k] = -head / alpha;
    v[k] = alpha;
    for (let j = k + 1; j < p; j++) reflect(v, tau[k], k, qr[j]);
    rank++;
  }
  return { n, p, rank, qr, tau, pivot, scale };
}

/** Applies the k-th reflection, I - tau v v' with v[k] = 1, to a vector. */
function reflect(v: Float64Array, tau: number, k: number, target: Float64Array): void {
  let sum = target[k];
  for (let i = k + 1; i < target.length; i++) sum += v[i] * target[i];
  sum *= tau;
  target[k] -= sum;
  for (let i = k + 1; i < target.length; i++) target[i] -= sum * v[i];
}

/** target <- Q' target, in place. */
export function applyTranspose(f: Factorisation, target: Float64Array): void {
  for (let k = 0; k < f.rank; k++) reflect(f.qr[k], f.tau[k], k, target);
}

/** target <- Q target, in place. */
export function applyQ(f: Factorisation, target: Float64Array): void {
  for (let k = f.rank - 1; k >= 0; k--) reflect(f.qr[k], f.tau[k], k, target);
}

/** Solves R z = target (first `rank` entries), in place. */
export function solveUpper(f: Factorisation, target: Float64Array): void {
  for (let k = f.rank - 1; k >= 0; k--) {
    let value = target[k];
    for (let j = k + 1; j < f.rank; j++) value -= f.qr[j][k] * target[j];
    target[k] = value / f.qr[k][k];
  }
}

/** Solves R' z = target (first `rank` entries), in place. */
export function solveLower(f: Factorisation, target: Float64Array): void {
  for (let k = 0; k < f.rank; k++) {
    let value = target[k];
    for (let j = 0; j < k; j++) value -= f.qr[k][j] * target[j];
    target[k] = value / f.qr[k][k];
  }
}

/** (X'X)^-1 in the order and scale of the input columns; shape [p][p]. Needs full rank. */
export function inverseCrossproduct(f: Factorisation): Float64Array[] {
  const { p } = f;
  // rows of R^-1
  const inverse = Array.from({ length: p }, (_, j) => {
    const unit = new Float64Array(p);
    unit[j] = 1;
    solveUpper(f, unit);
    return unit; // column j of R^-1
  });
  const out = Array.from({ length: p }, () => new Float64Array(p));
  for (let a = 0; a < p; a++) {
    for (let b = a; b < p; b++) {
      let sum = 0;
      for (let j = b; j < p; j++) sum += inverse[j][a] * inverse[j][b];
      const i = f.pivot[a];
      const k = f.pivot[b];
      out[i][k] = sum * f.scale[i] * f.scale[k];
      out[k][i] = out[i][k];
    }
  }
  return out;
}
