import { pow } from "../core/elementary.ts";
import { rootsInUnitInterval, toBernstein } from "../numeric/intervalRoots.ts";
import type { JoinDesign, JoinResponse } from "../numeric/joinDesign.ts";
import { forEachPiece, type JoinPiece, type Power, polynomial } from "../numeric/joinSweep.ts";

/** A closed range of scaled density, [0, 1] over the tested range. */
export type Range = readonly [number, number];

/** Densities at which one family's optimum is compatible with the data, and whether the ends of the range are. */
export interface AcceptedSet {
  readonly inside: readonly Range[];
  readonly lowerEdge: boolean;
  readonly upperEdge: boolean;
}

export const emptySet: AcceptedSet = { inside: [], lowerEdge: false, upperEdge: false };

/**
 * Joins J in [0, 1] for which `accept` holds. `accept` may only change its verdict where one of `boundaries` is zero, so it
 * is asked once between neighbouring zeros: no thin range can be missed.
 *
 * @param boundaries - polynomials of degree <= 4 in t for one interval between levels
 * @param accept - verdict from N(J), Q(J)
 */
export function acceptedJoins(
  design: JoinDesign,
  sums: Float64Array,
  power: Power,
  boundaries: (n: ArrayLike<number>, q: ArrayLike<number>) => number[][],
  accept: (n: number, q: number) => boolean,
): Range[] {
  const ranges: Range[] = [];
  const visit = ({ left, width, numerator, denominator, floor }: JoinPiece): void => {
    const cuts = boundaries(numerator, denominator).flatMap((p) => rootsOnPiece(p, width));
    const ends = [0, ...cuts.sort((a, b) => a - b), width];
    for (let i = 1; i < ends.length; i++) {
      if (ends[i] === ends[i - 1]) continue;
      const middle = (ends[i - 1] + ends[i]) / 2;
      const q = polynomial(denominator, middle);
      // Without information on the rise every curvature fits like none: the verdict is that of a flat curve.
      const informative = q > floor * pow(left + middle - design.base, 2 * power);
      if (accept(informative ? polynomial(numerator, middle) : 0, informative ? q : 1)) {
        push(ranges, [left + ends[i - 1], left + ends[i]]);
      }
    }
  };
  forEachPiece(design, sums, power, visit, true);
  return ranges;
}

function push(ranges: Range[], [from, to]: Range): void {
  const last = ranges[ranges.length - 1];
  if (last && from <= last[1]) ranges[ranges.length - 1] = [last[0], to];
  else ranges.push([from, to]);
}

/** Roots in (0, width) of a polynomial by ascending powers. */
export function rootsOnPiece(coefficients: readonly number[], width: number): number[] {
  const degree = coefficients.length - 1;
  const scaled = coefficients.map((value, i) => value * pow(width, i));
  if (scaled.every((value) => value === 0)) return [];
  const bernstein = new Float64Array(degree + 1);
  const roots = new Float64Array(degree);
  toBernstein(scaled, degree, bernstein);
  const found = rootsInUnitInterval(bernstein, degree, roots);
  return Array.from(roots.subarray(0, found), (root) => root * width);
}

/** N^2 - c Q: at least zero where the residual sum of squares is within the cut-off (and N > 0: a rise). */
export function withinCutoff(n: ArrayLike<number>, q: ArrayLike<number>, c: number): number[] {
  const square = new Array<number>(2 * n.length - 1).fill(0);
  for (let i = 0; i < n.length; i++) for (let j = 0; j < n.length; j++) square[i + j] += n[i] * n[j];
  return square.map((value, i) => value - c * (q[i] ?? 0));
}

/** A quadratic's scaled coefficients (b1 on u, b2 on u^2), their least-squares gain, and the projected products. */
export interface QuadraticMoments {
  readonly t1: number;
  readonly t2: number;
  readonly uu: number;
  readonly uv: number;
  readonly vv: number;
  readonly b1: number;
  readonly b2: number;
  /** Gain of the unrestricted quadratic and of the straight line over block means alone. */
  readonly gain: number;
  readonly lineGain: number;
}

export function quadraticMoments(design: JoinDesign, sums: Float64Array): QuadraticMoments {
  const { uu, uv, vv, scaled } = design;
  let t1 = 0;
  let t2 = 0;
  for (let l = 0; l < scaled.length; l++) {
    t1 += sums[l] * scaled[l];
    t2 += sums[l] * scaled[l] * scaled[l];
  }
  const r = uv / uu;
  const rest = vv - r * uv;
  const b2 = scaled.length > 2 && rest > 0 ? (t2 - r * t1) / rest : 0;
  const b1 = t1 / uu - r * b2;
  const lineGain = (t1 * t1) / uu;
  return { t1, t2, uu, uv, vv, b1, b2, lineGain, gain: lineGain + b2 * (t2 - r * t1) };
}

/** Gain of the best curve k (d1 u + d2 u^2) with k >= 0: zero when the data point the other way. */
export function rayGain(m: QuadraticMoments, d1: number, d2: number): number {
  const n = d1 * m.t1 + d2 * m.t2;
  const q = d1 * d1 * m.uu + 2 * d1 * d2 * m.uv + d2 * d2 * m.vv;
  return n > 0 && q > 0 ? (n * n) / q : 0;
}

/** Yields with r x taken off, on the scaled axis: the optimum of Y - r x is the agronomic optimum of these. */
export function tilt(design: JoinDesign, response: JoinResponse, r: number): JoinResponse {
  if (r === 0) return response;
  const { scaled, levelWeight, block, level, weight, blockWeight, blocks } = design;
  const scaledRatio = r * design.span;
  const blockMeanU = new Float64Array(blocks);
  for (let i = 0; i < level.length; i++) blockMeanU[block[i]] += (weight[i] / blockWeight[block[i]]) * scaled[level[i]];
  const sums = response.sums.slice();
  let cross = 0;
  for (let i = 0; i < level.length; i++) {
    sums[level[i]] -= scaledRatio * weight[i] * (scaled[level[i]] - blockMeanU[block[i]]);
  }
  for (let l = 0; l < levelWeight.length; l++) cross += response.sums[l] * scaled[l];
  return {
    sums,
    total: response.total - 2 * scaledRatio * cross + scaledRatio * scaledRatio * design.uu,
    blockMean: response.blockMean.map((value, b) => value - scaledRatio * blockMeanU[b]),
  };
}

/**
 * s = 1 / J in [0, 1] for which a quadratic-plateau with its join J beyond the highest density is within the cut-off; s = 0 is
 * the straight line. There N = 2 J t1 - t2 and Q = vv - 4 J uv + 4 J^2 uu, so N^2 >= c Q is a quadratic in s.
 *
 * @param rising - only curves that rise to the join (N > 0)
 */
export function reciprocalRanges(m: QuadraticMoments, c: number, rising: boolean): Range[] {
  const n = [2 * m.t1, -m.t2];
  const q = [4 * m.uu, -4 * m.uv, m.vv];
  const cuts = [0, ...rootsOnPiece(withinCutoff(n, q, c), 1), ...rootsOnPiece(n, 1), 1].sort((a, b) => a - b);
  const ranges: Range[] = [];
  for (let i = 1; i < cuts.length; i++) {
    if (cuts[i] === cuts[i - 1]) continue;
    const s = (cuts[i - 1] + cuts[i]) / 2;
    const value = polynomial(n, s);
    if ((value > 0 || !rising) && value * value >= c * polynomial(q, s)) push(ranges, [cuts[i - 1], cuts[i]]);
  }
  return ranges;
}
