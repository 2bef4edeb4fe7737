import { pow, square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { factorCholesky, invertFromCholesky } from "../numeric/cholesky.ts";
import { rootsInUnitInterval, toBernstein } from "../numeric/intervalRoots.ts";
import { dot, multiply, multiplyVector, slice } from "../numeric/matrix.ts";
import { crossproducts } from "./crossproducts.ts";
import type { CurveState } from "./mixedCurves.ts";
import { columnValues, type FixedColumn, type MixedDesign } from "./mixedDesign.ts";
import { type Structure, structureTerms } from "./mixedStructure.ts";
import { layoutTerm } from "./randomTerm.ts";
import { type RemlModel, solveReml } from "./remlModel.ts";
import { whiten } from "./whiten.ts";

/**
 * Fits a plateau curve with random levels: y = level - k (join - x)_+^p + environment + block + e.
 *
 * Given the variances, the generalised sum of squares is a rational function of the join between neighbouring tested
 * densities, so its global minimum is found from the roots of a polynomial in every interval (the join sweep of the
 * fixed-effects fit, in the metric of V). Given the join, the variances are REML of the model linearised at the join,
 * whose tangent column makes the errors of the other coefficients carry that of the join. The two alternate to a fixed
 * point, which is what nonlinear mixed-model software calls its REML fit.
 *
 * Source: Lindstrom & Bates (1990), Biometrics 46, 673-687.
 */
export function fitPlateau(
  design: MixedDesign,
  columns: readonly FixedColumn[],
  structure: Structure,
): { model: RemlModel; state: CurveState } {
  const { n, x, densities, scaling } = design;
  check(
    densities.length <= 400,
    "not-offered",
    `a plateau curve is profiled over its tested densities; ${densities.length} are too many, use the mean stand of each rate`,
  );
  const power = design.curve === "quadratic-plateau" ? 2 : 1;
  const ones = new Float64Array(n).fill(1);
  const z = (density: number): number => (density - scaling.centre) / scaling.scale;
  const levels = Float64Array.from(densities, z);
  const levelColumns = columns.filter((column) => column.power === 0);

  // Products of level columns and density indicators, once; V enters through `whiten`.
  const terms = structureTerms(design, structure, [ones]);
  const root = design.weight === undefined ? null : Float64Array.from(design.weight, Math.sqrt);
  const carry = (column: Float64Array): Float64Array => (root === null ? column : column.map((v, i) => v * root[i]));
  const mean = design.y.reduce((sum, v) => sum + v, 0) / n;
  const indicators = densities.map((density) => x.map((v) => (v === density ? 1 : 0)));
  const layouts = terms.map((term) => {
    const layout = layoutTerm(term, n);
    return { ...layout, columns: layout.columns.map(carry) };
  });
  const data = crossproducts(
    [...columnValues(design, levelColumns, [ones]), ...indicators].map(carry),
    carry(design.y.map((v) => v - mean)),
    layouts,
  );

  let factors: readonly Float64Array[] = layouts.map(({ width }) => {
    const l = new Float64Array(width * width);
    for (let i = 0; i < width; i++) l[i * width + i] = 1;
    return l;
  });
  let join = Number.NaN;
  let model: RemlModel | null = null;
  let state: CurveState | null = null;
  for (let round = 0; round < 200; round++) {
    const best = sweep(data, factors, levelColumns.length, levels, power);
    check(best !== null, "not-estimable", "the yields do not rise with density, so there is no plateau to find");
    const settled = Math.abs(best - join) <= 1e-11 && model !== null;
    join = best;
    if (settled) break;
    const rise = x.map((v) => -pow(Math.max(join - z(v), 0), power));
    // d mean / d join = -k p (join - z)_+^(p-1); the factor -k is known only after the fit, so a first fit gives it.
    const slope = generalisedSlope(data, factors, levelColumns.length, levels, power, join);
    const below = levels.filter((level) => level < join).length;
    const tangent =
      below > 1
        ? x.map((v) => (v < join * scaling.scale + scaling.centre ? -slope * power * pow(join - z(v), power - 1) : 0))
        : null;
    const fixed = columnValues(design, columns, [ones, rise]);
    model = solveReml({
      y: design.y,
      x: tangent === null ? fixed : [...fixed, tangent],
      names: [...columns.map(({ power: own }) => (own === 0 ? "plateau" : "rise")), "join"],
      terms,
      ...(model === null ? {} : { warm: model.optimum.factors, starts: [1] }),
      ...(design.weight === undefined ? {} : { weights: design.weight }),
    });
    factors = model.optimum.factors;
    state = { basis: [ones, rise], join: join * scaling.scale + scaling.centre, tangent, profile: null };
  }
  check(model !== null && state !== null, "not-estimable", "the plateau curve could not be fitted");
  const profile = joinProfile(data, factors, levelColumns.length, levels, power, join, model.sigma2);
  const density = profile.join.map((v) => v * scaling.scale + scaling.centre);
  return { model, state: { ...state, profile: { density, excess: profile.excess, rise: profile.rise } } };
}

/** The sums the sweep needs at given variances: M = D'P D and v = D'P y with the level columns projected out. */
function levelProducts(
  data: Parameters<typeof whiten>[0],
  factors: readonly Float64Array[],
  fixed: number,
): { m: Float64Array; v: Float64Array; count: number } {
  const white = whiten(data, factors);
  check(
    white !== null && data.g === 0,
    "not-estimable",
    "the random levels of a plateau curve must be nested in environments",
  );
  const size = data.m;
  const count = size - fixed;
  const inner = slice(white.e, size, [0, fixed], [0, fixed]);
  check(factorCholesky(inner, fixed), "not-estimable", "the levels of a plateau curve are linearly dependent");
  const inverse = invertFromCholesky(inner, fixed);
  const cross = slice(white.e, size, [fixed, size], [0, fixed]);
  const through = multiply(cross, inverse, count, fixed, fixed);
  const m = slice(white.e, size, [fixed, size], [fixed, size]);
  const v = white.ey.slice(fixed);
  for (let i = 0; i < count; i++) {
    for (let j = 0; j < count; j++) {
      for (let s = 0; s < fixed; s++) m[i * count + j] -= through[i * fixed + s] * cross[j * fixed + s];
    }
    for (let s = 0; s < fixed; s++) v[i] -= through[i * fixed + s] * white.ey[s];
  }
  return { m, v, count };
}

/** Join (z scale) of the least generalised sum of squares with a rising curve; null when none rises. */
function sweep(
  data: Parameters<typeof whiten>[0],
  factors: readonly Float64Array[],
  fixed: number,
  levels: Float64Array,
  power: 1 | 2,
): number | null {
  const { m, v, count } = levelProducts(data, factors, fixed);
  let best: number | null = null;
  let bestGain = 0;
  const consider = (join: number): void => {
    const h = levels.map((level) => -pow(Math.max(join - level, 0), power));
    const n = dot(h, v);
    const q = dot(h, multiplyVector(m, h, count, count));
    if (n > 0 && q > 0 && (n * n) / q > bestGain * (1 + 1e-14)) {
      best = join;
      bestGain = (n * n) / q;
    }
  };
  for (let k = 1; k < count; k++) {
    const left = levels[k - 1];
    const step = levels[k] - left;
    consider(levels[k]);
    if (k === 1) continue;
    // h_l(t) = -(t + left - z_l)^p for levels up to `left`: moments a_j = sum of h's t^j coefficient vectors.
    const vectors = Array.from({ length: power + 1 }, (_, j) =>
      levels.map((level, l) =>
        l < k ? -(power === 1 ? [left - level, 1] : [square(left - level), 2 * (left - level), 1])[j] : 0,
      ),
    );
    const n = vectors.map((vector) => dot(vector, v));
    const carried = vectors.map((vector) => multiplyVector(m, vector, count, count));
    const q = new Float64Array(2 * power + 1);
    vectors.forEach((a, i) => {
      carried.forEach((b, j) => {
        q[i + j] += dot(a, b);
      });
    });
    for (const t of stationaryPoints(n, q, power, step)) consider(left + t);
  }
  if (power === 2) {
    // A join beyond the range is the plain quadratic, whose vertex is then the join.
    const vertex = quadraticVertex(m, v, levels, count);
    if (vertex !== null && vertex > levels[count - 1]) consider(vertex);
  }
  return best;
}

/** Points of the profile; its ends are interpolated linearly, good to about 1e-5 of the tested range. */
const PROFILE_POINTS = 400;

/** (RSS(J) - RSS at the estimate) / sigma^2 at the fitted variances, from the second tested level to the last. */
function joinProfile(
  data: Parameters<typeof whiten>[0],
  factors: readonly Float64Array[],
  fixed: number,
  levels: Float64Array,
  power: 1 | 2,
  best: number,
  sigma2: number,
): { join: number[]; excess: number[]; rise: number[] } {
  const { m, v, count } = levelProducts(data, factors, fixed);
  const at = (join: number): { gain: number; rise: number } => {
    const h = levels.map((level) => -pow(Math.max(join - level, 0), power));
    const n = dot(h, v);
    const q = dot(h, multiplyVector(m, h, count, count));
    return n > 0 && q > 0 ? { gain: (n * n) / q, rise: n / q } : { gain: 0, rise: 0 };
  };
  const low = levels[1];
  const high = levels[count - 1];
  const join = Array.from({ length: PROFILE_POINTS + 1 }, (_, i) => low + ((high - low) * i) / PROFILE_POINTS);
  if (best > low && best < high) join.push(best);
  join.sort((a, b) => a - b);
  const top = at(best).gain;
  const points = join.map(at);
  return {
    join,
    excess: points.map(({ gain }) => Math.max(0, top - gain) / sigma2),
    rise: points.map(({ rise }) => rise),
  };
}

/** Roots t in (0, step) of 2 N'Q - N Q'; its leading coefficient cancels. */
function stationaryPoints(n: readonly number[], q: Float64Array, power: 1 | 2, step: number): number[] {
  const degree = power === 1 ? 1 : 4;
  const out = new Float64Array(degree + 2);
  for (let i = 0; i < n.length; i++) {
    for (let j = 0; j < q.length; j++) {
      // d/dt t^i = i t^(i-1), d/dt t^j = j t^(j-1)
      const at = i + j - 1;
      if (at >= 0 && at <= degree) out[at] += (2 * i - j) * n[i] * q[j];
    }
  }
  const scaled = Float64Array.from({ length: degree + 1 }, (_, i) => out[i] * pow(step, i));
  if (scaled.every((value) => value === 0)) return [];
  const bernstein = new Float64Array(degree + 1);
  toBernstein(scaled, degree, bernstein);
  const roots = new Float64Array(degree);
  const found = rootsInUnitInterval(bernstein, degree, roots);
  return Array.from(roots.subarray(0, found), (t) => t * step);
}

function quadraticVertex(m: Float64Array, v: Float64Array, levels: Float64Array, count: number): number | null {
  const squares = levels.map((level) => level * level);
  const ml = multiplyVector(m, levels, count, count);
  const ms = multiplyVector(m, squares, count, count);
  const gram = Float64Array.of(dot(levels, ml), dot(levels, ms), dot(squares, ml), dot(squares, ms));
  const right = Float64Array.of(dot(levels, v), dot(squares, v));
  if (!factorCholesky(gram, 2)) return null;
  const b = multiplyVector(invertFromCholesky(gram, 2), right, 2, 2);
  return b[1] < 0 ? -b[0] / (2 * b[1]) : null;
}

/** k of the best curve with this join, at given variances. */
function generalisedSlope(
  data: Parameters<typeof whiten>[0],
  factors: readonly Float64Array[],
  fixed: number,
  levels: Float64Array,
  power: 1 | 2,
  join: number,
): number {
  const { m, v, count } = levelProducts(data, factors, fixed);
  const h = levels.map((level) => -pow(Math.max(join - level, 0), power));
  return dot(h, v) / dot(h, multiplyVector(m, h, count, count));
}
