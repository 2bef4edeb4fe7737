import { pow, square } from "../core/elementary.ts";
import { rootsInUnitInterval, toBernstein } from "./intervalRoots.ts";
import type { JoinDesign } from "./joinDesign.ts";

/**
 * Refits of the five inner families from the level sums alone, without allocation: the inner loop of every bootstrap and
 * simulation. The algebra is that of `joinDesign.ts` and `joinSweep.ts`; a test holds the two to the same answers.
 *
 * What makes it fast: Q does not depend on the yields, so the map from the three moments of the level sums (s0, s1, s2) to
 * the five Bernstein coefficients of 2 N' Q - N Q' is a fixed 5 x 3 matrix for each interval. No sign change: no stationary
 * point. One change from plus to minus: one maximum of the gain, polished by Newton inside its bracket. One change from minus
 * to plus: a minimum, skipped. More: the general root isolator.
 */
export interface RefitKernel {
  /** Fits all families to the level sums S (shape [m]); answers are in the fields below until the next call. */
  fit(sums: Float64Array): void;
  /** Sum of squares taken off by each family, by `kernelFamilies` order (flat 0); shape [5]. */
  readonly gain: Float64Array;
  /**
   * Scaled shape coefficients: [0] slope of the line; [1], [2] quadratic on u and u^2; [3], [4] slope and join of the
   * linear-plateau; [5], [6] curvature and join of the quadratic-plateau. A join is Infinity for the straight line; a
   * coefficient is 0 when no rise was found.
   */
  readonly shape: Float64Array;
}

export const kernelFamilies = ["flat", "linear", "quadratic", "linear-plateau", "quadratic-plateau"] as const;

/** Newton steps on one quartic; bisection inside the bracket takes over when a step leaves it. */
const NEWTON_STEPS = 40;

export function refitKernel(design: JoinDesign): RefitKernel {
  const { scaled, uu, uv, vv } = design;
  const m = scaled.length;
  const gain = new Float64Array(5);
  const shape = new Float64Array(7);
  const rest = uu > 0 ? vv - (uv / uu) * uv : 0;
  const bends = m > 2 && rest > 1e-14 * vv;

  // Fixed parts of every interval k = 1 … m - 2: width, Q at its left end, Bernstein matrix, Q by powers of t / width.
  const width = new Float64Array(m);
  const bernsteinMatrix = new Float64Array(m * 15);
  const q2 = design.quadratic;
  const q1 = design.linear;
  const powers = new Float64Array(5);
  const bernstein = new Float64Array(5);
  for (let k = 1; k < m - 1; k++) {
    width[k] = scaled[k + 1] - scaled[k];
    for (let j = 0; j < 3; j++) {
      const n = [0, 0, 0];
      n[2 - j] = j === 1 ? -2 : -1; // N = -s2 - 2 s1 t - s0 t^2; j counts s0, s1, s2
      stationaryPowers(n, q2, k * 5, width[k], powers);
      toBernstein(powers, 4, bernstein);
      if (k === 1) divideByT(bernstein);
      for (let i = 0; i < 5; i++) bernsteinMatrix[k * 15 + i * 3 + j] = bernstein[i];
    }
  }
  // Least Q that carries information with the join on level k.
  const floor1 = scaled.map((u, k) => (k > 0 ? design.floor[k - 1] * square(u - design.base) : 0));
  const floor2 = scaled.map((u, k) => (k > 0 ? design.floor[k - 1] * pow(u - design.base, 4) : 0));
  const roots = new Float64Array(4);

  function fit(sums: Float64Array): void {
    let t1 = 0;
    let t2 = 0;
    for (let l = 0; l < m; l++) {
      const su = sums[l] * scaled[l];
      t1 += su;
      t2 += su * scaled[l];
    }
    const line = uu > 0 ? t1 / uu : 0;
    const lineGain = line * t1;
    gain[1] = lineGain;
    shape[0] = line;
    if (!bends) {
      gain[2] = gain[3] = gain[4] = lineGain;
      shape[1] = line;
      shape[2] = shape[3] = shape[4] = shape[5] = shape[6] = 0;
      return;
    }
    const left = t2 - (uv / uu) * t1;
    const b2 = left / rest;
    const b1 = line - (uv / uu) * b2;
    const quadraticGain = lineGain + b2 * left;
    gain[2] = quadraticGain;
    shape[1] = b1;
    shape[2] = b2;

    let bestLinear = 0;
    let joinLinear = 0;
    let slope = 0;
    let bestQuadratic = 0;
    let joinQuadratic = 0;
    let curvature = 0;
    let s0 = sums[0];
    let s1 = 0;
    let s2 = 0;
    for (let k = 1; k < m; k++) {
      const step = scaled[k] - scaled[k - 1];
      s2 += step * (2 * s1 + step * s0);
      s1 += step * s0;
      // The level itself as a join (it does not yet count: its distance is zero).
      if (s1 < 0) {
        const q = q1[k * 3];
        const g = (s1 * s1) / q;
        if (g > bestLinear && q > floor1[k]) {
          bestLinear = g;
          joinLinear = scaled[k];
          slope = -s1 / q;
        }
      }
      if (s2 < 0 && k < m - 1) {
        const q = q2[k * 5];
        const g = (s2 * s2) / q;
        if (g > bestQuadratic && q > floor2[k]) {
          bestQuadratic = g;
          joinQuadratic = scaled[k];
          curvature = -s2 / q;
        }
      }
      s0 += sums[k];
      if (k === m - 1) break;
      const w = width[k];

      // Linear-plateau: N = -s1 - s0 t, Q = a + b t + c t^2; one stationary point.
      const a = q1[k * 3];
      const b = q1[k * 3 + 1];
      const c = q1[k * 3 + 2];
      const denominator = 2 * s1 * c - s0 * b;
      const t = (2 * s0 * a - s1 * b) / denominator;
      if (t > 0 && t < w) {
        const n = -s1 - s0 * t;
        if (n > 0) {
          const q = a + t * (b + t * c);
          const g = (n * n) / q;
          if (g > bestLinear && q > floor1[k]) {
            bestLinear = g;
            joinLinear = scaled[k] + t;
            slope = n / q;
          }
        }
      }

      // Quadratic-plateau: Bernstein coefficients of the stationary quartic on this interval.
      const o = k * 15;
      const d0 = bernsteinMatrix[o] * s0 + bernsteinMatrix[o + 1] * s1 + bernsteinMatrix[o + 2] * s2;
      const d1 = bernsteinMatrix[o + 3] * s0 + bernsteinMatrix[o + 4] * s1 + bernsteinMatrix[o + 5] * s2;
      const d2 = bernsteinMatrix[o + 6] * s0 + bernsteinMatrix[o + 7] * s1 + bernsteinMatrix[o + 8] * s2;
      const d3 = bernsteinMatrix[o + 9] * s0 + bernsteinMatrix[o + 10] * s1 + bernsteinMatrix[o + 11] * s2;
      const d4 = bernsteinMatrix[o + 12] * s0 + bernsteinMatrix[o + 13] * s1 + bernsteinMatrix[o + 14] * s2;
      const changes =
        (d0 > 0 !== d1 > 0 ? 1 : 0) +
        (d1 > 0 !== d2 > 0 ? 1 : 0) +
        (d2 > 0 !== d3 > 0 ? 1 : 0) +
        (d3 > 0 !== d4 > 0 ? 1 : 0);
      if (changes === 0) continue;
      let found = 1;
      if (changes === 1) {
        if (!(d0 > 0)) continue; // a minimum of the gain (or N < 0, where the sign is turned round: no rise)
        roots[0] = bracketedRoot(d0, d1, d2, d3, d4);
      } else {
        bernstein[0] = d0;
        bernstein[1] = d1;
        bernstein[2] = d2;
        bernstein[3] = d3;
        bernstein[4] = d4;
        found = rootsInUnitInterval(bernstein, 4, roots);
      }
      for (let i = 0; i < found; i++) {
        const x = roots[i] * w;
        const n = -s2 - x * (2 * s1 + x * s0);
        if (!(n > 0)) continue;
        const p = k * 5;
        const q = q2[p] + x * (q2[p + 1] + x * (q2[p + 2] + x * (q2[p + 3] + x * q2[p + 4])));
        const g = (n * n) / q;
        if (g > bestQuadratic && q > floor2[k]) {
          bestQuadratic = g;
          joinQuadratic = scaled[k] + x;
          curvature = n / q;
        }
      }
    }
    // Beyond the highest level the quadratic-plateau is the quadratic itself, or in the limit the straight line.
    if (b2 < 0 && b1 + 2 * b2 >= 0 && quadraticGain > bestQuadratic) {
      bestQuadratic = quadraticGain;
      joinQuadratic = -b1 / (2 * b2);
      curvature = -b2;
    }
    if (line > 0 && lineGain > bestQuadratic) {
      bestQuadratic = lineGain;
      joinQuadratic = Number.POSITIVE_INFINITY;
      curvature = 0;
    }
    gain[3] = bestLinear;
    shape[3] = slope;
    shape[4] = joinLinear;
    gain[4] = bestQuadratic;
    shape[5] = curvature;
    shape[6] = joinQuadratic;
  }

  return { fit, gain, shape };
}

/**
 * On the first identified interval the quartic is zero at its left end, where the flat ridge of joins ends. Rounding would
 * put a false sign there, so the root is divided out and the cubic raised back to degree four.
 */
function divideByT(b: Float64Array): void {
  const [, d1, d2, d3, d4] = b;
  const c0 = 4 * d1;
  const c1 = 2 * d2;
  const c2 = (4 / 3) * d3;
  b.set([c0, (c0 + 3 * c1) / 4, (c1 + c2) / 2, (3 * c2 + d4) / 4, d4]);
}

/** Powers of 2 N' Q - N Q' in t / width, as in `joinSweep.ts`, with Q read at an offset. */
function stationaryPowers(n: readonly number[], q: Float64Array, at: number, width: number, out: Float64Array): void {
  const [n0, n1, n2] = n;
  const w2 = width * width;
  out[0] = 2 * n1 * q[at] - n0 * q[at + 1];
  out[1] = (4 * n2 * q[at] + n1 * q[at + 1] - 2 * n0 * q[at + 2]) * width;
  out[2] = 3 * (n2 * q[at + 1] - n0 * q[at + 3]) * w2;
  out[3] = (2 * n2 * q[at + 2] - n1 * q[at + 3] - 4 * n0 * q[at + 4]) * w2 * width;
  out[4] = (n2 * q[at + 3] - 2 * n1 * q[at + 4]) * w2 * w2;
}

/** The root in (0, 1) of a quartic that falls through zero once, from its Bernstein coefficients (d0 > 0 > d4 or zeros). */
function bracketedRoot(d0: number, d1: number, d2: number, d3: number, d4: number): number {
  const a1 = 4 * (d1 - d0);
  const a2 = 6 * (d2 - 2 * d1 + d0);
  const a3 = 4 * (d3 - 3 * d2 + 3 * d1 - d0);
  const a4 = d4 - 4 * d3 + 6 * d2 - 4 * d1 + d0;
  let low = 0;
  let high = 1;
  let t = d4 < 0 ? d0 / (d0 - d4) : 0.5;
  for (let i = 0; i < NEWTON_STEPS; i++) {
    const value = d0 + t * (a1 + t * (a2 + t * (a3 + t * a4)));
    if (value > 0) low = t;
    else high = t;
    const slope = a1 + t * (2 * a2 + t * (3 * a3 + t * 4 * a4));
    let next = t - value / slope;
    if (!(next > low && next < high)) next = (low + high) / 2;
    const step = next - t;
    t = next;
    if (step < 1e-13 && step > -1e-13) break;
  }
  return t;
}
