import { log, pow } from "../core/elementary.ts";
import { multiply } from "../numeric/matrix.ts";
import type { CurveState } from "./mixedCurves.ts";
import type { FixedColumn, MixedDesign } from "./mixedDesign.ts";
import type { RemlModel } from "./remlModel.ts";
import type { SmallSample } from "./smallSample.ts";

/** Coefficients of 1, density, density^2 (or plateau, rise, join), with their inference. */
export interface DensityUnits {
  readonly logLikelihood: number;
  readonly coefficients: Readonly<Record<string, number>>;
  readonly standardErrors: Readonly<Record<string, number>>;
  readonly dof: Readonly<Record<string, number | null>>;
  readonly vcov: readonly (readonly number[])[];
}

/**
 * log|T| of the change from the z basis of the fixed effects to density units: what the restricted log-likelihood of a
 * fit in density units has on top.
 */
export function basisShift(design: MixedDesign, columns: readonly FixedColumn[], state: CurveState): number {
  const rise = design.curve === "quadratic-plateau" ? 2 : 1;
  let powers = state.tangent === null ? 0 : -1;
  for (const { power } of columns) powers += power === 0 ? 0 : state.join === null ? power : rise;
  return -powers * log(design.scaling.scale);
}

const POLYNOMIAL_NAMES = ["intercept", "linear", "quadratic"];

/**
 * Brings the coefficients of 1, z, z^2 to those of 1, density, density^2.
 *
 * The restricted likelihood depends on the basis of the fixed effects through |X'V^-1 X|; the factor log|T| of the change
 * of basis is added, so the value is the one a fit in density units gives.
 */
export function densityUnits(
  design: MixedDesign,
  columns: readonly FixedColumn[],
  model: RemlModel,
  small: SmallSample,
  state: CurveState,
): DensityUnits {
  const p = model.data.p;
  const { centre, scale } = design.scaling;
  const change = new Float64Array(p * p);
  columns.forEach((row, i) => {
    if (state.join !== null) {
      const power = row.power === 0 ? 0 : design.curve === "quadratic-plateau" ? 2 : 1;
      change[i * p + i] = pow(scale, -power);
      return;
    }
    columns.forEach((column, j) => {
      if (column.power < row.power || (row.hybrid !== null && column.hybrid !== null && row.hybrid !== column.hybrid))
        return;
      // A shared slope shifts the level of every hybrid; a level never enters a shared slope.
      if (row.hybrid === null && column.hybrid !== null) return;
      change[i * p + j] =
        binomial(column.power, row.power) * pow(-centre, column.power - row.power) * pow(scale, -column.power);
    });
  });
  const names = columns.map(({ power, hybrid }) => {
    const plain = state.join === null ? POLYNOMIAL_NAMES[power] : plateauName(design, power);
    return hybrid === null ? plain : `${design.hybridLabels[hybrid]}: ${plain}`;
  });
  const shift = new Float64Array(p);
  if (state.tangent !== null) {
    names.push("join");
    change[p * p - 1] = scale;
    shift[p - 1] = state.join ?? 0;
  }
  const coefficients = Array.from({ length: p }, (_, i) => {
    let sum = shift[i];
    for (let j = 0; j < p; j++)
      sum += change[i * p + j] * (state.tangent !== null && j === p - 1 ? 0 : model.coefficients[j]);
    return sum;
  });
  const left = multiply(change, small.vcov, p, p, p);
  const vcov = Array.from({ length: p }, (_, i) =>
    Array.from({ length: p }, (_, j) => {
      let sum = 0;
      for (let s = 0; s < p; s++) sum += left[i * p + s] * change[j * p + s];
      return sum;
    }),
  );
  return {
    logLikelihood: model.logLikelihood + (model.reml ? basisShift(design, columns, state) : 0),
    coefficients: named(names, coefficients),
    standardErrors: named(
      names,
      vcov.map((row, i) => Math.sqrt(row[i])),
    ),
    dof: named(
      names,
      vcov.map((_, i) => small.df(change.subarray(i * p, (i + 1) * p))),
    ),
    vcov,
  };
}

function plateauName(design: MixedDesign, power: 0 | 1 | 2): string {
  if (power === 0) return "plateau";
  return design.curve === "quadratic-plateau" ? "curvature" : "slope";
}

function binomial(n: number, k: number): number {
  return n === 2 && k === 1 ? 2 : 1;
}

function named<T>(names: readonly string[], values: readonly T[]): Record<string, T> {
  return Object.fromEntries(names.map((name, i) => [name, values[i]]));
}
