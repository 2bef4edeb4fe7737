/**
 * What a density trial's layout alone fixes about its plateau fits: everything here depends on the densities, blocks and
 * weights, nothing on the yields, so a bootstrap builds it once.
 *
 * Model: y_i = level_b(i) - k g_i(J) + e_i with g_i(J) = max(J - x_i, 0)^p, p = 1 (linear-plateau) or 2 (quadratic-plateau).
 * Block levels are projected out (Frisch-Waugh-Lovell). Given the join J one linear parameter k is left, and
 *
 *     RSS(J) = TSS - N(J)^2 / Q(J),   N = -sum_l S_l g_l(J),   Q = sum_i w_i g_i^2 - sum_b (sum_{i in b} w_i g_i)^2 / W_b
 *
 * where S_l is the weighted sum, over the plots of density level l, of the yields minus their block means, and W_b the
 * weight of block b. Between two neighbouring levels N is a polynomial of degree p in J and Q one of degree 2p, so the
 * stationary points of N^2 / Q are the roots of 2 N' Q - N Q': one for p = 1, at most four for p = 2 (the leading terms
 * cancel). Each interval has its own local variable t = J - (its left level), and densities are scaled to [0, 1] over the
 * tested range: with raw 30,000 plants per acre the fourth powers would lose every digit.
 *
 * Source: derivation in the text; projection: Frisch & Waugh (1933), Econometrica 1, 387-401.
 */
export interface JoinDesign {
  readonly nobs: number;
  /** Distinct densities, ascending, in the caller's unit; shape [m]. */
  readonly levels: Float64Array;
  /** The same on [0, 1]; shape [m]. */
  readonly scaled: Float64Array;
  /** Tested range, caller's unit: density = low + span * scaled. */
  readonly low: number;
  readonly span: number;
  /** Level of each plot; shape [n]. */
  readonly level: Int32Array;
  /** Block of each plot, 0 … blocks - 1; shape [n]. */
  readonly block: Int32Array;
  readonly blocks: number;
  readonly weight: Float64Array;
  /** Sum of weights by level [m] and by block [B]. */
  readonly levelWeight: Float64Array;
  readonly blockWeight: Float64Array;
  /** Within-block information of the scaled density u and its square: sums of u~u~, u~v~, v~v~ with v = u^2. */
  readonly uu: number;
  readonly uv: number;
  readonly vv: number;
  /**
   * Coefficients of Q for the interval that starts at level k (levels 0 … k are below the join), by powers of t.
   * `linear` has 3 a row (p = 1), `quadratic` 5 (p = 2); shape [m * 3], [m * 5].
   */
  readonly linear: Float64Array;
  readonly quadratic: Float64Array;
  /**
   * Smallest Q / (J - base)^(2p) that carries information when levels 0 … k are below the join; shape [m]. Below it the rise
   * cannot be told from a block effect (a density grown in a block of its own) and Q is rounding noise.
   */
  readonly floor: Float64Array;
  /** The two lowest scaled levels that share a block with another level; joins up to the second all fit alike. */
  readonly base: number;
  readonly ridge: number;
}

/** Share of the uncentred sum of squares under which Q counts as zero: five decimal digits above double rounding. */
const INFORMATION = 1e-11;

/**
 * Lays out the design of one trial.
 *
 * @param density - shape [n], finite, any unit
 * @param block - block index of each plot, 0 … blocks - 1; shape [n]
 * @param weight - shape [n], > 0
 */
export function joinDesign(density: Float64Array, block: Int32Array, blocks: number, weight: Float64Array): JoinDesign {
  const n = density.length;
  const levels = Float64Array.from(new Set(Float64Array.from(density).sort()));
  const m = levels.length;
  const low = levels[0];
  const span = m > 1 ? levels[m - 1] - low : 1;
  const scaled = levels.map((x) => (x - low) / span);
  const index = new Map<number, number>();
  for (let l = 0; l < m; l++) index.set(levels[l], l);
  const level = Int32Array.from(density, (x) => index.get(x) as number);

  const levelWeight = new Float64Array(m);
  const blockWeight = new Float64Array(blocks);
  for (let i = 0; i < n; i++) {
    levelWeight[level[i]] += weight[i];
    blockWeight[block[i]] += weight[i];
  }

  const { linear, quadratic } = denominators(scaled, level, block, blocks, weight, blockWeight);
  return {
    nobs: n,
    levels,
    scaled,
    low,
    span,
    level,
    block,
    blocks,
    weight,
    levelWeight,
    blockWeight,
    ...centredMoments(scaled, level, block, blocks, weight, blockWeight),
    linear,
    quadratic,
    ...information(scaled, level, block, blocks, weight),
  };
}

/** 1 for each block whose plots all have one density: such a block says nothing about the response. */
function singleDensity(level: Int32Array, block: Int32Array, blocks: number): Uint8Array {
  const first = new Int32Array(blocks).fill(-1);
  const single = new Uint8Array(blocks).fill(1);
  for (let i = 0; i < level.length; i++) {
    if (first[block[i]] === -1) first[block[i]] = level[i];
    else if (first[block[i]] !== level[i]) single[block[i]] = 0;
  }
  return single;
}

/** Where information on a rise begins, and how much of it there must be. */
function information(
  scaled: Float64Array,
  level: Int32Array,
  block: Int32Array,
  blocks: number,
  weight: Float64Array,
): Pick<JoinDesign, "floor" | "base" | "ridge"> {
  const single = singleDensity(level, block, blocks);
  const informative = new Float64Array(scaled.length);
  for (let i = 0; i < level.length; i++) if (!single[block[i]]) informative[level[i]] += weight[i];
  const lowest = Array.from(scaled).filter((_, l) => informative[l] > 0);
  let sum = 0;
  return {
    floor: informative.map((w) => {
      sum += w;
      return INFORMATION * sum;
    }),
    base: lowest[0] ?? 0,
    ridge: lowest[1] ?? 1,
  };
}

/** Block-centred sums of squares and products of u and u^2, from deviations so that nothing cancels. */
function centredMoments(
  scaled: Float64Array,
  level: Int32Array,
  block: Int32Array,
  blocks: number,
  weight: Float64Array,
  blockWeight: Float64Array,
): { uu: number; uv: number; vv: number } {
  const meanU = new Float64Array(blocks);
  const meanV = new Float64Array(blocks);
  for (let i = 0; i < level.length; i++) {
    const u = scaled[level[i]];
    meanU[block[i]] += (weight[i] * u) / blockWeight[block[i]];
    meanV[block[i]] += (weight[i] * u * u) / blockWeight[block[i]];
  }
  let uu = 0;
  let uv = 0;
  let vv = 0;
  for (let i = 0; i < level.length; i++) {
    const u = scaled[level[i]];
    const du = u - meanU[block[i]];
    const dv = u * u - meanV[block[i]];
    uu += weight[i] * du * du;
    uv += weight[i] * du * dv;
    vv += weight[i] * dv * dv;
  }
  return { uu, uv, vv };
}

/** Q of every interval, by moving the moments from level to level: O(n) plus O(blocks) a level. */
function denominators(
  scaled: Float64Array,
  level: Int32Array,
  block: Int32Array,
  blocks: number,
  weight: Float64Array,
  blockWeight: Float64Array,
): { linear: Float64Array; quadratic: Float64Array } {
  const m = scaled.length;
  const n = level.length;
  const linear = new Float64Array(m * 3);
  const quadratic = new Float64Array(m * 5);
  const order = Int32Array.from({ length: n }, (_, i) => i).sort((i, j) => level[i] - level[j]);
  // Moments of the distance d = (current level) - x over the plots below the join: all together and block by block.
  let m0 = 0;
  let m1 = 0;
  let m2 = 0;
  let m3 = 0;
  let m4 = 0;
  const b0 = new Float64Array(blocks);
  const b1 = new Float64Array(blocks);
  const b2 = new Float64Array(blocks);
  // Plots of blocks with one density add to both sides of Q alike; left out, they leave no rounding behind.
  const single = singleDensity(level, block, blocks);
  let next = 0;
  for (let k = 0; k < m; k++) {
    const step = k === 0 ? 0 : scaled[k] - scaled[k - 1];
    if (step > 0) {
      m4 += step * (4 * m3 + step * (6 * m2 + step * (4 * m1 + step * m0)));
      m3 += step * (3 * m2 + step * (3 * m1 + step * m0));
      m2 += step * (2 * m1 + step * m0);
      m1 += step * m0;
      for (let b = 0; b < blocks; b++) {
        b2[b] += step * (2 * b1[b] + step * b0[b]);
        b1[b] += step * b0[b];
      }
    }
    while (next < n && level[order[next]] === k) {
      const plot = order[next++];
      if (single[block[plot]]) continue;
      m0 += weight[plot];
      b0[block[plot]] += weight[plot];
    }
    let s00 = 0;
    let s01 = 0;
    let s02 = 0;
    let s11 = 0;
    let s12 = 0;
    let s22 = 0;
    for (let b = 0; b < blocks; b++) {
      const w = blockWeight[b];
      s00 += (b0[b] * b0[b]) / w;
      s01 += (b0[b] * b1[b]) / w;
      s02 += (b0[b] * b2[b]) / w;
      s11 += (b1[b] * b1[b]) / w;
      s12 += (b1[b] * b2[b]) / w;
      s22 += (b2[b] * b2[b]) / w;
    }
    linear.set([m2 - s11, 2 * (m1 - s01), m0 - s00], k * 3);
    quadratic.set([m4 - s22, 4 * (m3 - s12), 6 * m2 - 4 * s11 - 2 * s02, 4 * (m1 - s01), m0 - s00], k * 5);
  }
  return { linear, quadratic };
}

/** What one set of yields adds: the level sums S and the total sum of squares within blocks. */
export interface JoinResponse {
  /** Weighted sum over each level of yield minus block mean; shape [m]. */
  readonly sums: Float64Array;
  /** Weighted sum of squares of yield minus block mean. */
  readonly total: number;
  /** Weighted mean yield of each block; shape [B]. */
  readonly blockMean: Float64Array;
}

/** Projects the blocks out of the yields. Deviations are taken before squaring, so a large mean costs no digits. */
export function joinResponse(design: JoinDesign, y: Float64Array): JoinResponse {
  const { level, block, weight, blockWeight } = design;
  const blockMean = new Float64Array(design.blocks);
  for (let i = 0; i < y.length; i++) blockMean[block[i]] += (weight[i] / blockWeight[block[i]]) * y[i];
  const sums = new Float64Array(design.levels.length);
  let total = 0;
  for (let i = 0; i < y.length; i++) {
    const deviation = y[i] - blockMean[block[i]];
    sums[level[i]] += weight[i] * deviation;
    total += weight[i] * deviation * deviation;
  }
  return { sums, total, blockMean };
}
