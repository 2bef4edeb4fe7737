import { multiply, multiplyVector } from "../numeric/matrix.ts";
import { clusterScore, patternF, patternH } from "./patternProducts.ts";
import type { RemlModel } from "./remlModel.ts";

/** Predicted random coefficients of one term, level by level. */
export interface ConditionalModes {
  readonly term: string;
  readonly columns: readonly string[];
  readonly levels: readonly string[];
  /** Conditional modes (BLUPs), [levels][columns]. */
  readonly values: readonly (readonly number[])[];
  /** Standard errors of prediction, Var(u^ - u), the uncertainty of the fixed effects included; [levels][columns]. */
  readonly standardErrors: readonly (readonly number[])[];
}

/** The same with what joint predictions need. */
export interface ModeBlock {
  readonly term: number;
  readonly level: number;
  readonly values: Float64Array;
  /** Var(u^ - u) of the level, [width * width]. */
  readonly variance: Float64Array;
  /** Cov(beta^ - beta, u^ - u) in the units of the columns given, [p * width]. */
  readonly withFixed: Float64Array;
}

/**
 * Conditional modes u^ = Gamma Z'P y with their prediction covariances, for every level of every term.
 *
 * Var(u^ - u) = sigma^2 (Gamma - Gamma Z'P Z Gamma); Cov(beta^, u^ - u) = - C X'V^-1 Z Gamma sigma^2.
 *
 * Source: Henderson (1975), Biometrics 31, 423-447; Robinson (1991), Statistical Science 6, 15-32.
 */
export function modeBlocks(model: RemlModel): ModeBlock[] {
  const { data, optimum, columnScale } = model;
  const { g, p, m, terms, crossed } = data;
  const { point } = optimum;
  const { k, e, sigma2 } = point;
  const out: ModeBlock[] = [];
  const emit = (
    term: number,
    level: number,
    u: Float64Array,
    zpz: (a: number, b: number) => number,
    fixed: (j: number, a: number) => number,
  ): void => {
    const w = terms[term].width;
    const gamma = point.gamma[term];
    const inner = new Float64Array(w * w);
    for (let a = 0; a < w; a++) for (let b = 0; b < w; b++) inner[a * w + b] = zpz(a, b);
    const shrunk = multiply(gamma, multiply(inner, gamma, w, w, w), w, w, w);
    const cross = new Float64Array(p * w);
    for (let j = 0; j < p; j++) for (let a = 0; a < w; a++) cross[j * w + a] = (-fixed(j, a) * sigma2) / columnScale[j];
    out.push({
      term,
      level,
      values: multiplyVector(gamma, u, w, w),
      variance: gamma.map((v, i) => sigma2 * (v - shrunk[i])),
      withFixed: multiply(cross, gamma, p, w, w),
    });
  };

  data.patterns.forEach((pattern, index) => {
    const { q, blocks, clusters } = pattern;
    if (q === 0) return;
    const f = patternF(pattern, point.states[index]);
    const h = patternH(pattern, point.states[index], m);
    // K H', whose fixed rows are C X'V^-1 Z.
    const kh = new Float64Array(m * q);
    for (let i = 0; i < m; i++) {
      for (let j = 0; j < q; j++) {
        let sum = 0;
        for (let s = 0; s < m; s++) sum += k[i * m + s] * h[j * m + s];
        kh[i * q + j] = sum;
      }
    }
    clusters.forEach((cluster, at) => {
      const u = clusterScore(pattern, point.states[index], h, cluster.zy, point.gzy[index][at], point.kwy);
      blocks.forEach((block, b) => {
        const w = terms[block.term].width;
        block.offsets.forEach((offset, l) => {
          const zpz = (i: number, j: number): number => {
            let sum = f[(offset + i) * q + offset + j];
            for (let s = 0; s < m; s++) sum -= h[(offset + i) * m + s] * kh[s * q + offset + j];
            return sum;
          };
          const fixed = (i: number, j: number): number => kh[(g + i) * q + offset + j];
          emit(block.term, cluster.levels[b][l], u.subarray(offset, offset + w), zpz, fixed);
        });
      });
    });
  });

  if (g > 0) {
    const ek = multiply(e, k, m, m, m);
    const eke = multiply(ek, e, m, m, m);
    const score = multiplyVector(e, point.kwy, m, m).map((v, i) => point.ey[i] - v);
    for (const block of crossed) {
      const w = terms[block.term].width;
      block.offsets.forEach((offset, level) => {
        const zpz = (i: number, j: number): number =>
          e[(offset + i) * m + offset + j] - eke[(offset + i) * m + offset + j];
        // C X'V^-1 Zg: the fixed rows of K E.
        const fixed = (i: number, j: number): number => ek[(offset + j) * m + g + i];
        emit(block.term, level, score.subarray(offset, offset + w), zpz, fixed);
      });
    }
  }
  return out;
}

/** Conditional modes as plain tables, levels in order of first appearance. */
export function conditionalModes(
  model: RemlModel,
  blocks: readonly ModeBlock[] = modeBlocks(model),
): ConditionalModes[] {
  return model.data.terms.map((term, t) => {
    const own = blocks.filter((block) => block.term === t).sort((a, b) => a.level - b.level);
    return {
      term: term.name,
      columns: term.columnNames,
      levels: term.levels.map(String),
      values: own.map(({ values }) => [...values]),
      standardErrors: own.map(({ variance }) =>
        Array.from({ length: term.width }, (_, a) => Math.sqrt(Math.max(0, variance[a * (term.width + 1)]))),
      ),
    };
  });
}
