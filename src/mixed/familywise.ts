import { cos, exp, log } from "../core/elementary.ts";
import { studentizedRangeUpper, tTwoSided } from "../numeric/distributions.ts";

/** One comparison among k estimates. */
export interface PairStatistic {
  /** |difference| / its standard error. */
  readonly t: number;
  readonly dof: number;
}

/** Up to this many pairs every p is integrated by itself. */
const DIRECT = 60;
const NODES = 40;

/**
 * p-values of all pairs together, P(Q_k > sqrt 2 t) of the studentised range (Tukey-Kramer).
 *
 * With many pairs the integral is taken once per Chebyshev node of log P over the range of the statistics, at the smallest
 * degrees of freedom of all pairs (cautious), and interpolated: good to 1e-7 relative, see the test.
 *
 * Source: Kramer (1956), Biometrics 12, 307-310; Trefethen (2013), Approximation Theory and Practice, chapter 5.
 */
export function familywiseP(pairs: readonly PairStatistic[], k: number): number[] {
  if (k <= 2) return pairs.map(({ t, dof }) => tTwoSided(t, dof));
  if (pairs.length <= DIRECT) return pairs.map(({ t, dof }) => studentizedRangeUpper(t * Math.SQRT2, k, dof));
  const dof = pairs.reduce((least, pair) => Math.min(least, pair.dof), Number.POSITIVE_INFINITY);
  // Beyond 12 the p-value is far below anything that matters; those few are integrated directly.
  const top = Math.min(12, Math.max(1, ...pairs.map(({ t }) => t * Math.SQRT2)) * 1.0001);
  const angles = Array.from({ length: NODES }, (_, i) => (Math.PI * i) / (NODES - 1));
  const nodes = angles.map((angle) => 0.5 * top * (1 + cos(angle)));
  const values = nodes.map((q) => log(studentizedRangeUpper(q, k, dof)));
  return pairs.map(({ t }) => {
    const q = t * Math.SQRT2;
    if (q > top) return studentizedRangeUpper(q, k, dof);
    // Barycentric formula of Chebyshev points of the second kind.
    let numerator = 0;
    let denominator = 0;
    for (let i = 0; i < NODES; i++) {
      const gap = q - nodes[i];
      if (gap === 0) return exp(values[i]);
      const weight = (i % 2 === 0 ? 1 : -1) * (i === 0 || i === NODES - 1 ? 0.5 : 1);
      numerator += (weight / gap) * values[i];
      denominator += weight / gap;
    }
    return Math.min(1, exp(numerator / denominator));
  });
}
