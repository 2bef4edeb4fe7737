import { log } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { tQuantile } from "../numeric/distributions.ts";

/** Least-squares slopes of several log traits on log density, fitted to the same plots. */
export interface LogSlopes {
  /** One slope a trait, d ln(trait) / d ln(density); shape [q]. */
  readonly slopes: readonly number[];
  /** Covariance of the slopes; shape [q][q]; null without residual degrees of freedom. */
  readonly vcov: readonly (readonly number[])[] | null;
  readonly nobs: number;
  readonly dofResidual: number;
}

/**
 * Slopes of ln(trait) on ln(density) with block means taken out. All traits share the design, so the slopes of factors add exactly to
 * the slope of their product, and their covariance is that of the residuals / Sxx.
 *
 * @param traits - values > 0; shape [q][n]
 * @returns null when no block holds two densities
 * @throws AnalysisError `length-mismatch`, `invalid-data` for values that are not finite and > 0
 *
 * Source: multivariate linear regression, e.g. Seber (1984), Multivariate Observations, section 8.2.
 */
export function logSlopes(
  density: ArrayLike<number>,
  traits: readonly ArrayLike<number>[],
  block: ArrayLike<string | number> | undefined,
  names: readonly string[],
): LogSlopes | null {
  const n = density.length;
  check(n > 0, "invalid-data", "density is empty");
  check(
    block === undefined || block.length === n,
    "length-mismatch",
    `density has ${n} values but block has ${block?.length}`,
  );
  const labels = new Map<string, number>();
  const index = Int32Array.from({ length: n }, (_, i) => {
    const label = block === undefined ? "1" : String(block[i]);
    if (!labels.has(label)) labels.set(label, labels.size);
    return labels.get(label) as number;
  });
  const x = centredLogs(density, "density", index, labels.size);
  const y = traits.map((trait, t) => {
    check(trait.length === n, "length-mismatch", `density has ${n} values but ${names[t]} has ${trait.length}`);
    return centredLogs(trait, names[t], index, labels.size);
  });
  const xx = product(x, x);
  if (!(xx > 1e-12 * n)) return null;
  const slopes = y.map((values) => product(x, values) / xx);
  const residuals = y.map((values, t) => values.map((v, i) => v - slopes[t] * x[i]));
  const dofResidual = Math.max(0, n - labels.size - 1);
  const vcov = dofResidual === 0 ? null : residuals.map((a) => residuals.map((b) => product(a, b) / dofResidual / xx));
  return { slopes, vcov, nobs: n, dofResidual };
}

/** Interval of a slope: estimate -+ t x standard error; `at`: confidence of this one interval. */
export function slopeInterval(slope: number, variance: number, dof: number, level: number, at: number): Interval {
  const reach = Math.sqrt(Math.max(0, variance)) * tQuantile((1 + at) / 2, dof);
  return {
    lower: slope - reach,
    upper: slope + reach,
    lowerOpen: false,
    upperOpen: false,
    level,
    method: at === level ? "t" : "t-bonferroni",
  };
}

function centredLogs(values: ArrayLike<number>, name: string, index: Int32Array, blocks: number): Float64Array {
  const logs = new Float64Array(values.length);
  const sum = new Float64Array(blocks);
  const size = new Float64Array(blocks);
  for (let i = 0; i < logs.length; i++) {
    const value = values[i];
    check(value > 0 && Number.isFinite(value), "invalid-data", `${name}[${i}] must be a number above 0, got ${value}`);
    logs[i] = log(value);
    sum[index[i]] += logs[i];
    size[index[i]]++;
  }
  return logs.map((value, i) => value - sum[index[i]] / size[index[i]]);
}

function product(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let i = 0; i < a.length; i++) sum += a[i] * b[i];
  return sum;
}
