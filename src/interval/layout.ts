import { exp } from "../core/elementary.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { type JoinDesign, joinDesign } from "../numeric/joinDesign.ts";

/** Fixed parts of reading curves off level sums: means of the density over blocks, and AICc penalties. */
export interface Layout {
  readonly design: JoinDesign;
  /** Weight of each level in the mean over blocks of block means: the average block; shape [m]. */
  readonly share: Float64Array;
  /** Mean of u and of u^2 in the average block. */
  readonly meanU: number;
  readonly meanV: number;
}

/** Reads off the average block: the mean over blocks that hold any weight, each counted `blockCount` times (default once). */
export function layoutOf(design: JoinDesign, blockCount?: ArrayLike<number>): Layout {
  const { level, block, weight, blockWeight, scaled, blocks, nobs } = design;
  let total = 0;
  for (let b = 0; b < blocks; b++) if (blockWeight[b] > 0) total += blockCount ? blockCount[b] : 1;
  const share = new Float64Array(scaled.length);
  for (let i = 0; i < nobs; i++) {
    const count = blockCount ? blockCount[block[i]] : 1;
    if (weight[i] > 0) share[level[i]] += ((weight[i] / blockWeight[block[i]]) * count) / total;
  }
  let meanU = 0;
  let meanV = 0;
  for (let l = 0; l < scaled.length; l++) {
    meanU += share[l] * scaled[l];
    meanV += share[l] * scaled[l] * scaled[l];
  }
  return { design, share, meanU, meanV };
}

/**
 * exp(penalty / n): comparing RSS times this ranks like AICc = n ln(RSS / n) + penalty, without a logarithm.
 *
 * @param family - index into `kernelFamilies`
 * @returns Infinity when there are too few plots for AICc
 */
export function penaltyFactor(nobs: number, blocks: number, family: number): number {
  const k = blocks + Math.min(family, 2) + 1;
  const room = nobs - k - 1;
  return room > 0 ? exp((2 * k + (2 * k * (k + 1)) / room) / nobs) : Number.POSITIVE_INFINITY;
}

/**
 * The design of a resample in which plot i counts `count[i]` times, on the axis of the whole trial: all its levels stay, some
 * without weight. Plots that were not drawn get weight 0 in a block that was.
 */
export function reweighted(data: PreparedData, count: ArrayLike<number>): JoinDesign {
  const { x, block, weight, design } = data;
  const drawn = new Float64Array(x.length);
  const number = new Int32Array(design.blocks).fill(-1);
  let blocks = 0;
  for (let i = 0; i < x.length; i++) {
    drawn[i] = weight[i] * count[i];
    if (count[i] > 0 && number[block[i]] < 0) number[block[i]] = blocks++;
  }
  const home = Int32Array.from(block, (b) => Math.max(number[b], 0));
  return joinDesign(x, home, blocks, drawn);
}
