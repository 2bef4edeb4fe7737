import { pow } from "../core/elementary.ts";

/** Nodes and weights for integrals of f(u) against the standard normal density. */
export interface NormalQuadrature {
  readonly nodes: Float64Array;
  /** They sum to 1. */
  readonly weights: Float64Array;
}

/**
 * Gauss-Hermite quadrature for the standard normal: exact for polynomials up to degree 2 n - 1.
 *
 * Nodes are the roots of the orthonormal Hermite polynomial h_n, found by Newton from the outside inwards; weights are
 * 1 / (n h_{n-1}^2).
 *
 * @param n - number of nodes, 1 to 60
 *
 * Source: Abramowitz & Stegun (1964), 25.4.46; starting values as in Stroud & Secrest (1966), Gaussian Quadrature Formulas.
 */
export function normalQuadrature(n: number): NormalQuadrature {
  const nodes = new Float64Array(n);
  const weights = new Float64Array(n);
  const half = Math.floor((n + 1) / 2);
  let t = 0;
  for (let i = 0; i < half; i++) {
    // Guesses are for the weight exp(-t^2), whose roots are those wanted over sqrt(2).
    if (i === 0) t = Math.sqrt(2 * n + 1) - 1.85575 * pow(2 * n + 1, -1 / 6);
    else if (i === 1) t -= (1.14 * pow(n, 0.426)) / t;
    else if (i === 2) t = 1.86 * t - 0.86 * (nodes[0] / Math.SQRT2);
    else if (i === 3) t = 1.91 * t - 0.91 * (nodes[1] / Math.SQRT2);
    else t = 2 * t - nodes[i - 2] / Math.SQRT2;
    let u = t * Math.SQRT2;
    let below = 0;
    for (let step = 0; step < 100; step++) {
      // h_0 = 1, sqrt(k + 1) h_{k+1} = u h_k - sqrt(k) h_{k-1}; h_n' = sqrt(n) h_{n-1}.
      let [previous, current] = [0, 1];
      for (let k = 0; k < n; k++)
        [previous, current] = [current, (u * current - Math.sqrt(k) * previous) / Math.sqrt(k + 1)];
      below = previous;
      const move = current / (Math.sqrt(n) * previous);
      u -= move;
      if (Math.abs(move) <= 1e-15 * (1 + Math.abs(u))) break;
    }
    if (2 * i + 1 === n) u = 0;
    t = u / Math.SQRT2;
    nodes[i] = u;
    nodes[n - 1 - i] = -u;
    weights[i] = 1 / (n * below * below);
    weights[n - 1 - i] = weights[i];
  }
  return { nodes, weights };
}
