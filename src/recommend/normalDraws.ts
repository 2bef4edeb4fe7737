import type { RandomStream } from "../core/random.ts";

/**
 * Lower triangular L with L L' = V, for drawing from N(0, V). Directions without variance (or with rounding noise for it) get none.
 *
 * @param vcov - symmetric, shape [p][p]
 * @returns shape [p][p]
 */
export function lowerFactor(vcov: readonly (readonly number[])[]): Float64Array[] {
  const p = vcov.length;
  const factor = Array.from({ length: p }, () => new Float64Array(p));
  for (let j = 0; j < p; j++) {
    let pivot = vcov[j][j];
    for (let k = 0; k < j; k++) pivot -= factor[j][k] * factor[j][k];
    if (!(pivot > 1e-14 * Math.abs(vcov[j][j]))) continue;
    factor[j][j] = Math.sqrt(pivot);
    for (let i = j + 1; i < p; i++) {
      let sum = vcov[i][j];
      for (let k = 0; k < j; k++) sum -= factor[i][k] * factor[j][k];
      factor[i][j] = sum / factor[j][j];
    }
  }
  return factor;
}

/** One draw from N(0, L L') times `scale`; shape [p]. */
export function timesFactor(factor: readonly Float64Array[], random: RandomStream, scale: number): Float64Array {
  const z = Float64Array.from(factor, () => random.normal());
  return Float64Array.from(factor, (row) => scale * row.reduce((sum, value, k) => sum + value * z[k], 0));
}
