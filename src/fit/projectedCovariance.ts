import type { PreparedData } from "./fitData.ts";

/**
 * Covariance of (level of the average block, shape parameters) from the gradient columns of the shape.
 *
 * With blocks projected out V = s2 (G'WG)^-1 for the shape. The level is the plain mean over blocks of
 * (block mean of y - block mean of G theta), so var(level) = s2 sum_b 1 / W_b / B^2 + g'Vg and cov(level, shape) = -Vg, with g
 * the mean over blocks of the block means of G.
 *
 * @param gradients - dY/dshape at each plot, at most two columns; shape [q][n]
 * @param s2 - residual variance
 * @returns shape [q + 1][q + 1], level first; null when the columns do not span (singular)
 */
export function projectedCovariance(
  data: PreparedData,
  gradients: readonly Float64Array[],
  s2: number,
): number[][] | null {
  const { block, weight, design } = data;
  const { blockWeight, blocks } = design;
  const q = gradients.length;
  const blockMeans = gradients.map((column) => {
    const out = new Float64Array(blocks);
    for (let i = 0; i < column.length; i++) out[block[i]] += (weight[i] / blockWeight[block[i]]) * column[i];
    return out;
  });
  const centred = gradients.map((column, j) => column.map((value, i) => value - blockMeans[j][block[i]]));
  const product = (a: Float64Array, b: Float64Array): number => {
    let sum = 0;
    for (let i = 0; i < a.length; i++) sum += weight[i] * a[i] * b[i];
    return sum;
  };
  const shape: number[][] = [];
  if (q === 1) {
    const aa = product(centred[0], centred[0]);
    if (!(aa > 0)) return null;
    shape.push([s2 / aa]);
  } else if (q === 2) {
    // Orthogonalised so that near-collinear columns (x and x^2) keep their digits.
    const aa = product(centred[0], centred[0]);
    const r = product(centred[0], centred[1]) / aa;
    const rest = centred[1].map((value, i) => value - r * centred[0][i]);
    const cc = product(rest, rest);
    if (!(aa > 0) || !(cc > 1e-24 * product(centred[1], centred[1]))) return null;
    const covariance = 0 - (r * s2) / cc;
    shape.push([s2 / aa + (r * r * s2) / cc, covariance], [covariance, s2 / cc]);
  }
  let levelVariance = 0;
  for (let b = 0; b < blocks; b++) levelVariance += s2 / blockWeight[b] / (blocks * blocks);
  const g = blockMeans.map((means) => means.reduce((sum, value) => sum + value, 0) / blocks);
  const cross = shape.map((row) => 0 - row.reduce((sum, value, j) => sum + value * g[j], 0));
  levelVariance -= cross.reduce((sum, value, j) => sum + value * g[j], 0);
  return [[levelVariance, ...cross], ...shape.map((row, j) => [cross[j], ...row])];
}
