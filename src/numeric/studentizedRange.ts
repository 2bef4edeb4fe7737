import { check } from "../core/errors.ts";
import { normalCdf, normalDensity } from "./distributionsNormal.ts";
import type { Tails } from "./incompleteBeta.ts";
import { solveTail } from "./solveTail.ts";
import { stirlingError } from "./specialFunctions.ts";

// Probability that the range of k independent standard normal values, divided by an independent estimate of their
// standard deviation with df degrees of freedom, stays below q:
//   P(q) = integral over s of chi(s; df) R(q s),   R(w) = k integral phi(z) (Phi(z) - Phi(z - w))^(k - 1) dz.
// Both integrands are analytic and fall off fast, so the trapezoidal rule converges geometrically (Trefethen & Weideman
// 2014, SIAM Review 56, 385-458): no panels, no tables, about 14 digits in either tail.

const HALF_WIDTH = 10; // beyond it phi is below 1e-22

const NODE = [
  0.09501250983763744, 0.28160355077925891, 0.45801677765722739, 0.61787624440264375, 0.75540440835500303,
  0.86563120238783174, 0.94457502307323258, 0.98940093499164993,
];
const NODE_WEIGHT = [
  0.1894506104550685, 0.18260341504492359, 0.16915651939500254, 0.14959598881657673, 0.12462897125553387,
  0.09515851168249278, 0.06225352393864789, 0.02715245941175409,
];

/** Phi(c + w / 2) - Phi(c - w / 2), also when the two nearly agree (16-point Gauss-Legendre below w = 1). */
function normalBand(c: number, w: number): number {
  if (w >= 1) {
    const low = c - w / 2;
    const high = c + w / 2;
    return low > 0 ? normalCdf(-low) - normalCdf(-high) : normalCdf(high) - normalCdf(low);
  }
  let sum = 0;
  for (let i = 0; i < 8; i++) {
    const shift = (NODE[i] * w) / 2;
    sum += NODE_WEIGHT[i] * (normalDensity(c - shift) + normalDensity(c + shift));
  }
  return (sum * w) / 2;
}

/** Distribution of the range of k standard normal values: [P(range <= w), P(range > w)]. */
function rangeTails(w: number, k: number): Tails {
  if (w > 76) return { lower: 1, upper: 0 }; // below the smallest double
  let lower = 0;
  let upper = 0;
  // the lower tail narrows to a peak of width 1 / sqrt(k)
  const step = Math.min(0.25, 0.7 / Math.sqrt(k));
  // z is the largest value; the upper tail has its mass near w / 2
  const from = -HALF_WIDTH;
  const steps = Math.ceil((2 * HALF_WIDTH + w / 2) / step);
  for (let i = 0; i <= steps; i++) {
    const z = from + i * step;
    const phi = normalDensity(z);
    if (phi === 0) continue;
    const below = normalCdf(z);
    const missed = normalCdf(z - w) / below;
    if (missed < 0.5) {
      const logKept = (k - 1) * Math.log1p(-missed);
      const all = below ** (k - 1);
      upper -= phi * all * Math.expm1(logKept);
      lower += phi * all * Math.exp(logKept);
    } else {
      const all = below ** (k - 1);
      const kept = normalBand(z - w / 2, w) ** (k - 1);
      lower += phi * kept;
      upper += phi * Math.max(0, all - kept);
    }
  }
  return { lower: k * step * lower, upper: k * step * upper };
}

function tails(q: number, k: number, df: number): Tails {
  if (q <= 0) return { lower: 0, upper: 1 };
  if (q === Infinity) return { lower: 1, upper: 0 };
  if (df > 1e12) {
    const { lower, upper } = rangeTails(q, k);
    return lower < upper ? { lower, upper: 1 - lower } : { lower: 1 - upper, upper };
  }
  // u = ln s; density of u is chi(s) s = exp(df (u - (e^2u - 1) / 2)) x sqrt(df / pi) x exp(-stirling)
  const front = Math.sqrt(df / Math.PI) * Math.exp(-stirlingError(df / 2));
  const step = Math.min(0.1, 0.3 / Math.sqrt(2 * df));
  const density = (u: number): number => front * Math.exp(df * (u - Math.expm1(2 * u) / 2));
  const integrate = (side: "lower" | "upper"): number => {
    const term = (u: number): number => density(u) * rangeTails(q * Math.exp(u), k)[side];
    // walk to the peak, then outwards until the terms are lost in the sum
    let peak = 0;
    let best = term(0);
    for (const direction of [-1, 1]) {
      for (let stride = 16; stride >= 1; stride /= 2) {
        for (;;) {
          const value = term(peak + direction * stride * step);
          if (!(value > best)) break;
          best = value;
          peak += direction * stride * step;
        }
      }
    }
    let sum = best;
    for (const direction of [-1, 1]) {
      for (let i = 1; i < 4000; i++) {
        const value = term(peak + direction * i * step);
        sum += value;
        if (value < 1e-17 * sum) break;
      }
    }
    return sum * step;
  };
  const upper = integrate("upper");
  if (upper < 0.5) return { lower: 1 - upper, upper };
  const lower = integrate("lower");
  return { lower, upper: 1 - lower };
}

function checkRange(k: number, df: number): void {
  check(Number.isInteger(k) && k >= 2, "invalid-option", `k must be a whole number >= 2, got ${k}`);
  check(df >= 1, "invalid-option", `df must be >= 1, got ${df}`);
}

/** P(Q <= q) of the studentised range of k means with df degrees of freedom (df >= 1, may be Infinity). */
export function studentizedRangeCdf(q: number, k: number, df: number): number {
  check(!Number.isNaN(q), "invalid-option", `q must be a number, got ${q}`);
  checkRange(k, df);
  return tails(q, k, df).lower;
}

/**
 * P(Q > q) of the studentised range: Tukey's p-value for the largest difference among k means.
 *
 * @param q - difference / (s / sqrt(replicates))
 * @param k - number of means, >= 2
 * @param df - degrees of freedom of s, >= 1, may be Infinity
 * @throws AnalysisError `invalid-option`
 */
export function studentizedRangeUpper(q: number, k: number, df: number): number {
  check(!Number.isNaN(q), "invalid-option", `q must be a number, got ${q}`);
  checkRange(k, df);
  return tails(q, k, df).upper;
}

/** Quantile of the studentised range, for honest significant differences. */
export function studentizedRangeQuantile(p: number, k: number, df: number): number {
  check(p > 0 && p < 1, "invalid-option", `p must be between 0 and 1, got ${p}`);
  checkRange(k, df);
  const both = (u: number): Tails => tails(Math.exp(u), k, df);
  const density = (u: number): number => {
    const h = 1e-3;
    const high = both(u + h);
    const low = both(u - h);
    return (p <= 0.5 ? high.lower - low.lower : low.upper - high.upper) / (2 * h);
  };
  return Math.exp(solveTail(p, both, density, Math.log(3), -20, 40));
}
