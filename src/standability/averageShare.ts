import type { BinomialLink } from "../fit/fitBinomialLinks.ts";
import type { Constraint } from "../numeric/glm.ts";

/**
 * Lodged share averaged over blocks at one density, `mean_b p(level_b + slope z)`, and its place on the link scale.
 *
 * `theta` holds one level per block and then the slope (more entries are ignored).
 */
export function averageShare(theta: ArrayLike<number>, blocks: number, z: number, link: BinomialLink): number {
  let sum = 0;
  for (let b = 0; b < blocks; b++) sum += link.inverse(theta[b] + theta[blocks] * z);
  return sum / blocks;
}

/**
 * link(average share) at z; fills `gradient` with its derivatives by the levels and the slope. For one block this is the
 * linear predictor itself.
 */
export function averageLink(
  theta: ArrayLike<number>,
  blocks: number,
  z: number,
  link: BinomialLink,
  gradient: Float64Array | null,
): number {
  if (blocks === 1) {
    gradient?.fill(0);
    gradient?.set([1, z]);
    return theta[0] + theta[1] * z;
  }
  const share = Math.min(Math.max(averageShare(theta, blocks, z, link), 1e-300), 1 - 1e-16);
  const eta = link.link(share);
  if (gradient) {
    gradient.fill(0);
    const steepness = link.slope(eta) * blocks;
    for (let b = 0; b < blocks; b++) {
      const part = link.slope(theta[b] + theta[blocks] * z) / steepness;
      gradient[b] = part;
      gradient[blocks] += part * z;
    }
  }
  return eta;
}

/** The equation "the average share at z is `share`", for constrained fits. Points are restored by shifting all levels alike. */
export function shareConstraint(blocks: number, z: number, share: number, link: BinomialLink): Constraint {
  const target = link.link(share);
  const gradient = new Float64Array(blocks + 1);
  return {
    gradient: (theta, out) => {
      averageLink(theta, blocks, z, link, out);
    },
    // Along the equation only the second derivatives of the shares count, those of the outer link drop out.
    addCurvature(theta, multiplier, out) {
      const size = theta.length;
      const factor = multiplier / (blocks * link.slope(target));
      for (let b = 0; b < blocks; b++) {
        const bend = factor * link.curvature(theta[b] + theta[blocks] * z);
        out[b * size + b] += bend;
        out[b * size + blocks] += bend * z;
        out[blocks * size + b] += bend * z;
        out[blocks * size + blocks] += bend * z * z;
      }
    },
    restore(theta) {
      for (let step = 0; step < 100; step++) {
        const miss = target - averageLink(theta, blocks, z, link, gradient);
        let byShift = 0;
        for (let b = 0; b < blocks; b++) byShift += gradient[b];
        const shift = miss / byShift;
        for (let b = 0; b < blocks; b++) theta[b] += shift;
        if (blocks === 1 || Math.abs(miss) < 1e-14 * (1 + Math.abs(target))) return;
      }
    },
  };
}

/** z at which the average share reaches `share`; null when the slope is 0. */
export function shareCrossing(
  theta: ArrayLike<number>,
  blocks: number,
  share: number,
  link: BinomialLink,
): number | null {
  const slope = theta[blocks];
  if (slope === 0) return null;
  const target = link.link(share);
  let level = 0;
  for (let b = 0; b < blocks; b++) level += theta[b] / blocks;
  let z = (target - level) / slope;
  const gradient = new Float64Array(blocks + 1);
  for (let step = 0; blocks > 1 && step < 100; step++) {
    const miss = target - averageLink(theta, blocks, z, link, gradient);
    let byShift = 0;
    for (let b = 0; b < blocks; b++) byShift += gradient[b];
    const move = miss / (slope * byShift);
    z += move;
    if (Math.abs(move) < 1e-14 * (1 + Math.abs(z))) break;
  }
  return Number.isFinite(z) ? z : null;
}
