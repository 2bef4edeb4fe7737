import type { PreparedData } from "../fit/fitData.ts";
import type { FitRows } from "../fit/leverage.ts";

/** Errors of one replicate and what turns them into the moments of new yields. */
export interface Accumulator {
  /** Write the errors here, on the scale of one unit of weight: sqrt(w) e; shape [n]. */
  readonly drawn: Float64Array;
  /** Level sums of fitted values plus errors into `sums`; returns their total sum of squares within blocks. */
  finish(sums: Float64Array): number;
  /** Mean over blocks of the block means of those yields. */
  level(): number;
}

/**
 * With e the errors and block means projected out, the level sums are S = S_fit + E and the total is
 * TSS_fit + 2 sum_l f_l E_l + sum w e^2 - sum_b W_b ebar_b^2, f_l being the fitted curve at level l.
 *
 * Sums run down lists of the plots of a block, of a level, and of the (level, block) cells of a level, so that each is built in
 * a register: adding to an array from plot to plot would wait for the memory every time.
 */
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
    curveAt[level[i]] = 2 * rows.curve[i];
    fitTotal += weight[i] * deviation * deviation;
  }
  const fitLevel = blockFit.reduce((sum, value) => sum + value, 0) / blocks;

  const ofBlock = groupedBy(block, blocks);
  const ofLevel = groupedBy(level, m);
  const cells = levelBlockCells(data);
  const cellsOfLevel = groupedBy(cells.level, m);
  const cellBlock = cellsOfLevel.members.map((k) => cells.block[k]);
  const cellWeight = Float64Array.from(cellsOfLevel.members, (k) => cells.weight[k]);
  const blockMembers = ofBlock.members;
  const blockEnd = ofBlock.end;
  const levelMembers = ofLevel.members;
  const levelEnd = ofLevel.end;
  const cellEnd = cellsOfLevel.end;

  const drawn = new Float64Array(nobs);
  const blockMean = new Float64Array(blocks);
  const mean = new Float64Array(1);

  function finish(sums: Float64Array): number {
    let squares = 0;
    for (let i = 0; i < nobs; i++) squares += drawn[i] * drawn[i];
    if (!equal) for (let i = 0; i < nobs; i++) drawn[i] *= root[i];
    let total = fitTotal + squares;
    let means = 0;
    for (let b = 0, i = 0; b < blocks; b++) {
      let sum = 0;
      for (const end = blockEnd[b]; i < end; i++) sum += drawn[blockMembers[i]];
      sum *= factor;
      const average = sum / blockWeight[b];
      total -= sum * average;
      means += average;
      blockMean[b] = average;
    }
    mean[0] = fitLevel + means / blocks;
    for (let l = 0, i = 0, k = 0; l < m; l++) {
      let error = 0;
      for (const end = levelEnd[l]; i < end; i++) error += drawn[levelMembers[i]];
      error *= factor;
      for (const end = cellEnd[l]; k < end; k++) error -= cellWeight[k] * blockMean[cellBlock[k]];
      total += curveAt[l] * error;
      sums[l] = fitSums[l] + error;
    }
    return total;
  }

  return { drawn, finish, level: () => mean[0] };
}

/** Members of each group one after another, and where each group ends. */
function groupedBy(group: Int32Array, groups: number): { members: Int32Array; end: Int32Array } {
  const members = Int32Array.from(group, (_, i) => i).sort((i, j) => group[i] - group[j] || i - j);
  const end = new Int32Array(groups);
  for (const g of group) end[g]++;
  for (let g = 1; g < groups; g++) end[g] += end[g - 1];
  return { members, end };
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
