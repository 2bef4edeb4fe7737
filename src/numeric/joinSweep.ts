import { pow } from "../core/elementary.ts";
import { rootsInUnitInterval, toBernstein } from "./intervalRoots.ts";
import type { JoinDesign } from "./joinDesign.ts";

/** Exponent of the rising part: 1 linear-plateau, 2 quadratic-plateau. */
export type Power = 1 | 2;

/** One join worth looking at: a stationary point or a tested level. */
export interface JoinCandidate {
  /** Join on the [0, 1] scale of the tested range. */
  readonly join: number;
  /** N(J)^2 / Q(J): how much the rise takes off the sum of squares. */
  readonly gain: number;
  /** +1 when the fitted line rises to the plateau (N > 0), -1 when it falls. */
  readonly sign: number;
}

/** The polynomials of one interval between neighbouring levels, in t = J - (its left level), scaled density. */
export interface JoinPiece {
  /** Left level and width, scaled. */
  readonly left: number;
  readonly width: number;
  /** N by powers of t; shape [p + 1]. */
  readonly numerator: Float64Array;
  /** Q by powers of t; shape [2p + 1]. */
  readonly denominator: Float64Array;
  /** Q must exceed floor (J - base)^(2p) to carry information. */
  readonly floor: number;
}

/**
 * Visits the intervals in which the join is identified, left to right: from the second level to the last.
 * Between the first two levels every join gives the same fit; that interval is visited only when asked for.
 */
export function forEachPiece(
  design: JoinDesign,
  sums: Float64Array,
  power: Power,
  visit: (piece: JoinPiece) => void,
  withFirst = false,
): void {
  const { scaled } = design;
  const m = scaled.length;
  // Moments of S over the levels below the join, about the current level.
  let s0 = 0;
  let s1 = 0;
  let s2 = 0;
  for (let k = 0; k < m - 1; k++) {
    const step = k === 0 ? 0 : scaled[k] - scaled[k - 1];
    s2 += step * (2 * s1 + step * s0);
    s1 += step * s0;
    s0 += sums[k];
    if (k === 0 && !withFirst) continue;
    const numerator = power === 1 ? Float64Array.of(-s1, -s0) : Float64Array.of(-s2, -2 * s1, -s0);
    const denominator =
      power === 1 ? design.linear.subarray(k * 3, k * 3 + 3) : design.quadratic.subarray(k * 5, k * 5 + 5);
    visit({ left: scaled[k], width: scaled[k + 1] - scaled[k], numerator, denominator, floor: design.floor[k] });
  }
}

/** Value at t of a polynomial by ascending powers. */
export function polynomial(coefficients: ArrayLike<number>, t: number): number {
  let value = 0;
  for (let i = coefficients.length - 1; i >= 0; i--) value = value * t + coefficients[i];
  return value;
}

/**
 * Every candidate for the best join inside the tested range: all stationary points of N^2 / Q and all levels from the
 * second on. The global least-squares join is among them, so the largest gain wins; no starting value, no iteration that
 * could stop early.
 *
 * @param sums - level sums of `joinResponse`; shape [m]
 * @returns candidates by ascending join; empty with fewer than two levels
 */
export function joinCandidates(design: JoinDesign, sums: Float64Array, power: Power): JoinCandidate[] {
  const candidates: JoinCandidate[] = [];
  const m = design.scaled.length;
  if (m < 2) return candidates;
  const push = (join: number, n: number, q: number, floor: number): void => {
    if (q > floor * pow(join - design.base, 2 * power))
      candidates.push({ join, gain: (n * n) / q, sign: n >= 0 ? 1 : -1 });
  };
  const scratch = new Float64Array(5);
  const bernstein = new Float64Array(5);
  const roots = new Float64Array(4);
  forEachPiece(design, sums, power, ({ left, width, numerator, denominator, floor }) => {
    push(left, numerator[0], denominator[0], floor);
    const degree = stationary(numerator, denominator, power, width, scratch);
    toBernstein(scratch, degree, bernstein);
    const found = rootsInUnitInterval(bernstein, degree, roots);
    for (let r = 0; r < found; r++) {
      const t = roots[r] * width;
      push(left + t, polynomial(numerator, t), polynomial(denominator, t), floor);
    }
  });
  const end = atLastLevel(design, sums, power);
  push(1, end.numerator, end.denominator, design.floor[m - 1]);
  return candidates;
}

/** N and Q with the join on the highest level, where the pieces end. */
function atLastLevel(design: JoinDesign, sums: Float64Array, power: Power): { numerator: number; denominator: number } {
  const m = design.scaled.length;
  let numerator = 0;
  for (let l = 0; l < m - 1; l++) numerator -= sums[l] * pow(1 - design.scaled[l], power);
  return { numerator, denominator: power === 1 ? design.linear[(m - 1) * 3] : design.quadratic[(m - 1) * 5] };
}

/**
 * 2 N' Q - N Q' by powers of t / width; the terms that cancel exactly are left out, not computed.
 *
 * @returns its degree: 1 for p = 1, 4 for p = 2
 */
function stationary(n: Float64Array, q: Float64Array, power: Power, width: number, out: Float64Array): number {
  if (power === 1) {
    out[0] = 2 * n[1] * q[0] - n[0] * q[1];
    out[1] = (n[1] * q[1] - 2 * n[0] * q[2]) * width;
    return 1;
  }
  const [n0, n1, n2] = n;
  const [q0, q1, q2, q3, q4] = q;
  const w2 = width * width;
  out[0] = 2 * n1 * q0 - n0 * q1;
  out[1] = (4 * n2 * q0 + n1 * q1 - 2 * n0 * q2) * width;
  out[2] = 3 * (n2 * q1 - n0 * q3) * w2;
  out[3] = (2 * n2 * q2 - n1 * q3 - 4 * n0 * q4) * w2 * width;
  out[4] = (n2 * q3 - 2 * n1 * q4) * w2 * w2;
  return 4;
}
