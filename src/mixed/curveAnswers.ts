import { log, pow, square } from "../core/elementary.ts";
import type { Interval, Piece } from "../core/interval.ts";
import { normalQuantile, tQuantile } from "../numeric/distributions.ts";
import { form } from "./curveInference.ts";
import { basisOf, type CurveFrame, fromZ, toZ } from "./mixedBasis.ts";
import { optimumSet } from "./optimumSet.ts";

/** One expected curve with the covariance of its coefficients on the z scale. */
export interface CurveEstimate {
  readonly coefficients: readonly number[];
  readonly vcov: readonly (readonly number[])[];
  /** Degrees of freedom for the combination c of the coefficients; null when unknown. */
  dof(c: readonly number[]): number | null;
}

/** Where an expected curve is best inside the tested range. */
export interface CurveOptimumAnswer {
  /** `lower-edge`, `upper-edge`: the best tested density is an end of the range, the optimum lies there or beyond. */
  readonly kind: "interior" | "lower-edge" | "upper-edge";
  readonly density: number;
  /** Expected yield there. */
  readonly yield: number;
  /** Standard error of that yield. */
  readonly yieldStandardError: number;
  /** Densities not excluded as optimum; null when degrees of freedom are unknown. */
  readonly interval: Interval | null;
}

/** Flex score of an expected curve with a t interval. */
export interface FlexAnswer {
  readonly between: readonly [number, number];
  readonly score: number | null;
  readonly standardError: number | null;
  readonly interval: Interval | null;
  /** Why there is no score; null when there is one. */
  readonly reason: string | null;
}

/** Whole degrees of freedom above this are too many to keep the quantile of each. */
const MANY = 1e6;

/**
 * Optimum of an expected curve: the smallest tested density with the largest Y(x) - r x, and the test-inversion set of
 * densities at which the curve's slope may equal r.
 *
 * @param slopeDof - degrees of freedom of the slope by density, filled as they are needed: hand the same on to a second price
 */
export function curveOptimum(
  fit: CurveFrame,
  estimate: CurveEstimate,
  r: number,
  level: number,
  slopeDof: Map<number, number | null> = new Map(),
): CurveOptimumAnswer {
  const basis = basisOf(fit);
  const { scale } = fit.scaling;
  const [low, high] = fit.densityRange;
  const b = estimate.coefficients;
  const density = bestDensity(fit, estimate, r);
  const kind = density <= low ? "lower-edge" : density >= high ? "upper-edge" : "interior";
  const c = basis.gradient(toZ(fit.scaling, density), b);
  const slopeRow = (x: number): number[] => slopeGradient(fit, estimate, x);
  const known = estimate.dof(slopeRow((low + high) / 2)) !== null;
  const tail = 1 - (1 - level) / 2;
  // A t quantile lies between those of the whole degrees of freedom around its own, so most densities are judged by these few.
  const least = normalQuantile(tail);
  const whole = new Map<number, number>();
  const quantile = (dof: number): number => {
    const found = whole.get(dof) ?? tQuantile(tail, dof);
    whole.set(dof, found);
    return found;
  };
  const interval =
    known && (fit.curve === "quadratic" || fit.curve === "linear")
      ? optimumSet({
          range: fit.densityRange,
          slope: (x) => basis.slope(toZ(fit.scaling, x), b) / scale - r,
          margin(x) {
            const row = slopeRow(x);
            const error = Math.sqrt(Math.max(0, form(row, estimate.vcov, row)));
            const excess = Math.abs(basis.slope(toZ(fit.scaling, x), b) / scale - r);
            if (excess < least * error) return least * error;
            if (excess > quantile(1) * error) return quantile(1) * error;
            let own = slopeDof.get(x);
            if (own === undefined) {
              own = estimate.dof(row);
              slopeDof.set(x, own);
            }
            const dof = Math.max(1, own ?? 1);
            if (dof < MANY) {
              if (excess > quantile(Math.floor(dof)) * error) return quantile(Math.floor(dof)) * error;
              if (excess < quantile(Math.ceil(dof)) * error) return quantile(Math.ceil(dof)) * error;
            }
            return tQuantile(tail, dof) * error;
          },
          level,
          method: "test-inversion",
        })
      : joinInterval(fit, estimate, r, level);
  return {
    kind,
    density,
    yield: basis.mean(toZ(fit.scaling, density), b),
    yieldStandardError: Math.sqrt(Math.max(0, form(c, estimate.vcov, c))),
    interval,
  };
}

/** d (dY/dx) / d coefficients at x, density units. */
function slopeGradient(fit: CurveFrame, estimate: CurveEstimate, x: number): number[] {
  const z = toZ(fit.scaling, x);
  const { scale } = fit.scaling;
  return estimate.coefficients.map((_, power) => (power === 0 ? 0 : (power * pow(z, power - 1)) / scale));
}

/** The smallest tested density with the largest Y(x) - r x: `curveOptimum` without its interval. */
export function bestDensity(
  fit: CurveFrame,
  { coefficients: b }: Pick<CurveEstimate, "coefficients">,
  r: number,
): number {
  const basis = basisOf(fit);
  const mean = (x: number): number => basis.mean(toZ(fit.scaling, x), b) - r * x;
  const [low, high] = fit.densityRange;
  const { scale } = fit.scaling;
  const inside = (x: number): number => Math.min(high, Math.max(low, x));
  const candidates = [low, high];
  if (fit.curve === "quadratic" && b[2] < 0)
    candidates.push(inside(fromZ(fit.scaling, (r * scale - b[1]) / (2 * b[2]))));
  if (fit.curve === "linear-plateau" || fit.curve === "quadratic-plateau") {
    const join = fit.join ?? high;
    const rise = b[1];
    // Slope of the rise: b1 / scale before a sharp join, 2 b1 (J - z) / scale before a smooth one.
    if (fit.curve === "linear-plateau") candidates.push(inside(join));
    else if (rise > 0) candidates.push(inside(join - (r * scale * scale) / (2 * rise)));
  }
  let best = candidates[0];
  for (const x of candidates) {
    const gain = mean(x) - mean(best);
    if (gain > 1e-12 * Math.abs(mean(best)) || (Math.abs(gain) <= 1e-12 * Math.abs(mean(best)) && x < best)) best = x;
  }
  return best;
}

/**
 * Joins that the data do not exclude: those whose sum of squares at the fitted variances rises by no more than t^2 sigma^2.
 * With a price, a smooth join J pays up to J - r / (2 k(J)); a sharp one up to J itself. A set that reaches an end of the
 * profile is open there.
 */
function joinInterval(
  fit: CurveFrame,
  { coefficients: b, dof }: CurveEstimate,
  r: number,
  level: number,
): Interval | null {
  const { joinProfile: profile } = fit;
  if (profile === null) return null;
  const own = dof(b.map((_, i) => (i === b.length - 1 ? 1 : 0)));
  if (own === null) return null;
  const cutoff = square(tQuantile(1 - (1 - level) / 2, Math.max(1, own)));
  const { scale } = fit.scaling;
  const [low, high] = fit.densityRange;
  const smooth = fit.curve === "quadratic-plateau";
  const optimum = (join: number, rise: number): number =>
    smooth && rise > 0 ? join - (r * scale * scale) / (2 * rise) : join;
  const { density, excess, rise } = profile;
  const last = density.length - 1;
  const pieces: Piece[] = [];
  let start: number | null | undefined;
  for (let i = 0; i <= last; i++) {
    const inside = excess[i] <= cutoff;
    if (inside && start === undefined) start = i === 0 ? null : cross(i - 1, i);
    if (!inside && start !== undefined) {
      pieces.push(clipped(start, cross(i - 1, i)));
      start = undefined;
    }
  }
  if (start !== undefined) pieces.push(clipped(start, null));
  if (pieces.length === 0) return null;
  const lower = pieces[0].lower;
  const upper = pieces[pieces.length - 1].upper;
  return {
    lower,
    upper,
    lowerOpen: lower === null,
    upperOpen: upper === null,
    level,
    method: "profile",
    ...(pieces.length > 1 ? { pieces } : {}),
  };

  function cross(i: number, j: number): number {
    const share = (cutoff - excess[i]) / (excess[j] - excess[i]);
    const at = (values: readonly number[]): number => values[i] + share * (values[j] - values[i]);
    return optimum(at(density), at(rise));
  }
  function clipped(from: number | null, to: number | null): Piece {
    return { lower: from === null || from <= low ? null : from, upper: to === null || to >= high ? null : to };
  }
}

/**
 * Flex score 100 (1 - ln(Y2 / Y1) / ln(x2 / x1)) of an expected curve, its error by the delta method.
 */
export function curveFlex(
  fit: CurveFrame,
  estimate: CurveEstimate,
  between: readonly [number, number],
  level: number,
): FlexAnswer {
  const [x1, x2] = between;
  const [low, high] = fit.densityRange;
  const none = (reason: string): FlexAnswer => ({ between, score: null, standardError: null, interval: null, reason });
  if (!(x1 > 0 && x2 > x1)) return none("reference densities need 0 < x1 < x2");
  if (x1 < low || x2 > high)
    return none(`the reference densities ${x1} to ${x2} are not inside the tested range ${low} to ${high}`);
  const { score, gradient } = flexGradient(fit, estimate, between);
  if (score === null) return none("the expected yield is not positive at a reference density");
  const standardError = Math.sqrt(Math.max(0, form(gradient, estimate.vcov, gradient)));
  const dof = estimate.dof(gradient);
  const half = dof === null ? null : tQuantile(1 - (1 - level) / 2, Math.max(1, dof)) * standardError;
  return {
    between,
    score,
    standardError,
    interval:
      half === null
        ? null
        : { lower: score - half, upper: score + half, lowerOpen: false, upperOpen: false, level, method: "delta" },
    reason: null,
  };
}

/** Flex score and its gradient by the coefficients; a null score when a yield is not positive. */
export function flexGradient(
  fit: CurveFrame,
  { coefficients }: Pick<CurveEstimate, "coefficients">,
  [x1, x2]: readonly [number, number],
): { score: number | null; gradient: number[] } {
  const basis = basisOf(fit);
  const z1 = toZ(fit.scaling, x1);
  const z2 = toZ(fit.scaling, x2);
  const y1 = basis.mean(z1, coefficients);
  const y2 = basis.mean(z2, coefficients);
  const width = log(x2 / x1);
  const c1 = basis.gradient(z1, coefficients);
  const c2 = basis.gradient(z2, coefficients);
  const gradient = c1.map((v, i) => (-100 / width) * (c2[i] / y2 - v / y1));
  return { score: y1 > 0 && y2 > 0 ? 100 * (1 - log(y2 / y1) / width) : null, gradient };
}
