import { exp, expm1, log, log1p } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { normalCdf, normalDensity } from "./distributionsNormal.ts";
import type { Tails } from "./incompleteBeta.ts";
import { brentRoot } from "./minimize.ts";
import { stirlingError } from "./specialFunctions.ts";

// Probability that the range of k independent standard normal values, divided by an independent estimate of their
// standard deviation with df degrees of freedom, stays below q:
//   P(q) = integral over s of chi(s; df) R(q s),   R(w) = k integral phi(z) (Phi(z) - Phi(z - w))^(k - 1) dz.
// Both integrands are analytic and fall off fast, so the trapezoidal rule converges geometrically (Trefethen & Weideman
// 2014, SIAM Review 56, 385-458): no panels, no tables, about 14 digits in either tail.

const HALF_WIDTH = 10; // beyond it phi is below 1e-22
const WIDEST = 76; // a wider range is less likely than the smallest double
const MAX_TERMS = 10_000;

const NODE = [
  0.09501250983763744, 0.2816035507792589, 0.45801677765722737, 0.6178762444026438, 0.755404408355003,
  0.8656312023878318, 0.9445750230732326, 0.9894009349916499,
];
const NODE_WEIGHT = [
  0.1894506104550685, 0.18260341504492358, 0.16915651939500254, 0.14959598881657674, 0.12462897125553388,
  0.09515851168249279, 0.06225352393864789, 0.02715245941175409,
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

/** x^n for a whole n >= 1 by repeated squaring: an error of n roundings, which x brings anyway, at a tenth of the cost of `pow`. */
function wholePower(x: number, n: number): number {
  let power = 1;
  for (let square = x, left = n; left > 0; left = Math.floor(left / 2), square *= square) {
    if (left % 2 === 1) power *= square;
  }
  return power;
}

type Side = keyof Tails;

/** Distribution of the range of k standard normal values: P(range <= w) or P(range > w). */
type RangeTail = (w: number, side: Side) => number;

/** `RangeTail` for k values; what does not depend on w is tabled once. */
function rangeDistribution(k: number): RangeTail {
  const step = Math.min(0.25, 0.7 / Math.sqrt(k)); // the lower tail narrows to a peak of width 1 / sqrt(k)
  // z is the largest of the values; for the upper tail it lies near w / 2
  const size = Math.ceil((2 * HALF_WIDTH + WIDEST / 2) / step);
  const below = new Float64Array(size);
  const weight = new Float64Array(size);
  const all = new Float64Array(size);
  for (let i = 0; i < size; i++) {
    const z = i * step - HALF_WIDTH;
    below[i] = normalCdf(z);
    weight[i] = k * step * normalDensity(z);
    all[i] = wholePower(below[i], k - 1);
  }
  return (w, side) => {
    if (w > WIDEST) return side === "lower" ? 1 : 0;
    const steps = Math.min(size, Math.ceil((2 * HALF_WIDTH + w / 2) / step));
    let sum = 0;
    for (let i = 0; i < steps; i++) {
      const z = i * step - HALF_WIDTH;
      const missed = normalCdf(z - w) / below[i];
      if (missed < 0.5) {
        const logKept = (k - 1) * log1p(-missed);
        sum += weight[i] * all[i] * (side === "lower" ? exp(logKept) : -expm1(logKept));
      } else {
        const kept = wholePower(normalBand(z - w / 2, w), k - 1);
        sum += weight[i] * (side === "lower" ? kept : Math.max(0, all[i] - kept));
      }
    }
    return sum;
  };
}

/** One tail of the studentised range as a function of q. */
function distribution(k: number, df: number): (q: number, side: Side) => number {
  const range = rangeDistribution(k);
  if (df > 1e12) return range;
  // u = ln s; its density is chi(s) s = sqrt(df / pi) exp(df (u - (e^2u - 1) / 2) - stirlingError)
  const front = Math.sqrt(df / Math.PI) * exp(-stirlingError(df / 2));
  const density = (u: number): number => front * exp(df * (u - expm1(2 * u) / 2));
  return (q, side) => {
    // the lower tail behaves like s^(k - 1) and narrows the peak further
    const step = Math.min(0.1, 0.35 / Math.sqrt(2 * (side === "lower" ? df + k : df)));
    return trapezoid((u) => density(u) * range(q * exp(u), side), step);
  };
}

/** Integral of a function with one peak, by walking to the peak and then outwards until the terms are lost in the sum. */
function trapezoid(term: (u: number) => number, step: number): number {
  let peak = 0;
  let best = term(0);
  for (let stride = 16; stride >= 1; stride /= 2) {
    for (const direction of [-stride, stride]) {
      for (;;) {
        const value = term((peak + direction) * step);
        if (!(value > best)) break;
        best = value;
        peak += direction;
      }
    }
  }
  let sum = best;
  for (const direction of [-1, 1]) {
    for (let i = 1; i < MAX_TERMS; i++) {
      const value = term((peak + direction * i) * step);
      sum += value;
      if (value <= 1e-17 * sum) break;
    }
  }
  return sum * step;
}

function checkRange(k: number, df: number): void {
  check(Number.isInteger(k) && k >= 2, "invalid-option", `k must be a whole number >= 2, got ${k}`);
  check(df >= 1, "invalid-option", `df must be >= 1, got ${df}`);
}

function tail(q: number, k: number, df: number, side: Side): number {
  check(!Number.isNaN(q), "invalid-option", `q must be a number, got ${q}`);
  checkRange(k, df);
  if (q <= 0) return side === "lower" ? 0 : 1;
  if (q === Infinity) return side === "lower" ? 1 : 0;
  return Math.min(1, distribution(k, df)(q, side));
}

/** P(Q <= q) of the studentised range of k means with df degrees of freedom (df >= 1, may be Infinity). */
export function studentizedRangeCdf(q: number, k: number, df: number): number {
  return tail(q, k, df, "lower");
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
  return tail(q, k, df, "upper");
}

/** Quantile of the studentised range, for honest significant differences. */
export function studentizedRangeQuantile(p: number, k: number, df: number): number {
  check(p > 0 && p < 1, "invalid-option", `p must be between 0 and 1, got ${p}`);
  checkRange(k, df);
  const at = distribution(k, df);
  const side: Side = p <= 0.5 ? "lower" : "upper";
  const target = log(side === "lower" ? p : 1 - p);
  const excess = (u: number): number => log(at(exp(u), side)) - target;
  // ln q, bracketed outwards from q = 3
  const start = excess(log(3));
  const direction = start < 0 === (side === "lower") ? 1 : -1;
  let near = log(3);
  let far = near + 0.5 * direction;
  for (let width = 1; excess(far) < 0 === start < 0 && width < 1e3; width *= 2) {
    near = far;
    far += width * direction;
  }
  return exp(brentRoot(excess, near, far, 1e-15).x);
}
