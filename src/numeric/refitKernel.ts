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

/** Numbers kept for each interval; see `fixedParts`. */
const ROW = 30;

export function refitKernel(design: JoinDesign): RefitKernel {
  const { scaled, uu, uv, vv } = design;
  const m = scaled.length;
  const gain = new Float64Array(5);
  const shape = new Float64Array(7);
  const rest = uu > 0 ? vv - (uv / uu) * uv : 0;
  const bends = m > 2 && rest > 1e-14 * vv;
  const share = uu > 0 ? uv / uu : 0;
  const perInformation = uu > 0 ? 1 / uu : 0;
  const perRest = bends ? 1 / rest : 0;
  const fixed = fixedParts(design);
  const bernstein = new Float64Array(5);
  const roots = new Float64Array(4);

  function fit(sums: Float64Array): void {
    let t1 = 0;
    let t2 = 0;
    for (let l = 0; l < m; l++) {
      const u = scaled[l];
      const su = sums[l] * u;
      t1 += su;
      t2 += su * u;
    }
    const line = t1 * perInformation;
    const lineGain = line * t1;
    gain[1] = lineGain;
    shape[0] = line;
    if (!bends) {
      gain[2] = gain[3] = gain[4] = lineGain;
      shape[1] = line;
      shape[2] = shape[3] = shape[4] = shape[5] = shape[6] = 0;
      return;
    }
    const left = t2 - share * t1;
    const b2 = left * perRest;
    const b1 = line - share * b2;
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
    for (let k = 1, o = ROW; k < m; k++, o += ROW) {
      const step = fixed[o];
      s2 += step * (2 * s1 + step * s0);
      s1 += step * s0;
      // The level itself as a join (it does not yet count: its distance is zero).
      if (s1 < 0) {
        const g = s1 * s1 * fixed[o + 1];
        if (g > bestLinear) {
          bestLinear = g;
          joinLinear = scaled[k];
          slope = -s1 * fixed[o + 1];
        }
      }
      s0 += sums[k];
      if (k === m - 1) break;
      if (s2 < 0) {
        const g = s2 * s2 * fixed[o + 2];
        if (g > bestQuadratic) {
          bestQuadratic = g;
          joinQuadratic = scaled[k];
          curvature = -s2 * fixed[o + 2];
        }
      }

      // Linear-plateau: N = -s1 - s0 t, Q = a + b t + c t^2; 2 N' Q - N Q' is a straight line in t. From plus to minus: a maximum.
      const b = fixed[o + 4];
      const atLeft = s1 * b - s0 * fixed[o + 3];
      const atRight = s1 * fixed[o + 6] - s0 * fixed[o + 5];
      if (atLeft > 0 && atRight < 0) {
        const t = (fixed[o + 9] * atLeft) / (atLeft - atRight);
        const n = -s1 - s0 * t;
        if (n > 0) {
          const q = fixed[o + 3] * 0.5 + t * (b + t * fixed[o + 7]);
          const g = (n * n) / q;
          if (g > bestLinear && q > fixed[o + 8]) {
            bestLinear = g;
            joinLinear = scaled[k] + t;
            slope = n / q;
          }
        }
      }

      // Quadratic-plateau: Bernstein coefficients of the stationary quartic on this interval.
      const d0 = fixed[o + 15] * s0 + fixed[o + 16] * s1 + fixed[o + 17] * s2;
      const d1 = fixed[o + 18] * s0 + fixed[o + 19] * s1 + fixed[o + 20] * s2;
      const d2 = fixed[o + 21] * s0 + fixed[o + 22] * s1 + fixed[o + 23] * s2;
      const d3 = fixed[o + 24] * s0 + fixed[o + 25] * s1 + fixed[o + 26] * s2;
      const d4 = fixed[o + 27] * s0 + fixed[o + 28] * s1 + fixed[o + 29] * s2;
      let root = -1;
      if (d0 > 0) {
        if (d4 > 0) {
          if (d1 > 0 && d2 > 0 && d3 > 0) continue; // the gain rises all the way
        } else if (d1 > 0 ? d2 > 0 || !(d3 > 0) : !(d2 > 0 || d3 > 0)) {
          root = fallingRoot(d0, d1, d2, d3, d4); // one change of sign, from plus to minus: one maximum
        }
      } else if (d4 > 0) {
        // One change from minus to plus: a minimum of the gain (or N < 0, where the sign is turned round: no rise).
        if (d1 > 0 ? d2 > 0 && d3 > 0 : !(d2 > 0) || d3 > 0) continue;
      } else if (!(d1 > 0 || d2 > 0 || d3 > 0)) continue; // the gain falls all the way

      let found = 1;
      if (root >= 0) {
        roots[0] = root;
      } else {
        bernstein[0] = d0;
        bernstein[1] = d1;
        bernstein[2] = d2;
        bernstein[3] = d3;
        bernstein[4] = d4;
        found = rootsInUnitInterval(bernstein, 4, roots);
      }
      for (let i = 0; i < found; i++) {
        const x = roots[i] * fixed[o + 9];
        const n = -s2 - x * (2 * s1 + x * s0);
        if (!(n > 0)) continue;
        const q =
          fixed[o + 10] + x * (fixed[o + 11] + x * (fixed[o + 12] + x * (fixed[o + 13] + x * fixed[o + 7])));
        const slopeHere = n / q;
        const g = n * slopeHere;
        if (g > bestQuadratic && q > fixed[o + 14]) {
          bestQuadratic = g;
          joinQuadratic = scaled[k] + x;
          curvature = slopeHere;
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
 * What the layout alone fixes about every interval k = 1 … m - 1, `ROW` numbers each: [0] step from level k - 1; [1], [2] 1 / Q at
 * level k for p = 1 and 2, 0 where Q carries no information; linear-plateau, with Q = a + b t + c t^2: [3] 2a, [4] b, [5] 2a + bw,
 * [6] b + 2cw, [7] c, [8] least Q; [9] width w; quadratic-plateau: [10] to [13] Q by powers of t, the fourth being c again; [14]
 * least Q; [15] to [29] the map from s0, s1, s2 to the Bernstein coefficients.
 */
function fixedParts(design: JoinDesign): Float64Array {
  const { scaled, floor, base, linear, quadratic } = design;
  const m = scaled.length;
  const fixed = new Float64Array(m * ROW);
  const powers = new Float64Array(5);
  const bernstein = new Float64Array(5);
  for (let k = 1; k < m; k++) {
    const row = fixed.subarray(k * ROW, (k + 1) * ROW);
    const [a, b, c] = linear.subarray(k * 3, k * 3 + 3);
    const w = k < m - 1 ? scaled[k + 1] - scaled[k] : 0;
    const q = quadratic.subarray(k * 5, k * 5 + 5);
    const least1 = floor[k - 1] * square(scaled[k] - base);
    const least2 = floor[k - 1] * pow(scaled[k] - base, 4);
    row.set([scaled[k] - scaled[k - 1], a > least1 ? 1 / a : 0, q[0] > least2 ? 1 / q[0] : 0]);
    row.set([2 * a, b, 2 * a + b * w, b + 2 * c * w, c, least1, w, q[0], q[1], q[2], q[3], least2], 3);
    if (k === m - 1) break;
    for (let j = 0; j < 3; j++) {
      const n = [0, 0, 0];
      n[2 - j] = j === 1 ? -2 : -1; // N = -s2 - 2 s1 t - s0 t^2; j counts s0, s1, s2
      stationaryPowers(n, q, w, powers);
      toBernstein(powers, 4, bernstein);
      if (k === 1) divideByT(bernstein);
      for (let i = 0; i < 5; i++) row[15 + i * 3 + j] = bernstein[i];
    }
  }
  return fixed;
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

/** Powers of 2 N' Q - N Q' in t / width, as in `joinSweep.ts`. */
function stationaryPowers(n: readonly number[], q: Float64Array, width: number, out: Float64Array): void {
  const [n0, n1, n2] = n;
  const [q0, q1, q2, q3, q4] = q;
  const w2 = width * width;
  out[0] = 2 * n1 * q0 - n0 * q1;
  out[1] = (4 * n2 * q0 + n1 * q1 - 2 * n0 * q2) * width;
  out[2] = 3 * (n2 * q1 - n0 * q3) * w2;
  out[3] = (2 * n2 * q2 - n1 * q3 - 4 * n0 * q4) * w2 * width;
  out[4] = (n2 * q3 - 2 * n1 * q4) * w2 * w2;
}

/** Newton steps tried before the interval is halved instead. */
const NEWTON_STEPS = 12;

/**
 * The root in (0, 1) of a quartic that falls through zero once, from its Bernstein coefficients (d0 > 0 > d4 or zeros).
 *
 * Newton from where the parabola through both ends and the middle falls through zero. Near the root the errors square, e' = C e^2, so after steps s, s' the error left is about
 * |s'|^3 / s^2: that, not the step, is held against the rounding, and saves the last step. Newton may leave [0, 1] and come
 * back; what it settles on inside is the only root there. If it does not settle, halving the bracket does.
 */
function fallingRoot(d0: number, d1: number, d2: number, d3: number, d4: number): number {
  const a1 = 4 * (d1 - d0);
  const a2 = 6 * (d2 - 2 * d1 + d0);
  const a3 = 4 * (d3 - 3 * d2 + 3 * d1 - d0);
  const a4 = d4 - 4 * d3 + 6 * d2 - 4 * d1 + d0;
  const half = (d0 + d4) / 16 + (d1 + d3) / 4 + 0.375 * d2;
  const bend = 2 * (d0 - 2 * half + d4);
  const fall = 3 * d0 - 4 * half + d4;
  let t = (2 * d0) / (fall + Math.sqrt(fall * fall - 4 * bend * d0));
  let before = 0;
  for (let i = 0; i < NEWTON_STEPS; i++) {
    const value = d0 + t * (a1 + t * (a2 + t * (a3 + t * a4)));
    const slope = a1 + t * (2 * a2 + t * (3 * a3 + t * (4 * a4)));
    const step = value / slope;
    t -= step;
    const squared = step * step;
    if (Math.abs(step) * squared <= 1e-16 * before) {
      if (t > 0 && t < 1) return t;
      break;
    }
    before = squared;
  }
  let low = 0;
  let high = 1;
  for (;;) {
    const middle = (low + high) / 2;
    if (middle <= low || middle >= high) return middle;
    if (d0 + middle * (a1 + middle * (a2 + middle * (a3 + middle * a4))) > 0) low = middle;
    else high = middle;
  }
}
