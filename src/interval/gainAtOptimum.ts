import { exp, log } from "../core/elementary.ts";
import { goldenSection } from "../numeric/goldenSection.ts";
import type { JoinDesign } from "../numeric/joinDesign.ts";

/** Golden-section steps over the logarithm of the curvature: the bracket of 6 shrinks to 6e-6. */
const STEPS = 28;
const HALF_WIDTH = 3;

/**
 * Sum of squares taken off by the best curve of any family whose optimum of Y - r u is at v (scaled density, inside the range).
 *
 * @param sums - level sums of the yields; shape [m]
 * @param pick - candidates, indices into `kernelFamilies`
 * @param near - a likely curvature of the quadratic-plateau, around which it is searched when r > 0
 * @param enough - a gain with which the search may end, so that the result is at least that; default: the largest gain is found
 */
export function gainAtOptimum(
  design: JoinDesign,
  sums: Float64Array,
  v: number,
  r: number,
  pick: readonly number[],
  near?: number,
  enough: number = Number.POSITIVE_INFINITY,
): number {
  let best = Number.NEGATIVE_INFINITY;
  for (const family of pick) {
    if (best >= enough) break;
    if (family === 2) best = Math.max(best, parabola(design, sums, v, r));
    else if (family === 3) best = Math.max(best, hinge(design, sums, v, r));
    else if (family === 4) best = Math.max(best, smoothPlateau(design, sums, v, r, near, enough));
  }
  return best;
}

/** y = r u - k (u - v)^2 + block, k >= 0. */
function parabola({ scaled, uu, uv, vv }: JoinDesign, sums: Float64Array, v: number, r: number): number {
  let t1 = 0;
  let t2 = 0;
  for (let l = 0; l < scaled.length; l++) {
    const su = sums[l] * scaled[l];
    t1 += su;
    t2 += su * scaled[l];
  }
  const n = 2 * v * (t1 - r * uu) - (t2 - r * uv);
  const straight = r * (2 * t1 - r * uu);
  return n > 0 ? straight + (n * n) / (vv - 4 * v * uv + 4 * v * v * uu) : straight;
}

/** N and Q of a plateau that joins at `join`, which may lie beyond the range. */
function moments(design: JoinDesign, sums: Float64Array, join: number, power: 1 | 2): [number, number] {
  const { scaled } = design;
  const m = scaled.length;
  let k = 0;
  let n = 0;
  for (; k < m && scaled[k] < join; k++) {
    const below = join - scaled[k];
    n -= sums[k] * (power === 1 ? below : below * below);
  }
  k = Math.max(k - 1, 0);
  const t = join - scaled[k];
  if (power === 1) {
    const o = k * 3;
    const q = design.linear;
    return [n, q[o] + t * (q[o + 1] + t * q[o + 2])];
  }
  const o = k * 5;
  const q = design.quadratic;
  return [n, q[o] + t * (q[o + 1] + t * (q[o + 2] + t * (q[o + 3] + t * q[o + 4])))];
}

/** y = block - k max(v - u, 0), k >= r. */
function hinge(design: JoinDesign, sums: Float64Array, v: number, r: number): number {
  const [n, q] = moments(design, sums, v, 1);
  return n >= r * q ? (n > 0 && q > 0 ? (n * n) / q : 0) : r * (2 * n - r * q);
}

/** y = block - k max(v + r / (2 k) - u, 0)^2, k >= 0: for r > 0 by a search over log k. */
function smoothPlateau(
  design: JoinDesign,
  sums: Float64Array,
  v: number,
  r: number,
  near: number | undefined,
  enough: number,
): number {
  if (r === 0) {
    const [n, q] = moments(design, sums, v, 2);
    return n > 0 && q > 0 ? (n * n) / q : 0;
  }
  const gain = (logRate: number): number => {
    const k = exp(logRate);
    const [n, q] = moments(design, sums, v + r / (2 * k), 2);
    return k * (2 * n - k * q);
  };
  const centre = log(near !== undefined && near > 0 ? near : r);
  return goldenSection(gain, centre - HALF_WIDTH, centre + HALF_WIDTH, STEPS, 0, enough).best;
}
