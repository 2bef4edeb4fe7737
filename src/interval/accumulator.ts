import type { PreparedData } from "../fit/fitData.ts";
import type { FitRows } from "../fit/leverage.ts";
import type { JoinDesign } from "../numeric/joinDesign.ts";

/** Errors of one replicate and what turns them into the moments of new yields. */
export interface Accumulator {
  /** Write the errors here, on the scale of one unit of weight: sqrt(w) e; shape [n]. */
  readonly drawn: Float64Array;
  /** Turns them into `moments`. */
  finish(): void;
  /**
   * Of fitted values plus errors: level sums with blocks projected out, shape [m], then the total sum of squares within blocks, then the
   * mean over blocks of the block means.
   */
  readonly moments: Float64Array;
}

/**
 * With e the errors and block means projected out, the level sums are S = S_fit + E and the total is
 * TSS_fit + 2 sum_l f_l E_l + sum w e^2 - sum_b W_b ebar_b^2, f_l being the fitted curve at level l.
 *
 * In most trials every block holds the densities in the same shares (w_lb = W_l W_b / W). Then a level loses W_l times one mean,
 * and its (level, block) cells need not be gone through one by one.
 *
 * Loops are functions of their own with all arrays as arguments, as in `refitKernel.ts`, for speed.
 */
export function accumulator(data: PreparedData, rows: FitRows): Accumulator {
  const { weight, design } = data;
  const { level, block, blocks, blockWeight, levelWeight, nobs } = design;
  const m = design.levels.length;
  const equal = weight.every((w) => w === weight[0]);
  // With equal weights the factor sqrt(w) is taken out of the draws.
  const root = equal ? null : weight.map(Math.sqrt);
  const factor = equal ? Math.sqrt(weight[0]) : 1;

  // Projected fitted values: their level sums and total.
  const blockFit = new Float64Array(blocks);
  for (let i = 0; i < nobs; i++) blockFit[block[i]] += (weight[i] / blockWeight[block[i]]) * rows.fitted[i];
  const fitSums = new Float64Array(m);
  const twiceCurve = new Float64Array(m);
  let fitTotal = 0;
  for (let i = 0; i < nobs; i++) {
    const deviation = rows.fitted[i] - blockFit[block[i]];
    fitSums[level[i]] += weight[i] * deviation;
    twiceCurve[level[i]] = 2 * rows.curve[i];
    fitTotal += weight[i] * deviation * deviation;
  }
  const fitLevel = blockFit.reduce((sum, value) => sum + value, 0) / blocks;

  const plots = groupedBy(block, blocks);
  const levelOf = plots.members.map((i) => level[i]);
  const cells = levelBlockCells(data);
  const even = isEven(design, cells);
  const perWeight = 1 / weight.reduce((sum, w) => sum + w, 0);

  const drawn = new Float64Array(nobs);
  const errors = new Float64Array(m);
  const blockMean = new Float64Array(blocks);
  const found = new Float64Array(4);

  const moments = new Float64Array(m + 2);

  function finish(): void {
    const squares = root === null ? 0 : weigh(drawn, root);
    addUp(drawn, plots.members, levelOf, plots.end, factor, blockWeight, errors, blockMean, found);
    found[2] *= perWeight;
    if (even) takeMean(errors, levelWeight, found);
    else takeMeans(errors, cells.level, cells.block, cells.weight, blockMean);
    addToFit(errors, fitSums, twiceCurve, moments);
    moments[m] += fitTotal + (root === null ? found[0] : squares) - found[1];
    moments[m + 1] = fitLevel + found[3] / blocks;
  }

  return { drawn, finish, moments };
}

/** Multiplies the draws by sqrt(w); returns their sum of squares before. */
function weigh(drawn: Float64Array, root: Float64Array): number {
  let squares = 0;
  for (let i = 0; i < drawn.length; i++) {
    squares += drawn[i] * drawn[i];
    drawn[i] *= root[i];
  }
  return squares;
}

/**
 * Adds draws to their levels, and block by block to `found`: [0] sum of squares, [1] sum_b W_b ebar_b^2, [2] sum, [3] sum of means.
 */
function addUp(
  drawn: Float64Array,
  plots: Int32Array,
  levelOf: Int32Array,
  blockEnd: Int32Array,
  factor: number,
  blockWeight: Float64Array,
  errors: Float64Array,
  blockMean: Float64Array,
  found: Float64Array,
): void {
  const blocks = blockEnd.length;
  let squares = 0;
  let between = 0;
  let all = 0;
  let means = 0;
  let i = 0;
  for (let b = 0; b < blocks; b++) {
    let sum = 0;
    for (const end = blockEnd[b]; i < end; i++) {
      const e = drawn[plots[i]];
      sum += e;
      squares += e * e;
      errors[levelOf[i]] += e * factor;
    }
    sum *= factor;
    const mean = sum / blockWeight[b];
    between += sum * mean;
    all += sum;
    means += mean;
    blockMean[b] = mean;
  }
  found[0] = squares;
  found[1] = between;
  found[2] = all;
  found[3] = means;
}

function takeMean(errors: Float64Array, levelWeight: Float64Array, found: Float64Array): void {
  const mean = found[2];
  for (let l = 0; l < errors.length; l++) errors[l] -= levelWeight[l] * mean;
}

function takeMeans(
  errors: Float64Array,
  level: Int32Array,
  block: Int32Array,
  weight: Float64Array,
  blockMean: Float64Array,
): void {
  for (let k = 0; k < level.length; k++) errors[level[k]] -= weight[k] * blockMean[block[k]];
}

/** Level sums of fit and errors, then 2 sum_l f_l E_l; empties the errors. */
function addToFit(errors: Float64Array, fitSums: Float64Array, twiceCurve: Float64Array, moments: Float64Array): void {
  let cross = 0;
  for (let l = 0; l < errors.length; l++) {
    const error = errors[l];
    errors[l] = 0;
    cross += twiceCurve[l] * error;
    moments[l] = fitSums[l] + error;
  }
  moments[errors.length] = cross;
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
