import { exp, log } from "../core/elementary.ts";
import { goldenSection } from "../numeric/goldenSection.ts";
import type { JoinDesign } from "../numeric/joinDesign.ts";

/** Golden-section steps over the logarithm of the curvature: the bracket of 6 shrinks to 6e-6. */
const STEPS = 28;
const HALF_WIDTH = 3;

/** Gain of one family in the trial whose level sums begin at `at`; a search may end with `enough`. */
type Gain = (sums: Float64Array, at: number, enough: number) => number;

/**
 * Sum of squares taken off by the best curve of any family whose optimum of Y - r u is at v (scaled density, inside the range).
 *
 * @param sums - level sums of the yields; shape [m]
 * @param pick - candidates, indices into `kernelFamilies`
 * @param near - a likely curvature of the quadratic-plateau, around which it is searched when r > 0
 */
export function gainAtOptimum(
  design: JoinDesign,
  sums: Float64Array,
  v: number,
  r: number,
  pick: readonly number[],
  near?: number,
): number {
  return gainsAtOptimum(design, v, r, pick, near)(sums, 0, Number.POSITIVE_INFINITY);
}

/**
 * The same for many trials of one design: what depends on the optimum alone is worked out once.
 *
 * @returns a function of level sums, of where a trial begins in them, and of a gain with which the search may end: with Infinity the
 *   result is the largest gain, else it is that or a gain that is enough
 */
export function gainsAtOptimum(design: JoinDesign, v: number, r: number, pick: readonly number[], near?: number): Gain {
  const gains = pick.flatMap((family) =>
    family === 2
      ? [parabola(design, v, r)]
      : family === 3
        ? [hinge(design, v, r)]
        : family === 4
          ? [r === 0 ? joinAtOptimum(design, v) : smoothPlateau(design, v, r, near)]
          : [],
  );
  return (sums, at, enough) => {
    let best = Number.NEGATIVE_INFINITY;
    for (let i = 0; i < gains.length && best < enough; i++) best = Math.max(best, gains[i](sums, at, enough));
    return best;
  };
}

/** y = r u - k (u - v)^2 + block, k >= 0. */
function parabola({ scaled, uu, uv, vv }: JoinDesign, v: number, r: number): Gain {
  const m = scaled.length;
  const q = vv - 4 * v * uv + 4 * v * v * uu;
  return (sums, at) => {
    let t1 = 0;
    let t2 = 0;
    for (let l = 0; l < m; l++) {
      const su = sums[at + l] * scaled[l];
      t1 += su;
      t2 += su * scaled[l];
    }
    const n = 2 * v * (t1 - r * uu) - (t2 - r * uv);
    const straight = r * (2 * t1 - r * uu);
    return n > 0 ? straight + (n * n) / q : straight;
  };
}

/** N of a plateau that joins at `join`, which may lie beyond the range. */
function rise({ scaled }: JoinDesign, sums: Float64Array, at: number, join: number, power: 1 | 2): number {
  let n = 0;
  for (let k = 0; k < scaled.length && scaled[k] < join; k++) {
    const below = join - scaled[k];
    n -= sums[at + k] * (power === 1 ? below : below * below);
  }
  return n;
}

/** Q of a plateau that joins at `join`. */
function size(design: JoinDesign, join: number, power: 1 | 2): number {
  const { scaled } = design;
  let k = 0;
  while (k < scaled.length && scaled[k] < join) k++;
  k = Math.max(k - 1, 0);
  const t = join - scaled[k];
  if (power === 1) {
    const o = k * 3;
    const q = design.linear;
    return q[o] + t * (q[o + 1] + t * q[o + 2]);
  }
  const o = k * 5;
  const q = design.quadratic;
  return q[o] + t * (q[o + 1] + t * (q[o + 2] + t * (q[o + 3] + t * q[o + 4])));
}

/** y = block - k max(v - u, 0), k >= r. */
function hinge(design: JoinDesign, v: number, r: number): Gain {
  const q = size(design, v, 1);
  return (sums, at) => {
    const n = rise(design, sums, at, v, 1);
    return n >= r * q ? (n > 0 && q > 0 ? (n * n) / q : 0) : r * (2 * n - r * q);
  };
}

/** y = block - k max(v - u, 0)^2, k >= 0. */
function joinAtOptimum(design: JoinDesign, v: number): Gain {
  const q = size(design, v, 2);
  return (sums, at) => {
    const n = rise(design, sums, at, v, 2);
    return n > 0 && q > 0 ? (n * n) / q : 0;
  };
}

/** y = block - k max(v + r / (2 k) - u, 0)^2, k >= 0, for r > 0: by a search over log k. */
function smoothPlateau(design: JoinDesign, v: number, r: number, near: number | undefined): Gain {
  const likely = near !== undefined && near > 0 ? near : r;
  const centre = log(likely);
  const join = v + r / (2 * likely);
  const q = size(design, join, 2);
  return (sums, at, enough) => {
    // The likely curvature itself is often good enough.
    const first = likely * (2 * rise(design, sums, at, join, 2) - likely * q);
    if (first >= enough) return first;
    const gain = (logRate: number): number => {
      const k = exp(logRate);
      const far = v + r / (2 * k);
      return k * (2 * rise(design, sums, at, far, 2) - k * size(design, far, 2));
    };
    return goldenSection(gain, centre - HALF_WIDTH, centre + HALF_WIDTH, STEPS, 0, enough).best;
  };
}
