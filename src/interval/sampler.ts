import type { RandomStream } from "../core/random.ts";
import type { PreparedData } from "../fit/fitData.ts";
import type { FitRows } from "../fit/leverage.ts";

/** Draws the yields of one replicate, reduced at once to what a refit needs. */
export interface Sampler {
  /**
   * @param sums - receives the level sums of the new yields with blocks projected out; shape [m]
   * @returns their total sum of squares within blocks
   */
  draw(random: RandomStream, sums: Float64Array): number;
  /** Mean over blocks of the block means of the last draw, in yield units. */
  level(): number;
}

/**
 * Residual bootstrap: fitted values plus residuals drawn with replacement from all plots.
 *
 * Each residual r_i sqrt(w_i) is divided by sqrt(1 - h_i), so that its variance is that of an error, and the pool is centred;
 * a draw for plot i is divided by sqrt(w_i). Plots with h_i = 1 have no residual to give and are left out of the pool.
 *
 * With e the draws, block means projected out, the level sums are S = S_fit + E and the total is
 * TSS_fit + 2 sum_l f_l E_l + sum w e^2 - sum_b W_b ebar_b^2, f_l being the fitted curve at level l: one pass over the plots.
 *
 * Source: Davison & Hinkley (1997), section 6.2.3.
 */
export function residualSampler(data: PreparedData, rows: FitRows): Sampler {
  const { weight, design } = data;
  const { level, block, blocks, blockWeight, nobs } = design;
  const m = design.levels.length;
  const pool = residualPool(rows, weight);
  const size = pool.length;
  const root = weight.map(Math.sqrt);
  const equal = weight.every((w) => w === weight[0]);
  const scale = equal ? 1 / root[0] : 1;

  // Projected fitted values: their level sums and total.
  const blockFit = new Float64Array(blocks);
  for (let i = 0; i < nobs; i++) blockFit[block[i]] += (weight[i] / blockWeight[block[i]]) * rows.fitted[i];
  const fitSums = new Float64Array(m);
  const curveAt = new Float64Array(m);
  let fitTotal = 0;
  for (let i = 0; i < nobs; i++) {
    const deviation = rows.fitted[i] - blockFit[block[i]];
    fitSums[level[i]] += weight[i] * deviation;
    curveAt[level[i]] = rows.curve[i];
    fitTotal += weight[i] * deviation * deviation;
  }
  const fitLevel = blockFit.reduce((sum, value) => sum + value, 0) / blocks;
  const cells = levelBlockCells(data);

  const blockSum = new Float64Array(blocks);
  const errors = new Float64Array(m);
  let blockMeanSum = 0;

  function draw(random: RandomStream, sums: Float64Array): number {
    blockSum.fill(0);
    errors.fill(0);
    let squares = 0;
    if (equal) {
      const w = weight[0];
      for (let i = 0; i < nobs; i++) {
        const e = pool[random.below(size)];
        blockSum[block[i]] += e;
        errors[level[i]] += e;
        squares += e * e;
      }
      // e = scale x pool; w e^2 = pool^2 because scale = 1 / sqrt(w).
      const factor = w * scale;
      for (let b = 0; b < blocks; b++) blockSum[b] *= factor;
      for (let l = 0; l < m; l++) errors[l] *= factor;
    } else {
      for (let i = 0; i < nobs; i++) {
        const e = pool[random.below(size)];
        const weighted = root[i] * e;
        blockSum[block[i]] += weighted;
        errors[level[i]] += weighted;
        squares += e * e;
      }
    }
    blockMeanSum = 0;
    let total = fitTotal + squares;
    for (let b = 0; b < blocks; b++) {
      const mean = blockSum[b] / blockWeight[b];
      total -= blockSum[b] * mean;
      blockMeanSum += mean;
      blockSum[b] = mean;
    }
    for (let c = 0; c < cells.level.length; c++) errors[cells.level[c]] -= cells.weight[c] * blockSum[cells.block[c]];
    for (let l = 0; l < m; l++) {
      total += 2 * curveAt[l] * errors[l];
      sums[l] = fitSums[l] + errors[l];
    }
    return total;
  }

  return { draw, level: () => fitLevel + blockMeanSum / blocks };
}

/** Leverage-adjusted, centred residuals on the scale of one unit of weight. */
export function residualPool({ residuals, leverage }: FitRows, weight: Float64Array): Float64Array {
  const kept: number[] = [];
  for (let i = 0; i < residuals.length; i++) {
    if (leverage[i] < 1 - 1e-9) kept.push((residuals[i] * Math.sqrt(weight[i])) / Math.sqrt(1 - leverage[i]));
  }
  const mean = kept.reduce((sum, value) => sum + value, 0) / kept.length;
  return Float64Array.from(kept, (value) => value - mean);
}

/** Non-empty (level, block) cells with their weight. */
function levelBlockCells({ design, weight }: PreparedData): {
  level: Int32Array;
  block: Int32Array;
  weight: Float64Array;
} {
  const cells = new Map<number, number>();
  for (let i = 0; i < design.nobs; i++) {
    const key = design.level[i] * design.blocks + design.block[i];
    cells.set(key, (cells.get(key) ?? 0) + weight[i]);
  }
  const keys = [...cells.keys()];
  return {
    level: Int32Array.from(keys, (key) => Math.floor(key / design.blocks)),
    block: Int32Array.from(keys, (key) => key % design.blocks),
    weight: Float64Array.from(cells.values()),
  };
}
