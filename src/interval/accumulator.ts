import type { PreparedData } from "../fit/fitData.ts";
import type { FitRows } from "../fit/leverage.ts";
import type { JoinDesign } from "../numeric/joinDesign.ts";

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
 * In most trials every block holds the densities in the same shares (w_lb = W_l W_b / W). Then a level loses W_l times one mean,
 * and its (level, block) cells need not be gone through one by one.
 */
export function accumulator(data: PreparedData, rows: FitRows): Accumulator {
  const { weight, design } = data;
  const { level, block, blocks, blockWeight, levelWeight, nobs } = design;
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

  const { members, end: blockEnd } = groupedBy(block, blocks);
  const levelOf = members.map((i) => level[i]);
  const cells = levelBlockCells(data);
  const { members: cellOrder, end: cellEnd } = groupedBy(cells.level, m);
  const cellBlock = cellOrder.map((k) => cells.block[k]);
  const cellWeight = Float64Array.from(cellOrder, (k) => cells.weight[k]);
  const perWeight = 1 / weight.reduce((sum, w) => sum + w, 0);
  const even = isEven(design, cells);

  const drawn = new Float64Array(nobs);
  const errors = new Float64Array(m);
  const blockMean = new Float64Array(blocks);
  const mean = new Float64Array(1);

  function finish(sums: Float64Array): number {
    let squares = 0;
    if (!equal) {
      for (let i = 0; i < nobs; i++) {
        squares += drawn[i] * drawn[i];
        drawn[i] *= root[i];
      }
    }
    let total = fitTotal;
    let all = 0;
    let means = 0;
    for (let b = 0, i = 0; b < blocks; b++) {
      let sum = 0;
      for (const end = blockEnd[b]; i < end; i++) {
        const e = drawn[members[i]];
        sum += e;
        errors[levelOf[i]] += e;
        if (equal) squares += e * e;
      }
      sum *= factor;
      const average = sum / blockWeight[b];
      total -= sum * average;
      all += sum;
      means += average;
      blockMean[b] = average;
    }
    mean[0] = fitLevel + means / blocks;
    all *= perWeight;
    for (let l = 0, k = 0; l < m; l++) {
      let error = errors[l] * factor;
      errors[l] = 0;
      if (even) error -= levelWeight[l] * all;
      else for (const end = cellEnd[l]; k < end; k++) error -= cellWeight[k] * blockMean[cellBlock[k]];
      total += curveAt[l] * error;
      sums[l] = fitSums[l] + error;
    }
    return total + squares;
  }

  return { drawn, finish, level: () => mean[0] };
}

/** Whether every block holds the levels in the same shares. */
function isEven({ levelWeight, blockWeight }: JoinDesign, { level, block, weight }: Cells): boolean {
  const all = blockWeight.reduce((sum, w) => sum + w, 0);
  return (
    weight.length === levelWeight.length * blockWeight.length &&
    weight.every((w, k) => Math.abs(w * all - levelWeight[level[k]] * blockWeight[block[k]]) <= 1e-13 * w * all)
  );
}

/** Members of each group one after another, and where each group ends. */
function groupedBy(group: Int32Array, groups: number): { members: Int32Array; end: Int32Array } {
  const members = Int32Array.from(group, (_, i) => i).sort((i, j) => group[i] - group[j] || i - j);
  const end = new Int32Array(groups);
  for (const g of group) end[g]++;
  for (let g = 1; g < groups; g++) end[g] += end[g - 1];
  return { members, end };
}

interface Cells {
  readonly level: Int32Array;
  readonly block: Int32Array;
  readonly weight: Float64Array;
}

/** Non-empty (level, block) cells with their weight. */
function levelBlockCells({ design, weight }: PreparedData): Cells {
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
