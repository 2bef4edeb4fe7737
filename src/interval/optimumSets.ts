import { square } from "../core/elementary.ts";
import type { InnerFamily } from "../curves/family.ts";
import type { JoinDesign, JoinResponse } from "../numeric/joinDesign.ts";
import { polynomial } from "../numeric/joinSweep.ts";
import {
  type AcceptedSet,
  acceptedJoins,
  emptySet,
  type QuadraticMoments,
  quadraticMoments,
  type Range,
  rayGain,
  reciprocalRanges,
  rootsOnPiece,
  tilt,
  withinCutoff,
} from "./acceptance.ts";

/**
 * All densities x such that the best curve of one family with its optimum at x has RSS <= cutoff (test inversion).
 *
 * The optimum is that of Y(x) - r x. For the straight line and the quadratic r x is simply taken off the yields. For the
 * linear-plateau the optimum is the join while slope > r. For the quadratic-plateau it is join - r / (2 curvature): the set is
 * the image of the region {(join, curvature): RSS <= cutoff}.
 *
 * @param r - price ratio, yield units per density unit of the caller, >= 0
 * @param cutoff - largest residual sum of squares that is still compatible
 */
export function optimumSet(
  family: InnerFamily,
  design: JoinDesign,
  response: JoinResponse,
  r: number,
  cutoff: number,
): AcceptedSet {
  if (design.levels.length < 2 || family === "flat") return emptySet;
  const c = response.total - cutoff;
  // A curve so weak that it is nearly flat can have its optimum anywhere.
  if (c <= 0 && r === 0) return { inside: [[0, 1]], lowerEdge: true, upperEdge: true };
  switch (family) {
    case "linear":
      return lineSet(design, tilt(design, response, r), cutoff);
    case "quadratic":
      return quadraticSet(design, tilt(design, response, r), cutoff);
    case "linear-plateau":
      return linearPlateauSet(design, response, r * design.span, cutoff);
    default:
      return quadraticPlateauSet(design, response, r * design.span, cutoff);
  }
}

function lineSet(design: JoinDesign, response: JoinResponse, cutoff: number): AcceptedSet {
  const moments = quadraticMoments(design, response.sums);
  const c = response.total - cutoff;
  return { inside: [], upperEdge: rayGain(moments, 1, 0) >= c, lowerEdge: rayGain(moments, -1, 0) >= c };
}

/**
 * Vertex inside: a ray h = -(u - v)^2 for each v. Optimum at an end: a wedge of (b1, b2) between the parabola with its
 * vertex on that end and the one that bends upwards with equal ends; both wedges are convex, so the best point outside
 * lies on a side.
 */
function quadraticSet(design: JoinDesign, response: JoinResponse, cutoff: number): AcceptedSet {
  const m = quadraticMoments(design, response.sums);
  const c = response.total - cutoff;
  if (c <= 0) return { inside: [[0, 1]], lowerEdge: true, upperEdge: true };
  const equalEnds = rayGain(m, -1, 1);
  const upper = m.b2 <= 0 ? m.b1 + 2 * m.b2 >= 0 : m.b1 + m.b2 >= 0;
  const lower = m.b2 <= 0 ? m.b1 <= 0 : m.b1 + m.b2 <= 0;
  return {
    inside: vertexRanges(m, c),
    upperEdge: (upper ? m.gain : Math.max(rayGain(m, 2, -1), equalEnds)) >= c,
    lowerEdge: (lower ? m.gain : Math.max(rayGain(m, 0, -1), equalEnds)) >= c,
  };
}

/** Vertices v in [0, 1] of concave parabolas within the cut-off: N = 2 v t1 - t2 > 0 and N^2 >= c Q. */
function vertexRanges(m: QuadraticMoments, c: number): Range[] {
  const n = [-m.t2, 2 * m.t1];
  const q = [m.vv, -4 * m.uv, 4 * m.uu];
  const cuts = [0, ...rootsOnPiece(withinCutoff(n, q, c), 1), ...rootsOnPiece(n, 1), 1].sort((a, b) => a - b);
  const ranges: Range[] = [];
  for (let i = 1; i < cuts.length; i++) {
    const v = (cuts[i - 1] + cuts[i]) / 2;
    const value = polynomial(n, v);
    if (cuts[i] > cuts[i - 1] && value > 0 && value * value >= c * polynomial(q, v))
      ranges.push([cuts[i - 1], cuts[i]]);
  }
  return ranges;
}

function linearPlateauSet(design: JoinDesign, response: JoinResponse, r: number, cutoff: number): AcceptedSet {
  const c = response.total - cutoff;
  // Sum of squares taken off by slope k at join J: 2 k N - k^2 Q; the best k is N / Q, limited by the price.
  const gainAtPrice = (n: number, q: number): number => 2 * r * n - r * r * q;
  const paying = (n: number, q: number): boolean => (n >= r * q ? n > 0 && n * n >= c * q : gainAtPrice(n, q) >= c);
  const notPaying = (n: number, q: number): boolean => (n <= r * q ? n > 0 && n * n >= c * q : gainAtPrice(n, q) >= c);
  const boundaries = (n: ArrayLike<number>, q: ArrayLike<number>): number[][] => {
    const list = [withinCutoff(n, q, c), Array.from(n)];
    if (r > 0) {
      list.push(Array.from(q, (value, i) => (n[i] ?? 0) - r * value));
      list.push(Array.from(q, (value, i) => 2 * r * (n[i] ?? 0) - r * r * value - (i === 0 ? c : 0)));
    }
    return list;
  };
  const inside = acceptedJoins(design, response.sums, 1, boundaries, paying);
  const last = inside[inside.length - 1];
  const dearEnough = r > 0 && (c <= 0 || acceptedJoins(design, response.sums, 1, boundaries, notPaying).length > 0);
  return { inside, lowerEdge: dearEnough, upperEdge: last !== undefined && last[1] >= 1 };
}

/** Joins looked at in each accepted range when an optimum is mapped from (join, curvature); ends are refined. */
const STEPS = 64;

function quadraticPlateauSet(design: JoinDesign, response: JoinResponse, r: number, cutoff: number): AcceptedSet {
  const c = response.total - cutoff;
  const m = quadraticMoments(design, response.sums);
  const boundaries = (n: ArrayLike<number>, q: ArrayLike<number>): number[][] => [withinCutoff(n, q, c), Array.from(n)];
  const accept = (n: number, q: number): boolean => n > 0 && n * n >= c * q;
  if (r === 0) {
    const inside = acceptedJoins(design, response.sums, 2, boundaries, accept);
    const beyond = m.b2 < 0 && m.b1 + 2 * m.b2 >= 0 ? m.gain : Math.max(rayGain(m, 2, -1), rayGain(m, 1, 0));
    return { inside, lowerEdge: false, upperEdge: beyond >= c };
  }

  // When a flat curve is compatible too (c <= 0) every join is, with a curvature from nothing up to its limit.
  const ranges: Range[] = c <= 0 ? [[0, 1]] : acceptedJoins(design, response.sums, 2, boundaries, accept);
  // Joins beyond the range: J = 1 / s with s in (0, 1]; N = 2 J t1 - t2, Q = vv - 4 J uv + 4 J^2 uu.
  const far: Range[] =
    c <= 0 ? [[1e-9, 1]] : reciprocalRanges(m, c, true).map(([from, to]): Range => [Math.max(from, 1e-9), to]);
  const direct = ranges.map((range) =>
    image(
      range,
      (join) => momentsAt(design, response.sums, join),
      (join) => join,
      r,
      c,
    ),
  );
  const reciprocal = far.map((range) =>
    image(
      range,
      (s) => [2 * m.t1 - s * m.t2, m.vv * s * s - 4 * m.uv * s + 4 * m.uu],
      (s) => 1 / s,
      r,
      c,
      true,
    ),
  );
  const images = [...direct, ...reciprocal];
  return {
    inside: images.flatMap(([from, to]) => (to > 0 && from < 1 ? [[Math.max(from, 0), Math.min(to, 1)] as Range] : [])),
    lowerEdge: images.some(([from]) => from <= 0),
    upperEdge: images.some(([, to]) => to >= 1),
  };
}

function momentsAt(design: JoinDesign, sums: Float64Array, join: number): [number, number] {
  const { scaled } = design;
  let k = 0;
  while (k + 1 < scaled.length - 1 && scaled[k + 1] <= join) k++;
  const t = join - scaled[k];
  let n = 0;
  for (let l = 0; l <= k; l++) n -= sums[l] * square(join - scaled[l]);
  return [n, polynomial(design.quadratic.subarray(k * 5, k * 5 + 5), t)];
}

/**
 * Range of J - r / (2 k) over one connected range of joins, k anywhere between its two limits (N -+ sqrt(N^2 - c Q)) / Q.
 * With `farAway` N and Q are those of the join divided by J and J^2, so k is scaled back.
 */
function image(
  [from, to]: Range,
  moments: (parameter: number) => [number, number],
  joinOf: (parameter: number) => number,
  r: number,
  c: number,
  farAway = false,
): Range {
  const optimum = (parameter: number, side: 1 | -1): number => {
    const [n, q] = moments(parameter);
    const root = Math.sqrt(Math.max(n * n - c * q, 0));
    const join = joinOf(parameter);
    // k = (N + side root) / Q; written as c / (N - side root) where that keeps its digits.
    const k = side > 0 ? (n >= 0 ? (n + root) / q : c / (n - root)) : c / (n + root);
    return k > 0 ? join - r / (2 * (farAway ? k / join : k)) : Number.NEGATIVE_INFINITY;
  };
  const lowest = c <= 0 ? Number.NEGATIVE_INFINITY : extreme((p) => optimum(p, -1), from, to, -1);
  return [lowest, extreme((p) => optimum(p, 1), from, to, 1)];
}

/** Largest (direction 1) or smallest (-1) value on [from, to]: best of a grid, refined by golden section around it. */
function extreme(value: (p: number) => number, from: number, to: number, direction: 1 | -1): number {
  const at = (i: number): number => from + ((to - from) * i) / STEPS;
  let best = 0;
  for (let i = 1; i <= STEPS; i++) if (direction * (value(at(i)) - value(at(best))) > 0) best = i;
  let low = at(Math.max(best - 1, 0));
  let high = at(Math.min(best + 1, STEPS));
  const ratio = (Math.sqrt(5) - 1) / 2;
  for (let i = 0; i < 80 && high > low; i++) {
    const a = high - ratio * (high - low);
    const b = low + ratio * (high - low);
    if (direction * (value(a) - value(b)) >= 0) high = b;
    else low = a;
  }
  const refined = value((low + high) / 2);
  const ends = [refined, value(at(best)), value(from), value(to)];
  return direction > 0 ? Math.max(...ends) : Math.min(...ends);
}
