import { square } from "../core/elementary.ts";

/**
 * What a layout alone fixes about its broken-line fits: y_i = level_b(i) + s x_i + d (x_i - J)_+ + e_i.
 *
 * Block levels and the straight line are projected out (Frisch-Waugh-Lovell). Given the break J one linear parameter d is
 * left, and RSS(J) = RSS0 - N(J)^2 / Q(J), RSS0 being that of the straight line. Between two neighbouring densities the
 * hinge is a - t c, with t = J - (left density), c = 1 for plots above, a = (x - left density) c: N is linear and Q quadratic
 * in t, and N^2 / Q has its one interior maximum at
 *
 *     t = (Nc Qaa - Na Qac) / (Nc Qac - Na Qcc)
 *
 * In the first and in the last interval one side holds a single density, a and c are parallel once the line is projected
 * out, and every break there fits alike.
 *
 * Densities run over [0, 1]. Sums over plots reduce to one sum per density level, S_l, of the projected y.
 */
export interface BrokenLineDesign {
  readonly nobs: number;
  /** Distinct densities on [0, 1], ascending; shape [m]. */
  readonly levels: Float64Array;
  /** Level and block of each plot; shape [n]. */
  readonly level: Int32Array;
  readonly block: Int32Array;
  readonly blocks: number;
  /** Plots per block; shape [blocks]. */
  readonly blockSize: Float64Array;
  /** Densities with block means removed, and their sum of squares. */
  readonly centred: Float64Array;
  readonly centredSquare: number;
  /** Products of the projected a and c per interval between levels k and k + 1; shape [m - 1]. */
  readonly qaa: Float64Array;
  readonly qac: Float64Array;
  readonly qcc: Float64Array;
}

/** A break and the drop of the residual sum of squares that it earns. */
export interface BreakCandidate {
  /** Break on [0, 1]. */
  readonly at: number;
  readonly gain: number;
  /** `first` and `last`: the whole first or last interval fits alike and `at` is its inner end. */
  readonly where: "interior" | "level" | "first" | "last";
}

/** Prepares the layout; densities must be scaled to [0, 1], blocks numbered from 0. */
export function brokenLineDesign(x: Float64Array, block: Int32Array, blocks: number): BrokenLineDesign {
  const nobs = x.length;
  const levels = Float64Array.from(new Set(x)).sort();
  const place = new Map(Array.from(levels, (value, index) => [value, index]));
  const level = Int32Array.from(x, (value) => place.get(value)!);
  const blockSize = new Float64Array(blocks);
  for (const b of block) blockSize[b]++;
  const base = { nobs, levels, level, block, blocks, blockSize };
  const centred = centre(x, base);
  const centredSquare = sumOfSquares(centred);
  const frame = { ...base, centred, centredSquare };
  const m = levels.length;
  const [qaa, qac, qcc] = [new Float64Array(m - 1), new Float64Array(m - 1), new Float64Array(m - 1)];
  for (let k = 0; k < m - 1; k++) {
    const c = project(
      Float64Array.from(level, (l) => (l > k ? 1 : 0)),
      frame,
    );
    const a = project(
      Float64Array.from(level, (l) => (l > k ? levels[l] - levels[k] : 0)),
      frame,
    );
    for (let i = 0; i < nobs; i++) {
      qaa[k] += a[i] * a[i];
      qac[k] += a[i] * c[i];
      qcc[k] += c[i] * c[i];
    }
  }
  return { ...frame, qaa, qac, qcc };
}

type Layout = Pick<BrokenLineDesign, "nobs" | "level" | "block" | "blocks" | "blockSize">;

/** v minus its block means. */
function centre(
  v: Float64Array,
  { block, blocks, blockSize }: Pick<Layout, "block" | "blocks" | "blockSize">,
): Float64Array {
  const mean = new Float64Array(blocks);
  for (let i = 0; i < v.length; i++) mean[block[i]] += v[i];
  for (let b = 0; b < blocks; b++) mean[b] /= blockSize[b];
  return v.map((value, i) => value - mean[block[i]]);
}

/** v with block levels and the straight line removed. */
export function project(
  v: Float64Array,
  design: Pick<BrokenLineDesign, "block" | "blocks" | "blockSize" | "centred" | "centredSquare">,
): Float64Array {
  const rest = centre(v, design);
  let slope = 0;
  for (let i = 0; i < rest.length; i++) slope += rest[i] * design.centred[i];
  slope /= design.centredSquare;
  for (let i = 0; i < rest.length; i++) rest[i] -= slope * design.centred[i];
  return rest;
}

/** Sum of squares of a vector. */
export function sumOfSquares(v: Float64Array): number {
  let sum = 0;
  for (const value of v) sum += value * value;
  return sum;
}

/** Sums of the projected y per density level; shape [m]. */
export function levelSums(
  projected: Float64Array,
  { level, levels }: Pick<BrokenLineDesign, "level" | "levels">,
): Float64Array {
  const sums = new Float64Array(levels.length);
  for (let i = 0; i < projected.length; i++) sums[level[i]] += projected[i];
  return sums;
}

/** A hinge that blocks and the line already explain leaves only rounding: below this share of its size Q counts as 0. */
const CONFOUNDED = 1e-12;

/**
 * Every candidate for the break, from left to right: the two end intervals, the inner densities, and the stationary point of
 * each inner interval. The largest gain is the global least-squares answer.
 */
export function breakCandidates(design: BrokenLineDesign, sums: Float64Array): BreakCandidate[] {
  const { levels, qaa, qac, qcc, nobs } = design;
  const last = levels.length - 2;
  const found: BreakCandidate[] = [];
  let na = 0;
  let nc = 0;
  // From the right, so that the sums over the plots above grow by one level a step.
  for (let k = last; k >= 0; k--) {
    const width = levels[k + 1] - levels[k];
    na += width * (nc + sums[k + 1]);
    nc += sums[k + 1];
    if (qcc[k] <= CONFOUNDED * nobs) continue;
    if (k === 0 || k === last) {
      found.push({ at: levels[k === 0 ? 1 : last], gain: (nc * nc) / qcc[k], where: k === 0 ? "first" : "last" });
      continue;
    }
    const bottom = nc * qac[k] - na * qcc[k];
    const t = bottom === 0 ? -1 : (nc * qaa[k] - na * qac[k]) / bottom;
    if (t > 0 && t < width)
      found.push({ at: levels[k] + t, gain: gainAt(na, nc, qaa[k], qac[k], qcc[k], t), where: "interior" });
    if (k > 1) found.push({ at: levels[k], gain: gainAt(na, nc, qaa[k], qac[k], qcc[k], 0), where: "level" });
  }
  return found.reverse();
}

function gainAt(na: number, nc: number, qaa: number, qac: number, qcc: number, t: number): number {
  const q = qaa - 2 * t * qac + t * t * qcc;
  return q > 0 ? square(na - t * nc) / q : 0;
}

/** Largest gain over all breaks; the allocation-free core of the simulated null distribution. */
export function greatestGain(design: BrokenLineDesign, sums: Float64Array): number {
  const { levels, qaa, qac, qcc, nobs } = design;
  const last = levels.length - 2;
  let best = 0;
  let na = 0;
  let nc = 0;
  for (let k = last; k >= 0; k--) {
    const width = levels[k + 1] - levels[k];
    na += width * (nc + sums[k + 1]);
    nc += sums[k + 1];
    if (qcc[k] <= CONFOUNDED * nobs) continue;
    let gain: number;
    if (k === 0 || k === last) gain = (nc * nc) / qcc[k];
    else {
      gain = gainAt(na, nc, qaa[k], qac[k], qcc[k], 0);
      const bottom = nc * qac[k] - na * qcc[k];
      const t = bottom === 0 ? -1 : (nc * qaa[k] - na * qac[k]) / bottom;
      if (t > 0 && t < width) gain = Math.max(gain, gainAt(na, nc, qaa[k], qac[k], qcc[k], t));
    }
    if (gain > best) best = gain;
  }
  return best;
}

/**
 * Breaks whose gain is at least `least`, as connected pieces on [0, 1], solved exactly: within an interval the condition is
 * a quadratic inequality in t.
 */
export function breaksWithGain(design: BrokenLineDesign, sums: Float64Array, least: number): [number, number][] {
  const { levels, qaa, qac, qcc, nobs } = design;
  const last = levels.length - 2;
  const pieces: [number, number][] = [];
  if (least <= 0) return [[0, 1]];
  let na = 0;
  let nc = 0;
  const inside: [number, number][][] = [];
  for (let k = last; k >= 0; k--) {
    const width = levels[k + 1] - levels[k];
    na += width * (nc + sums[k + 1]);
    nc += sums[k + 1];
    let part: [number, number][] = [];
    if (qcc[k] > CONFOUNDED * nobs) {
      if (k === 0 || k === last) part = (nc * nc) / qcc[k] >= least ? [[0, width]] : [];
      else {
        // (na - t nc)^2 - least (qaa - 2 t qac + t^2 qcc) >= 0
        part = nonNegative(nc * nc - least * qcc[k], -2 * (na * nc - least * qac[k]), na * na - least * qaa[k], width);
      }
    }
    inside.push(part.map(([from, to]) => [levels[k] + from, to === width ? levels[k + 1] : levels[k] + to]));
  }
  for (const [from, to] of inside.reverse().flat()) {
    const previous = pieces.at(-1);
    // Neighbouring intervals share their density; rounding may part them by a few units in the last place.
    if (previous && from - previous[1] <= 1e-12) previous[1] = to;
    else pieces.push([from, to]);
  }
  return pieces;
}

/** Where a t^2 + b t + c >= 0 on [0, width]. */
function nonNegative(a: number, b: number, c: number, width: number): [number, number][] {
  const inside = (t: number) => (a * t + b) * t + c >= 0;
  const root = b * b - 4 * a * c;
  let cuts: number[] = [];
  if (root > 0) {
    const q = -(b + (b >= 0 ? 1 : -1) * Math.sqrt(root)) / 2;
    cuts = [q / a, c / q].filter((t) => t > 0 && t < width).sort((s, t) => s - t);
  }
  const ends = [0, ...cuts, width];
  const parts: [number, number][] = [];
  for (let i = 0; i + 1 < ends.length; i++) {
    if (!inside((ends[i] + ends[i + 1]) / 2)) continue;
    const previous = parts.at(-1);
    if (previous && previous[1] === ends[i]) previous[1] = ends[i + 1];
    else parts.push([ends[i], ends[i + 1]]);
  }
  return parts;
}
