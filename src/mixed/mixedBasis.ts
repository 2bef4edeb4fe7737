import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { MeanCurve, MixedCurve, MixedResponseFit, Scaling } from "./mixedResponse.ts";

/** Values by which the coefficients of one curve are multiplied, and the curve itself, on the z scale. */
export interface Basis {
  /** d mean / d coefficients at z; [w]. */
  gradient(z: number, coefficients: ArrayLike<number>): number[];
  mean(z: number, coefficients: ArrayLike<number>): number;
  /** d mean / d z; at a join, to the left. */
  slope(z: number, coefficients: ArrayLike<number>): number;
}

/** The functions of a mixed curve on the z scale; plateau curves have coefficients [level, rise, join]. */
export function mixedBasis(curve: MixedCurve, join: number | null): Basis {
  if (curve === "linear" || curve === "quadratic") {
    const powers = curve === "linear" ? [0, 1] : [0, 1, 2];
    return {
      gradient: (z) => powers.map((power) => pow(z, power)),
      mean: (z, b) => powers.reduce((sum, power) => sum + b[power] * pow(z, power), 0),
      slope: (z, b) => b[1] + (powers.length > 2 ? 2 * b[2] * z : 0),
    };
  }
  const power = curve === "quadratic-plateau" ? 2 : 1;
  // Without an error of its own the join is a constant of the fit.
  const joinOf = (b: ArrayLike<number>): number => (b.length > 2 ? b[2] : (join ?? 0));
  return {
    gradient(z, b) {
      const below = Math.max(joinOf(b) - z, 0);
      const row = [1, -pow(below, power)];
      if (b.length > 2) row.push(below > 0 ? -b[1] * power * pow(below, power - 1) : 0);
      return row;
    },
    mean: (z, b) => b[0] - b[1] * pow(Math.max(joinOf(b) - z, 0), power),
    slope(z, b) {
      const below = joinOf(b) - z;
      return below > 0 ? b[1] * power * pow(below, power - 1) : 0;
    },
  };
}

/** What the questions about a curve need to know of its fit. */
export type CurveFrame = Pick<MixedResponseFit, "curve" | "scaling" | "densityRange" | "join" | "joinProfile">;

/** Basis of a fit, its join brought to the z scale. */
export function basisOf(fit: CurveFrame): Basis {
  return mixedBasis(fit.curve, fit.join === null ? null : toZ(fit.scaling, fit.join));
}

export function toZ({ centre, scale }: Scaling, density: number): number {
  return (density - centre) / scale;
}

export function fromZ({ centre, scale }: Scaling, z: number): number {
  return centre + scale * z;
}

/** The mean curve of a hybrid, or the only one. */
export function meanCurveOf(fit: MixedResponseFit, hybrid: string | undefined): MeanCurve {
  if (fit.curves.length === 1 && hybrid === undefined) return fit.curves[0];
  const found = fit.curves.find((curve) => curve.hybrid === (hybrid ?? null));
  check(
    found !== undefined,
    "invalid-option",
    hybrid === undefined
      ? `the fit has a curve per hybrid: name one of ${fit.curves.map((curve) => curve.hybrid).join(", ")}`
      : `the fit has no curve of hybrid "${hybrid}"`,
  );
  return found;
}
