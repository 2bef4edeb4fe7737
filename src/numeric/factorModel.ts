import type { JoinDesign } from "./joinDesign.ts";

/**
 * Residual sum of squares and degrees of freedom of yield on blocks plus density as a factor (no curve at all): what is left
 * is pure error, the yardstick for lack of fit.
 *
 * Density levels are projected out first, the blocks are solved from C beta = T with
 * C = diag(W_b) - sum_l W_bl W_bl' / W_l by a Cholesky factorisation with pivoting, whose rank tells how many block contrasts
 * the layout can estimate.
 *
 * @returns `ss` >= 0 and `dof` = n - m - rank(C)
 *
 * Source: Searle (1987), Linear Models for Unbalanced Data, ch. 4 (two-way layout without interaction).
 */
export function factorModel(design: JoinDesign, y: Float64Array): { ss: number; dof: number } {
  const { level, block, weight, blocks, levelWeight, nobs } = design;
  const m = design.levels.length;
  const levelMean = new Float64Array(m);
  for (let i = 0; i < nobs; i++) levelMean[level[i]] += (weight[i] / levelWeight[level[i]]) * y[i];
  let ss = 0;
  const target = new Float64Array(blocks);
  const cells = new Map<number, number>();
  for (let i = 0; i < nobs; i++) {
    const deviation = y[i] - levelMean[level[i]];
    ss += weight[i] * deviation * deviation;
    target[block[i]] += weight[i] * deviation;
    const cell = level[i] * blocks + block[i];
    cells.set(cell, (cells.get(cell) ?? 0) + weight[i]);
  }
  const c = Array.from({ length: blocks }, (_, b) => {
    const row = new Float64Array(blocks);
    row[b] = design.blockWeight[b];
    return row;
  });
  const byLevel = Array.from({ length: m }, () => [] as [number, number][]);
  for (const [cell, w] of cells) byLevel[Math.floor(cell / blocks)].push([cell % blocks, w]);
  byLevel.forEach((entries, l) => {
    for (const [a, wa] of entries) for (const [b, wb] of entries) c[a][b] -= (wa * wb) / levelWeight[l];
  });
  const { rank, gain } = solvePivoted(c, target, Math.max(...design.blockWeight));
  return { ss: Math.max(ss - gain, 0), dof: nobs - m - rank };
}

/**
 * Rank of a positive semidefinite matrix and target' C^- target, by Cholesky with diagonal pivoting (in place).
 *
 * `scale` is the size its diagonal had before the levels were projected out: one block leaves nothing but rounding there.
 */
function solvePivoted(c: Float64Array[], target: Float64Array, scale: number): { rank: number; gain: number } {
  const n = c.length;
  const left = new Set(c.keys());
  let rank = 0;
  let gain = 0;
  while (left.size > 0) {
    let pivot = -1;
    for (const i of left) if (pivot < 0 || c[i][i] > c[pivot][pivot]) pivot = i;
    if (!(c[pivot][pivot] > 1e-10 * scale)) break;
    left.delete(pivot);
    rank++;
    gain += (target[pivot] * target[pivot]) / c[pivot][pivot];
    for (const i of left) {
      const factor = c[i][pivot] / c[pivot][pivot];
      if (factor === 0) continue;
      target[i] -= factor * target[pivot];
      for (let j = 0; j < n; j++) if (left.has(j)) c[i][j] -= factor * c[pivot][j];
    }
  }
  return { rank, gain };
}
