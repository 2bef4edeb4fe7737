import { square } from "../core/elementary.ts";
import { factorCholesky, invertFromCholesky } from "../numeric/cholesky.ts";
import { multiply, multiplyTransposed, slice } from "../numeric/matrix.ts";
import { type PhiElement, phiElements } from "./patternProducts.ts";
import type { RemlModel } from "./remlModel.ts";

/** What a fitted model knows about the precision of its variance parameters. */
export interface VarianceParameters {
  /** Covariance elements that are not held at a boundary, in model order. */
  readonly elements: readonly PhiElement[];
  /** Their positions in `phi()`. */
  readonly positions: readonly number[];
  /**
   * Covariance of the estimates of [relative covariance elements, sigma^2] from the observed information, [k + 1]^2;
   * null when that information is not positive definite.
   */
  readonly observed: Float64Array | null;
  /** X'V^-1 V_k V^-1 X with V scaled by sigma^2, one [p * p] per element. */
  readonly spread: readonly Float64Array[];
}

/**
 * Precision of the variance parameters of a fit. A variance of zero, and a direction in which a covariance matrix has
 * no extent, are held fixed: there the likelihood is not quadratic.
 */
export function varianceParameters(model: RemlModel): VarianceParameters {
  const { data, optimum } = model;
  const { point, factors } = optimum;
  const all = phiElements(data);
  const zero = (term: number, column: number): boolean =>
    point.gamma[term][column * (data.terms[term].width + 1)] <= 1e-10;
  const positions: number[] = [];
  all.forEach((element, i) => {
    if (!zero(element.term, element.a) && !zero(element.term, element.b)) positions.push(i);
  });
  const elements = positions.map((i) => all[i]);
  const spread = elements.map((element, k) => spreadMatrix(model, element, positions[k]));

  // Observed information by [theta of non-zero factor columns, sigma^2], then carried to [phi, sigma^2].
  const theta: { term: number; row: number; column: number }[] = [];
  data.terms.forEach((term, t) => {
    const l = factors[t];
    for (const [a, b] of term.pairs) {
      let size = 0;
      for (let r = b; r < term.width; r++) size += square(l[r * term.width + b]);
      if (size > 1e-10 && !zero(t, a)) theta.push({ term: t, row: a, column: b });
    }
  });
  const k = elements.length;
  const n = theta.length;
  const { gradient, traceTwo, quadratic, quadraticTwo } = point.phi();
  const count = all.length;
  const { sigma2 } = point;
  const jacobian = new Float64Array((k + 1) * (n + 1));
  jacobian[k * (n + 1) + n] = 1;
  const information = new Float64Array((n + 1) * (n + 1));
  const dof = model.reml ? data.n - data.p : data.n;
  information[n * (n + 1) + n] = dof / (2 * sigma2 * sigma2);
  elements.forEach(({ term, a, b }, e) => {
    const width = data.terms[term].width;
    theta.forEach((own, i) => {
      if (own.term !== term) return;
      let d = 0;
      if (own.row === a) d += factors[term][b * width + own.column];
      if (own.row === b) d += factors[term][a * width + own.column];
      jacobian[e * (n + 1) + i] = d;
      theta.forEach((other, j) => {
        if (other.term !== term || other.column !== own.column) return;
        const both = (own.row === a && other.row === b ? 1 : 0) + (own.row === b && other.row === a ? 1 : 0);
        if (both > 0) information[i * (n + 1) + j] -= gradient[positions[e]] * both;
      });
    });
  });
  const h = new Float64Array((k + 1) * (k + 1));
  for (let e = 0; e < k; e++) {
    for (let f = 0; f < k; f++) {
      const at = positions[e] * count + positions[f];
      h[e * (k + 1) + f] = -0.5 * traceTwo[at] + quadraticTwo[at] / sigma2;
    }
    h[e * (k + 1) + k] = (0.5 * quadratic[positions[e]]) / (sigma2 * sigma2);
    h[k * (k + 1) + e] = h[e * (k + 1) + k];
  }
  const carried = multiplyTransposed(jacobian, multiply(h, jacobian, k + 1, k + 1, n + 1), k + 1, n + 1, n + 1);
  for (let i = 0; i < carried.length; i++) information[i] += carried[i];
  if (!factorCholesky(information, n + 1)) return { elements, positions, observed: null, spread };
  const inverse = invertFromCholesky(information, n + 1);
  const left = multiply(jacobian, inverse, k + 1, n + 1, n + 1);
  const observed = new Float64Array((k + 1) * (k + 1));
  for (let i = 0; i <= k; i++) {
    for (let j = 0; j <= k; j++) {
      for (let r = 0; r <= n; r++) observed[i * (k + 1) + j] += left[i * (n + 1) + r] * jacobian[j * (n + 1) + r];
    }
  }
  return { elements, positions, observed, spread };
}

/** Rows that turn W-space products into X-space ones with the crossed terms inside V: [-T S_gx; I], [m * p]. */
export function throughCrossed(model: RemlModel): Float64Array {
  const { g, p, m } = model.data;
  const { e, tg } = model.optimum.point;
  const tsx = multiply(tg, slice(e, m, [0, g], [g, m]), g, g, p);
  const out = new Float64Array(m * p);
  for (let i = 0; i < g * p; i++) out[i] = -tsx[i];
  for (let j = 0; j < p; j++) out[(g + j) * p + j] = 1;
  return out;
}

/** Zg'V^-1 X of the crossed columns, [g * p]. */
export function crossedToFixed(model: RemlModel): Float64Array {
  const { g, p, m } = model.data;
  const { e, tg } = model.optimum.point;
  const sgx = slice(e, m, [0, g], [g, m]);
  const tsx = multiply(tg, sgx, g, g, p);
  const out = multiply(slice(e, m, [0, g], [0, g]), tsx, g, g, p);
  for (let i = 0; i < out.length; i++) out[i] = sgx[i] - out[i];
  return out;
}

/** X'V^-1 V_k V^-1 X of one covariance element, [p * p]. */
function spreadMatrix(model: RemlModel, element: PhiElement, position: number): Float64Array {
  const { g, p, m, crossed } = model.data;
  const inner = model.optimum.point.phi().inner[position];
  if (inner !== null) {
    const r = throughCrossed(model);
    return multiplyTransposed(r, multiply(inner, r, m, m, p), m, p, p);
  }
  const n = crossedToFixed(model);
  const out = new Float64Array(p * p);
  const block = crossed.find(({ term }) => term === element.term);
  for (const offset of g > 0 && block !== undefined ? block.offsets : []) {
    const ra = (offset + element.a) * p;
    const rb = (offset + element.b) * p;
    for (let i = 0; i < p; i++) {
      for (let j = 0; j < p; j++) {
        out[i * p + j] += n[ra + i] * n[rb + j];
        if (element.a !== element.b) out[i * p + j] += n[rb + i] * n[ra + j];
      }
    }
  }
  return out;
}
