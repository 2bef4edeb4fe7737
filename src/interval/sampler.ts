import type { PreparedData } from "../fit/fitData.ts";
import type { FitRows } from "../fit/leverage.ts";

/** Draws the yields of one replicate, reduced at once to what a refit needs. */
export interface Sampler {
  /** Starts the numbered random stream; draws follow one another from there. */
  begin(seed: number, stream: number): void;
  /**
   * @param sums - receives the level sums of the new yields with blocks projected out; shape [m]
   * @returns their total sum of squares within blocks
   */
  draw(sums: Float64Array): number;
  /** Mean over blocks of the block means of the last draw, in yield units. */
  level(): number;
}

/** A residual sampler that can also be told which residual every plot gets. */
export interface ResidualSampler extends Sampler {
  /** As `draw`, with plot i given the residual of the pool numbered indices[i]; shape [n]. */
  drawGiven(indices: ArrayLike<number>, sums: Float64Array): number;
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
 * The generator is that of `core/random.ts` written out in the loop: a call a draw would cost more than the draw. A test
 * holds the two to the same numbers.
 *
 * Source: Davison & Hinkley (1997), section 6.2.3.
 */
export function residualSampler(
  data: PreparedData,
  rows: FitRows,
  pool: Float64Array = residualPool(rows, data.weight),
): ResidualSampler {
  const { design } = data;
  const { level, block, nobs } = design;
  const size = pool.length;
  const scale = size / 4294967296;
  const { root, errors, blockSum, finish, level: levelOfLast } = accumulator(data, rows);
  const equal = root === null;

  // State of sfc32; see core/random.ts.
  let a = 0;
  let b = 0;
  let c = 0;
  let counter = 1;

  function begin(seed: number, stream: number): void {
    a = seed >>> 0;
    b = Math.floor(seed / 4294967296) >>> 0;
    c = stream >>> 0;
    counter = 1;
    for (let i = 0; i < 16; i++) {
      const t = (((a + b) | 0) + counter) | 0;
      counter = (counter + 1) | 0;
      a = b ^ (b >>> 9);
      b = (c + (c << 3)) | 0;
      c = (((c << 21) | (c >>> 11)) + t) | 0;
    }
  }

  function draw(sums: Float64Array): number {
    let sa = a;
    let sb = b;
    let sc = c;
    let count = counter;
    let squares = 0;
    for (let i = 0; i < nobs; i++) {
      const t = (((sa + sb) | 0) + count) | 0;
      count = (count + 1) | 0;
      sa = sb ^ (sb >>> 9);
      sb = (sc + (sc << 3)) | 0;
      sc = (((sc << 21) | (sc >>> 11)) + t) | 0;
      const e = pool[((t >>> 0) * scale) | 0];
      const weighted = equal ? e : root[i] * e;
      blockSum[block[i]] += weighted;
      errors[level[i]] += weighted;
      squares += e * e;
    }
    a = sa;
    b = sb;
    c = sc;
    counter = count;
    return finish(squares, sums);
  }

  function drawGiven(indices: ArrayLike<number>, sums: Float64Array): number {
    let squares = 0;
    for (let i = 0; i < nobs; i++) {
      const e = pool[indices[i]];
      const weighted = equal ? e : root[i] * e;
      blockSum[block[i]] += weighted;
      errors[level[i]] += weighted;
      squares += e * e;
    }
    return finish(squares, sums);
  }

  return { begin, draw, drawGiven, level: levelOfLast };
}

/** Sums of drawn errors on the scale of one unit of weight, and what turns them into the moments of new yields. */
export interface Accumulator {
  /** sqrt(w_i): what a draw of plot i is multiplied by when it is added up; null when all weights are equal. */
  readonly root: Float64Array | null;
  /** Add the draws here, times `root`; shape [m] and [B]. `finish` leaves them empty for the next replicate. */
  readonly errors: Float64Array;
  readonly blockSum: Float64Array;
  /** Level sums into `sums`; returns the total sum of squares. */
  finish(squares: number, sums: Float64Array): number;
  level(): number;
}

/** See `residualSampler` for the algebra. Draws are on the scale sqrt(w) e. */
export function accumulator(data: PreparedData, rows: FitRows): Accumulator {
  const { weight, design } = data;
  const { level, block, blocks, blockWeight, nobs } = design;
  const m = design.levels.length;
  const equal = weight.every((w) => w === weight[0]);
  const root = weight.map(Math.sqrt);
  // With equal weights the factor sqrt(w) is taken out of the sums.
  const factor = equal ? weight[0] * (1 / root[0]) : 1;

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
  const cellLevel = cells.level;
  const cellBlock = cells.block;
  const cellWeight = cells.weight;
  const cellCount = cellLevel.length;

  const blockSum = new Float64Array(blocks);
  const blockMean = new Float64Array(blocks);
  const errors = new Float64Array(m);
  let blockMeanSum = 0;

  function finish(squares: number, sums: Float64Array): number {
    blockMeanSum = 0;
    let total = fitTotal + squares;
    for (let b = 0; b < blocks; b++) {
      const sum = blockSum[b] * factor;
      const mean = sum / blockWeight[b];
      total -= sum * mean;
      blockMeanSum += mean;
      blockMean[b] = mean;
      blockSum[b] = 0;
    }
    for (let l = 0; l < m; l++) errors[l] *= factor;
    for (let k = 0; k < cellCount; k++) errors[cellLevel[k]] -= cellWeight[k] * blockMean[cellBlock[k]];
    for (let l = 0; l < m; l++) {
      const error = errors[l];
      total += 2 * curveAt[l] * error;
      sums[l] = fitSums[l] + error;
      errors[l] = 0;
    }
    return total;
  }

  return {
    root: equal ? null : root,
    errors,
    blockSum,
    finish,
    level: () => fitLevel + blockMeanSum / blocks,
  };
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
