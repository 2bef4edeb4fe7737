import { acos, cos, sin, square } from "../core/elementary.ts";
import type { InnerFamily } from "../curves/family.ts";
import type { JoinDesign, JoinResponse } from "../numeric/joinDesign.ts";
import { polynomial } from "../numeric/joinSweep.ts";
import { brentMinimum } from "../numeric/minimize.ts";
import { acceptedJoins, quadraticMoments, type Range, withinCutoff } from "./acceptance.ts";
import { type CurveArc, curveInDirection, curveOnArc, MOST_DIRECTIONS, ratioDirections } from "./curveArc.ts";
import { layoutOf } from "./layout.ts";
import type { Scalar } from "./scalar.ts";

/** Values that a scalar takes over the curves of one family with RSS <= cutoff. */
export interface ScalarSet {
  /** Connected ranges, ascending, on the scale of `scalar.read`. */
  readonly ranges: readonly Range[];
  /** The scalar grows without bound over compatible curves. */
  readonly upperUnbounded: boolean;
  /** For some compatible curves the scalar does not exist. */
  readonly partlyMissing: boolean;
}

/** A scalar as the search needs it. It may only depend on the level of the curve monotonically. */
export interface RegionScalar extends Scalar {
  /** Scaled densities at which the scalar looks at the curve: joins on either side are searched apart. */
  readonly at?: readonly number[];
  /** The scalar is a slope at the lowest density: without a density below the join it has no upper limit. */
  readonly steepAtLowest?: boolean;
  /** The scalar is a monotone function of Y(u2) / Y(u1) at these scaled densities: its extremes on an arc are then known angles. */
  readonly ratioOf?: readonly [u1: number, u2: number];
}

/** A set of curves: an arc for each s in [0, 1] (one arc alone when `points` is 0); null where no curve belongs. */
interface Patch {
  /** Values of s looked at before refining. */
  readonly points: number;
  readonly given: (s: number) => CurveArc | null;
}

/**
 * Range of a scalar over all curves of one family that are compatible with the data (test inversion).
 *
 * For given shape parameters the level of the average block is free within
 * grand - mean shape +- sqrt(V0 (cutoff - RSS(shape))), V0 = sum_b 1 / W_b / B^2; every scalar here is monotone in the level, so
 * its extremes lie on that border. Given a join the compatible slopes are an ellipse with the level; of the quadratic, an
 * ellipsoid. The borders are searched on a grid, then by Brent's method, join by join.
 *
 * @param cutoff - largest residual sum of squares that is still compatible
 */
export function scalarSet(
  family: InnerFamily,
  design: JoinDesign,
  response: JoinResponse,
  scalar: RegionScalar,
  cutoff: number,
): ScalarSet {
  const found = patches(family, design, response, scalar, cutoff);
  let partlyMissing = false;
  const ranges: Range[] = [];
  for (const group of found.groups) {
    let low = Number.POSITIVE_INFINITY;
    let high = Number.NEGATIVE_INFINITY;
    for (const patch of group) {
      const side = extremes(patch, scalar);
      partlyMissing ||= side.missing;
      low = Math.min(low, side.low);
      high = Math.max(high, side.high);
    }
    if (low <= high) ranges.push([low, high]);
  }
  ranges.sort((a, b) => a[0] - b[0]);
  return { ranges, upperUnbounded: found.firstInterval && scalar.steepAtLowest === true, partlyMissing };
}

/** Patches in groups that are connected sets of curves. */
function patches(
  family: InnerFamily,
  design: JoinDesign,
  response: JoinResponse,
  scalar: RegionScalar,
  cutoff: number,
): { groups: Patch[][]; firstInterval: boolean } {
  const { blocks, blockWeight } = design;
  const { share, meanU, meanV } = layoutOf(design);
  const grand = response.blockMean.reduce((sum, value) => sum + value, 0) / blocks;
  const levelSpread = Math.sqrt(blockWeight.reduce((sum, w) => sum + 1 / w, 0)) / blocks;
  const c = response.total - cutoff;

  const flat: Patch[] = [];
  if (c <= 0) {
    const half = levelSpread * Math.sqrt(-c);
    const arc: CurveArc = {
      family: 0,
      mean: [grand, 0, 0],
      cosine: [half, 0, 0],
      sine: [0, 0, 0],
      from: 0,
      to: Math.PI,
      conditions: [],
    };
    flat.push({ points: 0, given: () => arc });
  }
  if (family === "flat") return { groups: [flat], firstInterval: false };
  const m = quadraticMoments(design, response.sums);

  const line = (rising: boolean): Patch[] => {
    const radius = Math.sqrt(Math.max(m.lineGain - c, 0));
    if (m.lineGain < c) return [];
    const slope = m.t1 / m.uu;
    const spread = radius / Math.sqrt(m.uu);
    const arc: CurveArc = {
      family: 1,
      mean: [grand - slope * meanU, slope, 0],
      cosine: [-spread * meanU, spread, 0],
      sine: [levelSpread * radius, 0, 0],
      from: 0,
      to: 2 * Math.PI,
      conditions: rising ? [[1, 0]] : [],
    };
    return [{ points: 0, given: () => arc }];
  };
  if (family === "linear") return { groups: [line(false)], firstInterval: false };

  /** `beyond`: only concave parabolas that rise over the whole range, which are quadratic-plateaus with a far join. */
  const parabola = (beyond: boolean): Patch[] => {
    if (m.gain < c) return [];
    const radius = Math.sqrt(m.gain - c);
    const bend = radius / Math.sqrt(m.vv - (m.uv / m.uu) * m.uv);
    const tilt = radius / Math.sqrt(m.uu);
    const lean = m.uv / m.uu;
    // Concave, and still rising at the highest density.
    const conditions: CurveArc["conditions"] = beyond
      ? [
          [0, -1],
          [1, 2],
        ]
      : [];
    const given = (s: number): CurveArc => {
      const inside = sin(Math.PI * s);
      const lift = levelSpread * radius * cos(Math.PI * s);
      const c = bend * inside;
      // Conditional mean of b1 given b2, then its own deviation.
      const b = tilt * inside;
      return {
        family: 2,
        mean: [grand - m.b1 * meanU - m.b2 * meanV + lift, m.b1, m.b2],
        cosine: [-b * meanU, b, 0],
        sine: [c * (lean * meanU - meanV), -lean * c, c],
        from: 0,
        to: 2 * Math.PI,
        conditions,
      };
    };
    return [{ points: 32, given }];
  };
  if (family === "quadratic") return { groups: [parabola(false)], firstInterval: false };

  const power = family === "linear-plateau" ? 1 : 2;
  const code = power + 2;
  const joins = acceptedJoins(
    design,
    response.sums,
    power,
    (n, q) => [withinCutoff(n, q, c), Array.from(n)],
    (n, q) => c <= 0 || (n > 0 && n * n >= c * q),
  );
  const plateau = (from: number, to: number): Patch => ({
    points: 12,
    given: (s) => {
      const join = from + (to - from) * s;
      const [n, q, rise] = momentsAt(design, response.sums, share, join, power);
      const room = (n * n) / q - c;
      const radius = room > 0 ? Math.sqrt(room) : 0;
      // Slopes below zero are cut off; the arc that is left is followed from end to end.
      const cosine = -n / (Math.sqrt(q) * radius);
      if (!(q > 0) || cosine > 1) return null;
      const arc = radius > 0 && cosine > -1 ? acos(cosine) : Math.PI;
      const spread = radius / Math.sqrt(q);
      return {
        family: code,
        mean: [grand + (n / q) * rise, n / q, join],
        cosine: [spread * rise, spread, 0],
        sine: [levelSpread * radius, 0, 0],
        from: -arc,
        to: arc,
        conditions: [[1, 0]],
      };
    },
  });
  const first = design.scaled[1];
  const cuts = [...design.scaled, ...(scalar.at ?? [])].filter((u) => u > 0 && u < 1).sort((a, b) => a - b);
  const groups = joins.map(([from, to]) => {
    // Just above a density that the scalar looks at: there its own side of the kink counts.
    const start = Math.max(from, first * 1e-9);
    const ends = [start, ...cuts.filter((u) => u > start && u < to), to];
    return ends.slice(1).map((end, i) => plateau(ends[i] + (end - ends[i]) * 1e-12, end));
  });
  const firstInterval = joins.some(([from]) => from < first);
  const far = power === 2 ? [...parabola(true), ...line(true)] : [];
  // The flat curve joins every part that reaches it; without it the far part hangs on the last one when that reaches the end.
  if (c <= 0) return { groups: [[...flat, ...groups.flat(), ...far]], firstInterval };
  const last = joins[joins.length - 1];
  if (far.length > 0 && last && last[1] >= 1) groups[groups.length - 1].push(...far);
  else if (far.length > 0) groups.push(far);
  return { groups, firstInterval };
}

/** N, Q and the mean rise of the average block with the join at u. */
function momentsAt(
  design: JoinDesign,
  sums: Float64Array,
  share: Float64Array,
  join: number,
  power: number,
): [number, number, number] {
  const { scaled } = design;
  let k = 0;
  while (k + 1 < scaled.length - 1 && scaled[k + 1] <= join) k++;
  let n = 0;
  let rise = 0;
  for (let l = 0; l <= k; l++) {
    const below = power === 1 ? join - scaled[l] : square(join - scaled[l]);
    n -= sums[l] * below;
    rise += share[l] * below;
  }
  const size = 2 * power + 1;
  const denominator = (power === 1 ? design.linear : design.quadratic).subarray(k * size, (k + 1) * size);
  return [n, polynomial(denominator, join - scaled[k]), rise];
}

/** Angles looked at before refining, where they are not known. */
const POINTS = 24;

function extremes(
  { points, given }: Patch,
  { read, ratioOf }: RegionScalar,
): { low: number; high: number; missing: boolean } {
  const out = new Float64Array(3);
  const directions = new Float64Array(2 * MOST_DIRECTIONS);
  let missing = false;
  const best = (sign: 1 | -1): number => {
    const value = (family: number): number => {
      const result = read(family, out[0], out[1], out[2]);
      if (!Number.isNaN(result)) return sign * result;
      missing = true;
      return Number.NEGATIVE_INFINITY;
    };
    const at = (arc: CurveArc, angle: number): number =>
      curveOnArc(arc, angle, out) ? value(arc.family) : Number.NEGATIVE_INFINITY;
    const along = (s: number): number => {
      const arc = given(s);
      if (arc === null) return Number.NEGATIVE_INFINITY;
      if (ratioOf === undefined) return maximum((t) => at(arc, arc.from + (arc.to - arc.from) * t), POINTS);
      const count = ratioDirections(arc, ratioOf[0], ratioOf[1], directions);
      let most = Number.NEGATIVE_INFINITY;
      for (let i = 0; i < count; i++) {
        if (curveInDirection(arc, directions[2 * i], directions[2 * i + 1], out))
          most = Math.max(most, value(arc.family));
      }
      return most;
    };
    return sign * (points === 0 ? along(0) : maximum(along, points));
  };
  return { low: best(-1), high: best(1), missing };
}

/** Largest value on [0, 1]: the best of a grid and of Brent's search around its two best points. */
function maximum(f: (s: number) => number, points: number): number {
  const values = new Float64Array(points + 1);
  let first = 0;
  for (let i = 0; i <= points; i++) {
    values[i] = f(i / points);
    if (values[i] > values[first]) first = i;
  }
  if (values[first] === Number.NEGATIVE_INFINITY) return values[first];
  let second = -1;
  for (let i = 0; i <= points; i++) {
    if (Math.abs(i - first) > 1 && (second < 0 || values[i] > values[second])) second = i;
  }
  const around = (i: number): number => {
    const from = Math.max(i - 1, 0) / points;
    const width = Math.min(i + 1, points) / points - from;
    // Over [1, 2], where a relative tolerance is an absolute one.
    return -brentMinimum((u) => -f(from + (u - 1) * width), 1, 2, TOLERANCE).value;
  };
  const best = Math.max(values[first], around(first));
  return second >= 0 && values[second] > Number.NEGATIVE_INFINITY ? Math.max(best, around(second)) : best;
}

/** Share of the bracket: 14 digits of a smooth maximum. */
const TOLERANCE = 5e-8;
