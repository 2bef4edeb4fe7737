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
export type KernelFamily = (typeof kernelFamilies)[number];

/**
 * @param families - those wanted; the gain and shape of a plateau family that is not among them stay 0
 */
export function refitKernel(design: JoinDesign, families: readonly KernelFamily[] = kernelFamilies): RefitKernel {
  const gain = new Float64Array(5);
  const shape = new Float64Array(7);
  const fixed = fixedParts(design);
  const whole = wholeRange(design, families);
  const quartic = new Float64Array(6);
  return { fit: (sums) => fitAll(fixed, whole, design.scaled, sums, gain, shape, quartic), gain, shape };
}

/** Numbers kept for each interval; see `fixedParts`. */
const ROW = 25;

/**
 * One refit. All arrays are arguments: V8 checks what an argument is once, what a closure holds at every use inside a loop, which
 * costs as much as the arithmetic. Numbers go from function to function in an array (`quartic`), as arguments they may be boxed.
 */
function fitAll(
  fixed: Float64Array,
  whole: Float64Array,
  scaled: Float64Array,
  sums: Float64Array,
  gain: Float64Array,
  shape: Float64Array,
  quartic: Float64Array,
): void {
  const m = scaled.length;
  let t1 = 0;
  let t2 = 0;
  for (let l = 0; l < m; l++) {
    const u = scaled[l];
    const su = sums[l] * u;
    t1 += su;
    t2 += su * u;
  }
  const share = whole[1];
  const line = t1 * whole[0];
  const lineGain = line * t1;
  const left = t2 - share * t1;
  const b2 = left * whole[2];
  const b1 = line - share * b2;
  const quadraticGain = lineGain + b2 * left;
  gain[1] = lineGain;
  gain[2] = quadraticGain;
  shape[0] = line;
  shape[1] = b1;
  shape[2] = b2;
  if (whole[2] === 0) {
    gain[3] = gain[4] = lineGain;
    return;
  }
  if (whole[3] !== 0) linearPlateau(fixed, scaled, sums, gain, shape);
  if (whole[4] === 0) return;
  quadraticPlateau(fixed, scaled, sums, gain, shape, quartic);
  // Beyond the highest level the quadratic-plateau is the quadratic itself, or in the limit the straight line.
  if (b2 < 0 && b1 + 2 * b2 >= 0 && quadraticGain > gain[4]) {
    gain[4] = quadraticGain;
    shape[5] = -b2;
    shape[6] = -b1 / (2 * b2);
  }
  if (line > 0 && lineGain > gain[4]) {
    gain[4] = lineGain;
    shape[5] = 0;
    shape[6] = Number.POSITIVE_INFINITY;
  }
}

/** N = -s1 - s0 t, Q = a + b t + c t^2: 2 N' Q - N Q' is a straight line in t; where it falls through zero the gain is largest. */
function linearPlateau(
  fixed: Float64Array,
  scaled: Float64Array,
  sums: Float64Array,
  gain: Float64Array,
  shape: Float64Array,
): void {
  const m = scaled.length;
  let best = 0;
  let join = 0;
  let slope = 0;
  let s0 = sums[0];
  let s1 = fixed[0] * s0;
  for (let k = 1, o = ROW; k < m; k++, o += ROW) {
    // The level itself as a join (it does not yet count: its distance is zero).
    if (s1 < 0) {
      const perQ = fixed[o + 1];
      const g = s1 * s1 * perQ;
      if (g > best) {
        best = g;
        join = scaled[k];
        slope = -s1 * perQ;
      }
    }
    s0 += sums[k];
    const w = fixed[o];
    const b = fixed[o + 3];
    const atLeft = s1 * b - s0 * fixed[o + 2];
    const atRight = s1 * fixed[o + 5] - s0 * fixed[o + 4];
    if (atLeft > 0 && atRight < 0) {
      const t = (w * atLeft) / (atLeft - atRight);
      const n = -s1 - s0 * t;
      const q = 0.5 * fixed[o + 2] + t * (b + t * fixed[o + 6]);
      const here = n / q;
      const g = n * here;
      if (n > 0 && g > best && q > fixed[o + 7]) {
        best = g;
        join = scaled[k] + t;
        slope = here;
      }
    }
    s1 += w * s0;
  }
  gain[3] = best;
  shape[3] = slope;
  shape[4] = join;
}

/** Joins from the second level to the last. N = -s2 - 2 s1 t - s0 t^2. */
function quadraticPlateau(
  fixed: Float64Array,
  scaled: Float64Array,
  sums: Float64Array,
  gain: Float64Array,
  shape: Float64Array,
  quartic: Float64Array,
): void {
  const last = scaled.length - 1;
  let best = 0;
  let join = 0;
  let curvature = 0;
  let s0 = sums[0];
  let s1 = fixed[0] * s0;
  let s2 = fixed[0] * s1;
  let right = fixed[14] * (s0 + sums[1]) + fixed[15] * s1 + fixed[16] * s2;
  for (let k = 1, o = ROW; k < last; k++, o += ROW) {
    // The level itself as a join.
    if (s2 < 0) {
      const perQ = fixed[o + 8];
      const g = s2 * s2 * perQ;
      if (g > best) {
        best = g;
        join = scaled[k];
        curvature = -s2 * perQ;
      }
    }
    s0 += sums[k];
    const w = fixed[o];
    const n1 = 2 * s1;
    const n2 = s2;
    const d0 = right;
    const d1 = fixed[o + 16] * s0 + fixed[o + 17] * s1 + fixed[o + 18] * s2;
    const d2 = fixed[o + 19] * s0 + fixed[o + 20] * s1 + fixed[o + 21] * s2;
    const d3 = fixed[o + 22] * s0 + fixed[o + 23] * s1 + fixed[o + 24] * s2;
    // Moments about the next level; the quartic there ends this interval and begins the next.
    s2 += w * (n1 + w * s0);
    s1 += w * s0;
    right = fixed[o + ROW + 14] * s1 + fixed[o + ROW + 15] * s2;

    let single = false;
    if (d0 > 0) {
      if (right > 0) {
        if (d1 > 0 && d2 > 0 && d3 > 0) continue; // the gain rises all the way
      } else single = d1 > 0 ? d2 > 0 || !(d3 > 0) : !(d2 > 0 || d3 > 0);
    } else if (right > 0) {
      // One change from minus to plus: a minimum of the gain (or N < 0, where the sign is turned round: no rise).
      if (d1 > 0 ? d2 > 0 && d3 > 0 : !(d2 > 0) || d3 > 0) continue;
    } else if (!(d1 > 0 || d2 > 0 || d3 > 0)) continue; // the gain falls all the way
    quartic[0] = d0;
    quartic[1] = d1;
    quartic[2] = d2;
    quartic[3] = d3;
    quartic[4] = right;
    if (single) fallingRoot(quartic);
    else if (!bestRoot(fixed, o, s0, n1, n2, quartic)) continue;
    const t = quartic[5] * w;
    const n = -n2 - t * (n1 + t * s0);
    const q = denominator(fixed, o, t);
    const here = n / q;
    const g = n * here;
    if (n > 0 && g > best && q > fixed[o + 13]) {
      best = g;
      join = scaled[k] + t;
      curvature = here;
    }
  }
  gain[4] = best;
  shape[5] = curvature;
  shape[6] = join;
}

/** Q of the quadratic-plateau at t above the level of row o. */
function denominator(fixed: Float64Array, o: number, t: number): number {
  return fixed[o + 9] + t * (fixed[o + 10] + t * (fixed[o + 11] + t * (fixed[o + 12] + t * fixed[o + 6])));
}

/** Of several stationary points in one interval, the one with the largest gain, to `quartic[5]`; false when none is a rise. */
function bestRoot(fixed: Float64Array, o: number, s0: number, n1: number, n2: number, quartic: Float64Array): boolean {
  const roots = new Float64Array(4);
  const found = rootsInUnitInterval(quartic, 4, roots);
  let most = 0;
  for (let i = 0; i < found; i++) {
    const t = roots[i] * fixed[o];
    const n = -n2 - t * (n1 + t * s0);
    const q = denominator(fixed, o, t);
    if (n > 0 && q > fixed[o + 13] && n * n > most * q) {
      most = (n * n) / q;
      quartic[5] = roots[i];
    }
  }
  return most > 0;
}

/**
 * What the layout alone fixes about every level k and the interval above it, `ROW` numbers each.
 *
 * [0] width w of the interval. Linear-plateau, Q = a + b t + c t^2: [1] 1 / Q at the level, 0 where Q carries no information;
 * [2] 2a, [3] b, [4] 2a + bw, [5] b + 2cw, [6] c; [7] least Q that carries information. Quadratic-plateau: [8] 1 / Q as before; [9] to
 * [12] Q by powers of t, the last being c again; [13] least Q; [14], [15] the quartic at the level by s1, s2 = - 4 Q s1 + Q' s2;
 * [16] to [24] its inner three Bernstein coefficients by s0, s1, s2. Level 0 has no fits; its [14] to [16] give the first coefficient of
 * the first interval, where the root at the ridge is divided out.
 */
function fixedParts(design: JoinDesign): Float64Array {
  const { scaled, floor, base, linear, quadratic } = design;
  const m = scaled.length;
  const fixed = new Float64Array(m * ROW);
  const powers = new Float64Array(5);
  const bernstein = new Float64Array(5);
  for (let k = 0; k < m; k++) {
    const row = fixed.subarray(k * ROW, (k + 1) * ROW);
    const w = k < m - 1 ? scaled[k + 1] - scaled[k] : 0;
    row[0] = w;
    if (k === 0) continue;
    const [a, b, c] = linear.subarray(k * 3, k * 3 + 3);
    const q = quadratic.subarray(k * 5, k * 5 + 5);
    const least1 = floor[k - 1] * square(scaled[k] - base);
    const least2 = floor[k - 1] * pow(scaled[k] - base, 4);
    row.set([a > least1 ? 1 / a : 0, 2 * a, b, 2 * a + b * w, b + 2 * c * w, c, least1], 1);
    row.set([q[0] > least2 ? 1 / q[0] : 0, q[0], q[1], q[2], q[3], least2, -4 * q[0], q[1]], 8);
    for (let j = 0; j < 3; j++) {
      const n = [0, 0, 0];
      n[2 - j] = j === 1 ? -2 : -1; // j counts s0, s1, s2
      stationaryPowers(n, q, w, powers);
      toBernstein(powers, 4, bernstein);
      if (k === 1) {
        divideByT(bernstein);
        fixed[14 + j] = bernstein[0];
      }
      for (let i = 1; i < 4; i++) row[13 + 3 * i + j] = bernstein[i];
    }
  }
  return fixed;
}

/** [0] 1 / uu and [1] uv / uu for the line, [2] 1 / (vv - uv^2 / uu) for the bend, 0 when nothing can bend; [3], [4] plateau families wanted. */
function wholeRange({ scaled, uu, uv, vv }: JoinDesign, families: readonly KernelFamily[]): Float64Array {
  const share = uu > 0 ? uv / uu : 0;
  const rest = vv - share * uv;
  const bends = scaled.length > 2 && uu > 0 && rest > 1e-14 * vv;
  return Float64Array.of(
    uu > 0 ? 1 / uu : 0,
    share,
    bends ? 1 / rest : 0,
    families.includes("linear-plateau") ? 1 : 0,
    families.includes("quadratic-plateau") ? 1 : 0,
  );
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
 * The root in (0, 1) of a quartic that falls through zero once, from its Bernstein coefficients (d0 > 0 > d4 or zeros), to place 5.
 *
 * Newton from where the parabola through both ends and the middle falls through zero. Near the root the errors square, e' = C e^2, so
 * after steps s, s' the error left is about |s'|^3 / s^2: that, not the step, is held against the rounding, and saves the last step.
 * Newton may leave [0, 1] and come back; what it settles on inside is the only root there. If it does not settle, halving the
 * bracket does.
 */
function fallingRoot(quartic: Float64Array): void {
  const d0 = quartic[0];
  const d1 = quartic[1];
  const d2 = quartic[2];
  const d3 = quartic[3];
  const d4 = quartic[4];
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
      if (!(t > 0 && t < 1)) break;
      quartic[5] = t;
      return;
    }
    before = squared;
  }
  let low = 0;
  let high = 1;
  for (;;) {
    const middle = (low + high) / 2;
    if (middle <= low || middle >= high) break;
    if (d0 + middle * (a1 + middle * (a2 + middle * (a3 + middle * a4))) > 0) low = middle;
    else high = middle;
  }
  quartic[5] = high;
}
