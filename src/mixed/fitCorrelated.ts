import { log, pow } from "../core/elementary.ts";
import { factorCholesky, invertFromCholesky, logDeterminant, solveLower } from "../numeric/cholesky.ts";
import { multiplyTransposed, multiplyVector } from "../numeric/matrix.ts";

/** Generalised least squares with errors correlated along lines. */
export interface CorrelatedFit {
  readonly coefficients: readonly number[];
  readonly vcov: readonly (readonly number[])[];
  readonly residuals: readonly number[];
  readonly sigma: number;
  /** Correlation one step apart, of the correlated part. */
  readonly rho: number;
  /** Share of the variance that is independent from plot to plot. */
  readonly nuggetShare: number;
  /** Restricted log-likelihood in the convention of R's nlme. */
  readonly logLikelihood: number;
}

/**
 * Restricted maximum likelihood of y = X b + e, Cov(e_i, e_j) = sigma^2 ((1 - nu) rho^|p_i - p_j| + nu [i = j]) within a line.
 *
 * sigma and b are profiled out; rho in [0, 0.999] and nu in [0, 0.999] are searched on a grid and refined by a shrinking
 * pattern search, which needs no derivatives and cannot leave the box. Cost: some 200 dense Cholesky factors of order n.
 *
 * @returns null when X is not of full rank
 *
 * Source: Pinheiro & Bates (2000), Mixed-Effects Models in S and S-PLUS, chapter 5. Oracle: nlme's gls.
 */
export function fitCorrelated(
  y: Float64Array,
  x: readonly Float64Array[],
  position: Float64Array,
  line: readonly string[],
  { correlated, nugget }: { readonly correlated: boolean; readonly nugget: boolean },
): CorrelatedFit | null {
  const at = (rho: number, nu: number): CorrelatedFit | null => evaluate(y, x, position, line, rho, nu);
  let best = at(0, 0);
  if (best === null || !correlated) return best;
  const consider = (rho: number, nu: number): boolean => {
    const fit = at(rho, nu);
    if (fit === null || fit.logLikelihood <= (best as CorrelatedFit).logLikelihood) return false;
    best = fit;
    return true;
  };
  const shares = nugget ? [0, 0.2, 0.5, 0.8] : [0];
  for (const rho of [0.1, 0.3, 0.5, 0.7, 0.85, 0.95]) for (const nu of shares) consider(rho, nu);
  const clip = (v: number): number => Math.min(0.999, Math.max(0, v));
  for (let step = 0.1; step > 1e-8; step *= 0.5) {
    for (let round = 0; round < 20; round++) {
      const { rho, nuggetShare: nu } = best as CorrelatedFit;
      const moved = [
        [step, 0],
        [-step, 0],
        ...(nugget
          ? [
              [0, step],
              [0, -step],
              [step, step],
              [-step, -step],
            ]
          : []),
      ].some(([a, b]) => consider(clip(rho + a), clip(nu + b)));
      if (!moved) break;
    }
  }
  return best;
}

function evaluate(
  y: Float64Array,
  x: readonly Float64Array[],
  position: Float64Array,
  line: readonly string[],
  rho: number,
  nu: number,
): CorrelatedFit | null {
  const n = y.length;
  const p = x.length;
  const v = new Float64Array(n * n);
  for (let i = 0; i < n; i++) {
    v[i * n + i] = 1;
    for (let j = 0; j < i; j++) {
      if (line[i] !== line[j] || rho === 0) continue;
      v[i * n + j] = (1 - nu) * pow(rho, Math.abs(position[i] - position[j]));
      v[j * n + i] = v[i * n + j];
    }
  }
  if (!factorCholesky(v, n)) return null;
  const w = new Float64Array(n * (p + 1));
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < p; j++) w[i * (p + 1) + j] = x[j][i];
    w[i * (p + 1) + p] = y[i];
  }
  solveLower(v, n, w, p + 1);
  const gram = multiplyTransposed(w, w, n, p + 1, p + 1);
  const c = new Float64Array(p * p);
  const right = new Float64Array(p);
  for (let i = 0; i < p; i++) {
    for (let j = 0; j < p; j++) c[i * p + j] = gram[i * (p + 1) + j];
    right[i] = gram[i * (p + 1) + p];
  }
  if (!factorCholesky(c, p)) return null;
  for (let i = 0; i < p; i++) if (!(c[i * p + i] > 1e-7 * Math.sqrt(gram[i * (p + 1) + i]))) return null;
  const logX = logDeterminant(c, p);
  const inverse = invertFromCholesky(c, p);
  const b = multiplyVector(inverse, right, p, p);
  let rss = 0;
  for (let i = 0; i < n; i++) {
    let r = w[i * (p + 1) + p];
    for (let j = 0; j < p; j++) r -= w[i * (p + 1) + j] * b[j];
    rss += r * r;
  }
  const dof = n - p;
  if (!(rss > 0) || dof < 1) return null;
  const sigma2 = rss / dof;
  return {
    coefficients: [...b],
    vcov: Array.from({ length: p }, (_, i) => Array.from({ length: p }, (_, j) => sigma2 * inverse[i * p + j])),
    residuals: Array.from(y, (value, i) => value - x.reduce((sum, column, j) => sum + column[i] * b[j], 0)),
    sigma: Math.sqrt(sigma2),
    rho,
    nuggetShare: nu,
    logLikelihood: -0.5 * (dof * (log(2 * Math.PI * sigma2) + 1) + logDeterminant(v, n) + logX),
  };
}
