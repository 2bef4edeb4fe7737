import { factorCholesky, logDeterminant, solveLower } from "../numeric/cholesky.ts";
import { dot, multiply, multiplyTransposed, multiplyVector } from "../numeric/matrix.ts";
import type { Crossproducts, TermBlock } from "./crossproducts.ts";

/** What is kept of one design pattern at given covariances (V scaled by sigma^2). */
export interface PatternState {
  /** R^-1 Lambda' with R R' = Lambda' Z'Z Lambda + I; [q * q]. T = Gamma (I + Z'Z Gamma)^-1 = G'G. */
  readonly g: Float64Array;
  /** G Z'W, [q * m]. */
  readonly gzw: Float64Array;
}

/** W'Vb^-1 W, W'Vb^-1 y, y'Vb^-1 y and log|Vb|, with Vb = I + Z Gamma Z' over the nested terms. */
export interface Whitened {
  readonly e: Float64Array;
  readonly ey: Float64Array;
  readonly yPy: number;
  readonly logV: number;
  readonly states: readonly PatternState[];
  readonly gzy: readonly (readonly Float64Array[])[];
}

/** Products through Vb^-1 by Woodbury, cluster by cluster; null when a matrix cannot be factored. */
export function whiten(data: Crossproducts, factors: readonly Float64Array[]): Whitened | null {
  const { m } = data;
  const e = data.ww.slice();
  const ey = data.wy.slice();
  let yPy = data.yy;
  let logV = 0;
  const states: PatternState[] = [];
  const gzy: Float64Array[][] = [];
  for (const pattern of data.patterns) {
    const { q, zz, zw, clusters } = pattern;
    const lambda = blockFactor(pattern.blocks, factors, data, q);
    const inner = multiplyTransposed(lambda, multiply(zz, lambda, q, q, q), q, q, q);
    for (let i = 0; i < q; i++) inner[i * q + i] += 1;
    if (!factorCholesky(inner, q)) return null;
    logV += clusters.length * logDeterminant(inner, q);
    const gMatrix = new Float64Array(q * q);
    for (let i = 0; i < q; i++) for (let j = 0; j < q; j++) gMatrix[i * q + j] = lambda[j * q + i];
    solveLower(inner, q, gMatrix, q);
    const gzw = multiply(gMatrix, zw, q, q, m);
    subtractGram(e, gzw, q, m, clusters.length);
    const sum = new Float64Array(q);
    const own: Float64Array[] = [];
    for (const cluster of clusters) {
      const v = multiplyVector(gMatrix, cluster.zy, q, q);
      for (let i = 0; i < q; i++) sum[i] += v[i];
      yPy -= dot(v, v);
      own.push(v);
    }
    for (let i = 0; i < q; i++) for (let j = 0; j < m; j++) ey[j] -= gzw[i * m + j] * sum[i];
    states.push({ g: gMatrix, gzw });
    gzy.push(own);
  }
  return { e, ey, yPy, logV, states, gzy };
}

/** Block-diagonal Lambda of a cluster (or of the crossed columns), [q * q]. */
export function blockFactor(
  blocks: readonly TermBlock[],
  factors: readonly Float64Array[],
  data: Crossproducts,
  q: number,
): Float64Array {
  const out = new Float64Array(q * q);
  for (const { term, offsets } of blocks) {
    const w = data.terms[term].width;
    const l = factors[term];
    for (const offset of offsets) {
      for (let a = 0; a < w; a++) for (let b = 0; b <= a; b++) out[(offset + a) * q + offset + b] = l[a * w + b];
    }
  }
  return out;
}

/** a -= times * s's for s [q * m]. */
export function subtractGram(a: Float64Array, s: Float64Array, q: number, m: number, times: number): void {
  for (let i = 0; i < q; i++) {
    for (let r = 0; r < m; r++) {
      const factor = times * s[i * m + r];
      if (factor === 0) continue;
      for (let c = 0; c < m; c++) a[r * m + c] -= factor * s[i * m + c];
    }
  }
}
