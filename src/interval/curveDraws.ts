import type { InnerFamily } from "../curves/family.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import { kernelFamilies, type RefitKernel, refitKernel } from "../numeric/refitKernel.ts";
import { type Layout, layoutOf, penaltyFactor, reweighted } from "./layout.ts";
import { polynomialRefit } from "./polynomialRefit.ts";

/** Refitted curves, one a replicate, in the form of `scaledCurve.ts`; each array of shape [B]. */
export interface CurveDraws {
  /** Index into `kernelFamilies`. */
  readonly family: Uint8Array;
  readonly a: Float64Array;
  readonly b: Float64Array;
  readonly c: Float64Array;
  /** Weighted residual sum of squares of the chosen curve. */
  readonly rss: Float64Array;
}

export function emptyDraws(size: number): CurveDraws {
  return {
    family: new Uint8Array(size),
    a: new Float64Array(size),
    b: new Float64Array(size),
    c: new Float64Array(size),
    rss: new Float64Array(size),
  };
}

/**
 * Chooses among refitted families by AICc. Of families whose AICc agree to 1e-6 the first is taken, as `compareCurves` does.
 *
 * @param pick - candidates, indices into `kernelFamilies`
 * @param penalty - from `penaltyFactor`, parallel to `pick`
 * @returns index into `kernelFamilies`
 */
export function choose(
  kernel: Pick<RefitKernel, "gain">,
  total: number,
  pick: ArrayLike<number>,
  penalty: ArrayLike<number>,
  nobs: number,
): number {
  let best = pick[0];
  if (pick.length > 1) {
    const notTied = 1 - 1e-6 / nobs; // exp(-1e-6 / n) to the last digit but one
    let least = Number.POSITIVE_INFINITY;
    for (let f = 0; f < pick.length; f++) {
      const criterion = Math.max(total - kernel.gain[pick[f]], 0) * penalty[f];
      if (criterion < least * notTied) {
        least = criterion;
        best = pick[f];
      }
    }
  }
  return best;
}

/**
 * Writes the kernel's curve of one family to place i.
 *
 * @param moments - its last two numbers: total sum of squares within blocks, mean over blocks of the block mean yields
 */
export function writeCurve(
  draws: CurveDraws,
  i: number,
  kernel: Pick<RefitKernel, "gain" | "shape">,
  family: number,
  moments: Float64Array,
  { design, share, meanU, meanV }: Layout,
): void {
  const { shape } = kernel;
  let a = moments[moments.length - 1];
  let b = 0;
  let c = 0;
  switch (family) {
    case 0:
      break;
    case 1:
      b = shape[0];
      a -= b * meanU;
      break;
    case 2:
      b = shape[1];
      c = shape[2];
      a -= b * meanU + c * meanV;
      break;
    default:
      if (family === 4 && shape[6] === Number.POSITIVE_INFINITY) {
        b = shape[0];
        c = shape[6];
        a -= b * meanU;
      } else {
        b = family === 3 ? shape[3] : shape[5];
        c = family === 3 ? shape[4] : shape[6];
        const { scaled } = design;
        let rise = 0;
        for (let l = 0; l < scaled.length; l++) {
          const below = c - scaled[l];
          if (below <= 0) break;
          rise += share[l] * (family === 3 ? below : below * below);
        }
        a += b * rise;
      }
  }
  draws.family[i] = family;
  draws.a[i] = a;
  draws.b[i] = b;
  draws.c[i] = c;
  draws.rss[i] = Math.max(moments[moments.length - 2] - kernel.gain[family], 0);
}

/**
 * Refits with plot i counted `count[i]` times: the slow path, for layouts that change from replicate to replicate.
 *
 * @param whole - whole environments were drawn: one drawn twice is two environments, with blocks of their own. Otherwise a
 * plot drawn twice is two plots of one block.
 */
export function weightedRefit(
  data: PreparedData,
  families: readonly InnerFamily[],
  whole = false,
): (count: ArrayLike<number>, draws: CurveDraws, i: number) => void {
  const pick = families.map((family) => kernelFamilies.indexOf(family));
  if (pick.every((family) => family <= 2)) return polynomials(data, pick, whole);
  return (count, draws, i) => {
    const design = reweighted(data, count);
    const response = joinResponse(design, data.y);
    const kernel = refitKernel(design);
    kernel.fit(response.sums);
    const blockCount = new Float64Array(design.blocks).fill(1);
    let nobs = 0;
    for (let k = 0; k < count.length; k++) {
      nobs += count[k];
      if (whole && count[k] > 0) blockCount[design.block[k]] = count[k];
    }
    const blocks = blockCount.reduce((sum, times) => sum + times, 0);
    let grand = 0;
    for (let b = 0; b < design.blocks; b++) grand += (blockCount[b] * response.blockMean[b]) / blocks;
    const penalty = pick.map((family) => penaltyFactor(nobs, blocks, family));
    const family = choose(kernel, response.total, pick, penalty, nobs);
    writeCurve(draws, i, kernel, family, Float64Array.of(response.total, grand), layoutOf(design, blockCount));
  };
}

/** The same without plateau curves: no layout is built. */
function polynomials(
  data: PreparedData,
  pick: readonly number[],
  whole: boolean,
): (count: ArrayLike<number>, draws: CurveDraws, i: number) => void {
  const { block, weight, design } = data;
  const refit = polynomialRefit(data);
  const drawn = new Float64Array(block.length);
  const blockCount = new Float64Array(design.blocks);
  return (count, draws, i) => {
    let nobs = 0;
    blockCount.fill(0);
    for (let k = 0; k < drawn.length; k++) {
      nobs += count[k];
      drawn[k] = weight[k] * count[k];
      if (count[k] > 0) blockCount[block[k]] = whole ? count[k] : 1;
    }
    const total = refit.fit(drawn, blockCount);
    let family = pick[0];
    if (pick.length > 1) {
      const blocks = blockCount.reduce((sum, times) => sum + times, 0);
      const penalty = pick.map((one) => penaltyFactor(nobs, blocks, one));
      family = choose(refit, total, pick, penalty, nobs);
    }
    const { grand, u, v } = refit.mean;
    writeCurve(draws, i, refit, family, Float64Array.of(total, grand), { design, share: NO_SHARE, meanU: u, meanV: v });
  };
}

/** Shares of levels are read for plateau curves only. */
const NO_SHARE = new Float64Array(0);
