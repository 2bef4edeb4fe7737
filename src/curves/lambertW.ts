import { exp, log, log1p } from "../core/elementary.ts";
import { check } from "../core/errors.ts";

const INVERSE_E = 0.36787944117144233;

/**
 * Principal branch of Lambert's W: the w >= -1 with w exp(w) = z.
 *
 * @param z - a finite number >= -1/e
 * @throws AnalysisError `invalid-option` when z is below -1/e or not finite
 * @example
 * lambertW(Math.E); // => 1
 *
 * Source: Corless, Gonnet, Hare, Jeffrey & Knuth (1996), On the Lambert W function, Advances in Computational Mathematics 5,
 * 329-359: series 4.22 at the branch point, 4.18 for large z, Halley's iteration 5.9.
 */
export function lambertW(z: number): number {
  check(z >= -INVERSE_E && z < Infinity, "invalid-option", `z must be finite and at least -1/e, got ${z}`);
  if (z === 0) return 0;
  let w: number;
  if (z < -0.25) {
    const p = Math.sqrt(Math.max(0, 2 * (Math.E * z + 1)));
    w = -1 + p - (p * p) / 3 + (11 / 72) * (p * p * p);
    if (p < 1e-4) return w; // the iteration divides by w + 1
  } else if (z < 3) {
    w = log1p(z) * (1 - log1p(log1p(z)) / (2 + log1p(z)));
  } else {
    const l = log(z);
    w = l - log(l);
  }
  for (let i = 0; i < 50; i++) {
    // in logarithms for large w, where exp(w) would overflow
    const excess = w > 1 ? w + log(w / z) : 0;
    const step =
      w > 1 ? (excess * w) / (w + 1) : (w - z * exp(-w)) / (w + 1 - ((w + 2) * (w - z * exp(-w))) / (2 * w + 2));
    w -= step;
    if (Math.abs(step) <= 4e-16 * Math.abs(w)) break;
  }
  return w;
}
