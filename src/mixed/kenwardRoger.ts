import { square } from "../core/elementary.ts";
import { factorCholesky, invertFromCholesky, solveLower } from "../numeric/cholesky.ts";
import { dot, multiply, multiplyVector, traceProduct, transpose } from "../numeric/matrix.ts";
import { qMatrices } from "./qMatrices.ts";
import type { RemlModel } from "./remlModel.ts";
import { rowCovariance, type SmallSample, scaledBeta, scaledRow, scaledRows } from "./smallSample.ts";
import { varianceParameters } from "./varianceParameters.ts";

/**
 * Kenward-Roger: the covariance of the fixed effects widened for the estimation of the variances, and matching degrees
 * of freedom. The covariance is linear in its parameters here, so the second-derivative terms vanish.
 *
 * Phi_A = Phi + 2 Phi [sum_ij W_ij (Q_ij - P_i Phi P_j)] Phi, W the inverse expected information. Parameters at zero
 * are left out.
 *
 * @returns null when the expected information is singular
 *
 * Source: Kenward & Roger (1997), Biometrics 53, 983-997.
 */
export function kenwardRoger(model: RemlModel): SmallSample | null {
  const { data, optimum } = model;
  const { n, p } = data;
  const { point } = optimum;
  const { c, sigma2 } = point;
  const parameters = varianceParameters(model);
  const { elements, positions, spread } = parameters;
  const k = elements.length;
  const all = point.phi();
  const count = all.trace.length;
  const phi = elements.map(({ term, a, b }) => point.gamma[term][a * data.terms[term].width + b]);

  // Everything is in the scale V = I + Z Gamma Z', parameters [covariance elements, sigma^2], the last with V_k = I.
  // I = V - sum phi_k V_k, so products with I come from those with V: P V P = P and V^-1 V V^-1 = V^-1.
  const size = k + 1;
  const traceTwo = new Float64Array(size * size);
  const xvx = invert(c, p);
  const q = qMatrices(model, parameters);
  const last = xvx.slice();
  for (let e = 0; e < k; e++) for (let i = 0; i < p * p; i++) last[i] -= phi[e] * spread[e][i];
  const pMatrices = [...spread, last];
  const qAt = (i: number, j: number): Float64Array => q[i * size + j];
  for (let e = 0; e < k; e++) {
    // Q with one factor I: X'V^-1 V_e V^-1 X minus what the random terms carry.
    const mixed = spread[e].slice();
    let trace = all.trace[positions[e]];
    for (let f = 0; f < k; f++) {
      const t2 = all.traceTwo[positions[e] * count + positions[f]];
      traceTwo[e * size + f] = t2;
      trace -= phi[f] * t2;
      for (let i = 0; i < p * p; i++) mixed[i] -= phi[f] * qAt(e, f)[i];
    }
    traceTwo[e * size + k] = trace;
    traceTwo[k * size + e] = trace;
    q[e * size + k] = mixed;
    q[k * size + e] = transpose(mixed, p, p);
  }
  let both = n - p;
  const bothQ = last.slice();
  for (let e = 0; e < k; e++) {
    // tr(P I P I) = tr(P I) - sum phi_e tr(P V_e P I), and tr(P I) = (n - p) - sum phi_e tr(P V_e).
    both -= phi[e] * (all.trace[positions[e]] + traceTwo[e * size + k]);
    for (let i = 0; i < p * p; i++) bothQ[i] -= phi[e] * q[k * size + e][i];
  }
  traceTwo[k * size + k] = both;
  q[k * size + k] = bothQ;

  const information = traceTwo.map((v) => v / 2);
  if (!factorCholesky(information, size)) return null;
  const w = invertFromCholesky(information, size);
  const lambda = new Float64Array(p * p);
  for (let i = 0; i < size; i++) {
    for (let j = 0; j < size; j++) {
      const pcp = multiply(pMatrices[i], multiply(c, pMatrices[j], p, p, p), p, p, p);
      const qij = qAt(i, j);
      for (let r = 0; r < p * p; r++) lambda[r] += w[i * size + j] * (qij[r] - pcp[r]);
    }
  }
  const correction = multiply(c, multiply(lambda, c, p, p, p), p, p, p);
  // W here is in relative units: the sigma^2 of Phi, Phi, W and 1/sigma^2 of each P, Q leave one factor sigma^2.
  const adjusted = new Float64Array(p * p);
  for (let i = 0; i < p; i++) {
    for (let j = 0; j < p; j++) {
      const twice = correction[i * p + j] + correction[j * p + i];
      adjusted[i * p + j] = sigma2 * (c[i * p + j] + twice);
    }
  }
  const vcov = adjusted.map((v, i) => v / (model.columnScale[Math.floor(i / p)] * model.columnScale[i % p]));

  function moments(rows: Float64Array, r: number): { a1: number; a2: number } {
    const lcl = rowCovariance(rows, c, r, p);
    if (!factorCholesky(lcl, r)) return { a1: 0, a2: 0 };
    const inverse = invertFromCholesky(lcl, r);
    const lc = multiply(rows, c, r, p, p);
    const theta = pMatrices.map((pm) => {
      const inner = multiply(lc, pm, r, p, p);
      const out = new Float64Array(r * r);
      for (let i = 0; i < r; i++)
        for (let j = 0; j < r; j++) for (let s = 0; s < p; s++) out[i * r + j] += inner[i * p + s] * lc[j * p + s];
      return multiply(inverse, out, r, r, r);
    });
    let a1 = 0;
    let a2 = 0;
    for (let i = 0; i < size; i++) {
      for (let j = 0; j < size; j++) {
        let ti = 0;
        let tj = 0;
        for (let s = 0; s < r; s++) {
          ti += theta[i][s * r + s];
          tj += theta[j][s * r + s];
        }
        a1 += w[i * size + j] * ti * tj;
        a2 += w[i * size + j] * traceProduct(theta[i], theta[j], r);
      }
    }
    return { a1, a2 };
  }

  return {
    method: "kenward-roger",
    vcov,
    df(l) {
      const { a2 } = moments(scaledRow(model, l), 1);
      return a2 > 0 ? 2 / a2 : null;
    },
    test(l, r) {
      const rows = scaledRows(model, l, r);
      const lvl = rowCovariance(rows, adjusted, r, p);
      const lb = multiplyVector(rows, scaledBeta(model), r, p);
      if (!factorCholesky(lvl, r)) return { f: 0, df1: r, df2: null };
      solveLower(lvl, r, lb, 1);
      const wald = dot(lb, lb) / r;
      const { a1, a2 } = moments(rows, r);
      if (!(a2 > 0)) return { f: wald, df1: r, df2: null };
      if (r === 1) return { f: wald, df1: 1, df2: 2 / a2 };
      const b = (a1 + 6 * a2) / (2 * r);
      const g = ((r + 1) * a1 - (r + 4) * a2) / ((r + 2) * a2);
      const base = 3 * r + 2 * (1 - g);
      const c1 = g / base;
      const c2 = (r - g) / base;
      const c3 = (r + 2 - g) / base;
      const mean = 1 / (1 - a2 / r);
      const variance = ((2 / r) * (1 + c1 * b)) / (square(1 - c2 * b) * (1 - c3 * b));
      const rho = variance / (2 * mean * mean);
      const df2 = 4 + (r + 2) / (r * rho - 1);
      if (!(df2 > 2)) return { f: wald, df1: r, df2: null };
      return { f: (df2 / (mean * (df2 - 2))) * wald, df1: r, df2 };
    },
  };
}

function invert(a: Float64Array, n: number): Float64Array {
  const copy = a.slice();
  factorCholesky(copy, n);
  return invertFromCholesky(copy, n);
}
