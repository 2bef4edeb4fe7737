import { log } from "../core/elementary.ts";
import { factorCholesky, invertFromCholesky, logDeterminant, solveLower } from "../numeric/cholesky.ts";
import { dot, multiply, multiplyTransposed, multiplyVector, slice, transpose } from "../numeric/matrix.ts";
import type { Crossproducts } from "./crossproducts.ts";
import { type PhiDerivatives, phiDerivatives } from "./phiDerivatives.ts";
import { blockFactor, type PatternState, whiten } from "./whiten.ts";

/** Everything the criterion knows at one value of the relative covariances. */
export interface RemlPoint {
  /** log-likelihood, profiled over fixed effects and sigma (REML or ML). */
  readonly logLikelihood: number;
  readonly sigma2: number;
  /** Relative covariance of each term, [width * width]. */
  readonly gamma: readonly Float64Array[];
  /** W' Vb^-1 W, [m * m]; Vb holds the nested terms only. */
  readonly e: Float64Array;
  /** K: P = Vb^-1 - Vb^-1 W K W' Vb^-1; [m * m]. */
  readonly k: Float64Array;
  /** (X' V^-1 X)^-1 with V scaled by sigma^2; [p * p]. */
  readonly c: Float64Array;
  /** (Zg' Vb^-1 Zg + Gamma_g^-1)^-1 of the crossed terms; [g * g]. */
  readonly tg: Float64Array;
  /** Generalised least-squares coefficients, [p]. */
  readonly beta: Float64Array;
  /** K W' Vb^-1 y, [m]. */
  readonly kwy: Float64Array;
  /** W' Vb^-1 y, [m]. */
  readonly ey: Float64Array;
  readonly states: readonly PatternState[];
  /** G Z'y of each cluster, [pattern][cluster][q]. */
  readonly gzy: readonly (readonly Float64Array[])[];
  phi(): PhiDerivatives;
}

const LOG_2PI = log(2 * Math.PI);

/**
 * Restricted log-likelihood of a linear mixed model at given Cholesky factors of the relative covariances.
 *
 * logLik = -1/2 [(n - p) (log(2 pi sigma^2) + 1) + log|V| + log|X' V^-1 X|], sigma^2 = y'P y / (n - p), the convention
 * of R's lme4 and nlme (no term in X'X). V = I + Z Gamma Z' is never formed: by Woodbury every cluster needs one
 * Cholesky factor of order q, and the crossed terms one of order g.
 *
 * @param factors - lower triangular L with Gamma = L L' for each term, [width * width]
 * @param reml - false: ordinary log-likelihood, sigma^2 = y'P y / n
 * @returns null when a matrix cannot be factored or the residual variance vanishes
 *
 * Source: Lindstrom & Bates (1988), JASA 83, 1014-1022; Bates et al. (2015), J. Stat. Softw. 67(1), section 3.
 */
export function remlPoint(data: Crossproducts, factors: readonly Float64Array[], reml: boolean): RemlPoint | null {
  const { n, p, g, m, terms, crossed } = data;
  const gamma = factors.map((l, t) => {
    const w = terms[t].width;
    const out = new Float64Array(w * w);
    for (let a = 0; a < w; a++)
      for (let b = 0; b < w; b++) for (let c = 0; c < w; c++) out[a * w + b] += l[a * w + c] * l[b * w + c];
    return out;
  });

  const white = whiten(data, factors);
  if (white === null) return null;
  const { e, ey, states, gzy } = white;
  let { yPy, logV } = white;

  const sgg = slice(e, m, [0, g], [0, g]);
  const sgx = slice(e, m, [0, g], [g, m]);
  const sxx = slice(e, m, [g, m], [g, m]);
  let tg: Float64Array = new Float64Array(0);
  let tgx: Float64Array = new Float64Array(0);
  const tgy = new Float64Array(g);
  if (g > 0) {
    const lambda = blockFactor(crossed, factors, data, g);
    const inner = multiplyTransposed(lambda, multiply(sgg, lambda, g, g, g), g, g, g);
    for (let i = 0; i < g; i++) inner[i * g + i] += 1;
    if (!factorCholesky(inner, g)) return null;
    logV += logDeterminant(inner, g);
    const half = new Float64Array(g * g);
    for (let i = 0; i < g; i++) for (let j = 0; j < g; j++) half[i * g + j] = lambda[j * g + i];
    solveLower(inner, g, half, g);
    tg = multiplyTransposed(half, half, g, g, g);
    tgx = multiply(tg, sgx, g, g, p);
    tgy.set(multiplyVector(tg, ey.subarray(0, g), g, g));
    yPy -= dot(ey.subarray(0, g), tgy);
    const correction = multiplyTransposed(sgx, tgx, g, p, p);
    for (let i = 0; i < p * p; i++) sxx[i] -= correction[i];
  }
  const xy = ey.slice(g);
  for (let i = 0; i < g; i++) for (let j = 0; j < p; j++) xy[j] -= sgx[i * p + j] * tgy[i];
  const factor = sxx;
  if (!factorCholesky(factor, p)) return null;
  const logX = logDeterminant(factor, p);
  const c = invertFromCholesky(factor, p);
  const beta = multiplyVector(c, xy, p, p);
  yPy -= dot(beta, xy);
  const dof = reml ? n - p : n;
  const sigma2 = yPy / dof;
  if (!(sigma2 > 0) || !Number.isFinite(logV)) return null;
  const logLikelihood = -0.5 * (dof * (LOG_2PI + log(sigma2) + 1) + logV + (reml ? logX : 0));

  // K in the order [crossed, fixed].
  const k = new Float64Array(m * m);
  const tgxc = multiply(tgx, c, g, p, p);
  const gg = multiply(tgxc, transpose(tgx, g, p), g, p, g);
  for (let i = 0; i < g; i++) {
    for (let j = 0; j < g; j++) k[i * m + j] = tg[i * g + j] + gg[i * g + j];
    for (let j = 0; j < p; j++) {
      k[i * m + g + j] = -tgxc[i * p + j];
      k[(g + j) * m + i] = -tgxc[i * p + j];
    }
  }
  for (let i = 0; i < p; i++) for (let j = 0; j < p; j++) k[(g + i) * m + g + j] = c[i * p + j];
  const kwy = multiplyVector(k, ey, m, m);

  const partial = { logLikelihood, sigma2, gamma, e, k, c, tg, beta, kwy, ey, states, gzy };
  let cached: PhiDerivatives | null = null;
  return {
    ...partial,
    phi() {
      cached ??= phiDerivatives(data, partial, reml);
      return cached;
    },
  };
}
