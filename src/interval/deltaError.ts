import type { PreparedData } from "../fit/fitData.ts";
import { projectedCovariance } from "../fit/projectedCovariance.ts";
import type { CurveDraws } from "./curveDraws.ts";
import type { Scalar } from "./scalar.ts";

/** Relative step of the central differences: the cube root of the double rounding unit. */
const STEP = 6e-6;

/**
 * Standard error of a scalar on one refitted curve by the delta method: sqrt(g' V g), V the covariance of (a, b, c) in the
 * linearised model with blocks and g the scalar's gradient by central differences.
 *
 * @param i - which of the draws
 * @returns NaN where it does not exist: a censored or missing value, a join on a tested density, no bend
 */
export function deltaError(data: PreparedData, draws: CurveDraws, i: number, dof: number, scalar: Scalar): number {
  const { design } = data;
  const { scaled, level } = design;
  const family = draws.family[i];
  const curve = [draws.a[i], draws.b[i], draws.c[i]];
  const [, b, c] = curve;
  const value = scalar.read(family, curve[0], b, c);
  if (!(dof > 0) || Number.isNaN(value)) return Number.NaN;
  if (scalar.range && (value <= scalar.range.low || value >= scalar.range.high)) return Number.NaN;
  if (family > 2 && !(b > 0 && c > scaled[1] && c < Number.POSITIVE_INFINITY)) return Number.NaN;
  if (family === 3 && scaled.includes(c)) return Number.NaN;
  const below = (l: number): number => Math.max(c - scaled[l], 0);
  const byLevel: ((l: number) => number)[] =
    family === 0
      ? []
      : family === 1
        ? [(l) => scaled[l]]
        : family === 2
          ? [(l) => scaled[l], (l) => scaled[l] * scaled[l]]
          : family === 3
            ? [(l) => -below(l), (l) => (below(l) > 0 ? -b : 0)]
            : [(l) => -below(l) * below(l), (l) => -2 * b * below(l)];
  const columns = byLevel.map((column) => Float64Array.from(level, column));
  const covariance = projectedCovariance(data, columns, draws.rss[i] / dof);
  if (covariance === null) return Number.NaN;
  const gradient = covariance.map((_, j) => {
    const step = STEP * Math.max(Math.abs(curve[j]), 1e-3 * Math.abs(curve[0]), 1e-300);
    const at = (sign: number): number => {
      const moved = curve.map((part, k) => (k === j ? part + sign * step : part));
      return scalar.read(family, moved[0], moved[1], moved[2]);
    };
    return (at(1) - at(-1)) / (2 * step);
  });
  let variance = 0;
  for (let j = 0; j < gradient.length; j++) {
    for (let k = 0; k < gradient.length; k++) variance += gradient[j] * covariance[j][k] * gradient[k];
  }
  return variance > 0 ? Math.sqrt(variance) : Number.NaN;
}
