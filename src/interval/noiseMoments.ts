import { log, square } from "../core/elementary.ts";
import type { RandomStream } from "../core/random.ts";
import type { JoinDesign } from "../numeric/joinDesign.ts";

/** Draws what normal errors add to the level sums and to the total sum of squares, without drawing every plot's error. */
export interface NoiseMoments {
  /**
   * @param sums - receives the level sums of errors with variance 1 / w and blocks projected out; shape [m]
   * @returns their total sum of squares within blocks
   */
  draw(random: RandomStream, sums: Float64Array): number;
}

/**
 * The level sums of projected normal errors are normal with covariance C = diag(W_l) - sum_b w_lb w_b' / W_b, so S = L z with
 * C = L L' and z standard normal; the total is z'z plus an independent chi-square on the degrees of freedom left beside blocks
 * and densities (Cochran's theorem).
 */
export function noiseMoments(design: JoinDesign): NoiseMoments {
  const { level, block, blocks, weight, blockWeight, levelWeight, nobs } = design;
  const m = levelWeight.length;
  const cells = new Float64Array(m * blocks);
  for (let i = 0; i < nobs; i++) cells[level[i] * blocks + block[i]] += weight[i];
  const c = Array.from({ length: m }, (_, l) =>
    Float64Array.from({ length: m }, (_unused, k) => {
      let value = l === k ? levelWeight[l] : 0;
      for (let b = 0; b < blocks; b++) value -= (cells[l * blocks + b] * cells[k * blocks + b]) / blockWeight[b];
      return value;
    }),
  );
  // Cholesky; a level that the others and the blocks determine has no column (its pivot is rounding noise).
  const root = Array.from({ length: m }, () => new Float64Array(m));
  let rank = 0;
  for (let j = 0; j < m; j++) {
    let pivot = c[j][j];
    for (let k = 0; k < rank; k++) pivot -= root[j][k] * root[j][k];
    if (pivot <= 1e-11 * levelWeight[j]) continue;
    for (let l = j; l < m; l++) {
      let value = c[l][j];
      for (let k = 0; k < rank; k++) value -= root[l][k] * root[j][k];
      root[l][rank] = value / Math.sqrt(pivot);
    }
    rank++;
  }
  const rest = nobs - blocks - rank;
  const z = new Float64Array(rank);
  return {
    draw(random, sums) {
      let total = 0;
      for (let k = 0; k < rank; k++) {
        z[k] = random.normal();
        total += z[k] * z[k];
      }
      for (let l = 0; l < m; l++) {
        const row = root[l];
        let sum = 0;
        for (let k = 0; k < rank; k++) sum += row[k] * z[k];
        sums[l] = sum;
      }
      return total + chiSquare(random, rest);
    },
  };
}

/** Chi-square variate. Source: Marsaglia & Tsang (2000), ACM Transactions on Mathematical Software 26, 363-372. */
function chiSquare(random: RandomStream, dof: number): number {
  if (dof <= 0) return 0;
  if (dof === 1) return square(random.normal());
  const d = dof / 2 - 1 / 3;
  const c = 1 / Math.sqrt(9 * d);
  for (;;) {
    const x = random.normal();
    const base = 1 + c * x;
    const v = base * base * base;
    if (v > 0 && log(1 - random.next()) < 0.5 * x * x + d * (1 - v + log(v))) return 2 * d * v;
  }
}
