import { multiply, multiplyTransposed } from "../numeric/matrix.ts";
import type { Crossproducts, DesignPattern } from "./crossproducts.ts";
import { type PatternState, subtractGram } from "./whiten.ts";

/** One covariance element: its term, its two columns. */
export interface PhiElement {
  readonly term: number;
  readonly a: number;
  readonly b: number;
}

/** The covariance elements of all terms, in the order used by `phi()`. */
export function phiElements(data: Crossproducts): PhiElement[] {
  return data.terms.flatMap((term, t) => term.pairs.map(([a, b]) => ({ term: t, a, b })));
}

/** Z'Vb^-1 Z of a pattern, [q * q]. */
export function patternF(pattern: DesignPattern, state: PatternState): Float64Array {
  const { q, zz } = pattern;
  const ga = multiply(state.g, zz, q, q, q);
  const out = zz.slice();
  subtractGram(out, ga, q, q, 1);
  return out;
}

/** Z'Vb^-1 W of a pattern, [q * m]. */
export function patternH(pattern: DesignPattern, state: PatternState, m: number): Float64Array {
  const { q, zz, zw } = pattern;
  const ga = multiply(state.g, zz, q, q, q);
  const out = zw.slice();
  const correction = multiplyTransposed(ga, state.gzw, q, q, m);
  for (let i = 0; i < out.length; i++) out[i] -= correction[i];
  return out;
}

/** Z'P y of one cluster, [q]. */
export function clusterScore(
  pattern: DesignPattern,
  state: PatternState,
  h: Float64Array,
  zy: Float64Array,
  gzy: Float64Array,
  kwy: Float64Array,
): Float64Array {
  const { q, zz } = pattern;
  const back = new Float64Array(q);
  for (let i = 0; i < q; i++) for (let j = 0; j < q; j++) back[j] += state.g[i * q + j] * gzy[i];
  const u = new Float64Array(q);
  const m = kwy.length;
  for (let i = 0; i < q; i++) {
    let sum = zy[i];
    for (let j = 0; j < q; j++) sum -= zz[i * q + j] * back[j];
    for (let j = 0; j < m; j++) sum -= h[i * m + j] * kwy[j];
    u[i] = sum;
  }
  return u;
}

/**
 * E A for one covariance element repeated over levels, E = sum e_a e_b' + e_b e_a' (e_a e_a' once when a = b); A is
 * [rows * columns].
 */
export function applyElement(
  offsets: readonly number[],
  { a, b }: PhiElement,
  matrix: Float64Array,
  rows: number,
  columns: number,
): Float64Array {
  const out = new Float64Array(rows * columns);
  for (const offset of offsets) {
    for (let c = 0; c < columns; c++) {
      out[(offset + a) * columns + c] += matrix[(offset + b) * columns + c];
      if (a !== b) out[(offset + b) * columns + c] += matrix[(offset + a) * columns + c];
    }
  }
  return out;
}
