import { checkShape } from "../core/checkShape.ts";
import { pow, square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { finiteResult } from "../core/finiteResult.ts";
import { fUpper } from "../numeric/distributions.ts";

/** One orthogonal-polynomial contrast among density means, or what remains after some of them. */
export interface PolynomialContrast {
  readonly contrast: string;
  /** Coefficients by ascending level, scaled to a largest absolute value of 1; null for a remainder. */
  readonly coefficients: readonly number[] | null;
  readonly df: number;
  readonly ss: number;
  readonly ms: number;
  /** Null without error degrees of freedom. */
  readonly f: number | null;
  readonly p: number | null;
}

const NAMES = ["linear", "quadratic", "cubic", "quartic", "quintic"];

/**
 * Orthogonal polynomial coefficients for unequal spacing and unequal replication.
 *
 * Gram-Schmidt of x, x^2, ... with weights n: sum_l n_l c_jl c_kl = 0 for j != k. Signs: the highest level of every
 * contrast counts positive in the pure power.
 *
 * @param levels - distinct levels, ascending
 * @param replication - plots per level, > 0
 * @param degree - highest degree, <= levels - 1
 * @returns one array of coefficients per degree, scaled to a largest absolute value of 1
 * @throws AnalysisError `length-mismatch`, `invalid-option`
 * @example
 * orthogonalPolynomials([20, 30, 40], [4, 4, 4], 2); // => [[-1, 0, 1], [0.5, -1, 0.5]]
 *
 * Source: Emerson (1968), Biometrics 24, 695-701.
 */
export function orthogonalPolynomials(
  levels: readonly number[],
  replication: readonly number[],
  degree: number,
): number[][] {
  checkShape(levels, "levels", "numbers");
  checkShape(replication, "replication", "numbers");
  checkShape(degree, "degree", "number", "invalid-option");
  const k = levels.length;
  check(replication.length === k, "length-mismatch", `${k} levels but ${replication.length} replications`);
  check(degree >= 1 && degree < k, "invalid-option", `degree must be from 1 to ${k - 1}, got ${degree}`);
  const centre = levels.reduce((sum, x) => sum + x, 0) / k;
  const half = (levels[k - 1] - levels[0]) / 2;
  const inner = (a: readonly number[], b: readonly number[]): number =>
    a.reduce((sum, v, l) => sum + replication[l] * v * b[l], 0);
  const found: number[][] = [levels.map(() => 1)];
  for (let d = 1; d <= degree; d++) {
    let v = levels.map((x) => pow((x - centre) / half, d));
    for (let pass = 0; pass < 2; pass++) {
      for (const q of found) {
        const along = inner(v, q) / inner(q, q);
        v = v.map((value, l) => value - along * q[l]);
      }
    }
    const largest = Math.max(...v.map(Math.abs));
    found.push(v.map((value) => value / largest));
  }
  return found.slice(1);
}

/**
 * Splits the sum of squares between density means into linear, quadratic, ... and what they leave.
 *
 * SS_j = (sum_l n_l c_jl mean_l)^2 / sum_l n_l c_jl^2.
 *
 * @param levels - densities, ascending
 * @param means - mean yield of each
 * @param replication - plots of each
 * @param msError - mean square of the stratum that tests density; null when there is none
 * @param dfError - its degrees of freedom
 * @param maxDegree - highest contrast shown, default 3
 * @returns a line for each contrast, then what remains after the linear and after the quadratic one
 * @throws AnalysisError `length-mismatch`
 * @example
 * polynomialContrasts([20, 30, 40], [5.5, 7, 7.5], [2, 2, 2], null, 0)[0].ss; // => 4
 *
 * Source: Gomez & Gomez (1984), Statistical Procedures for Agricultural Research, section 5.1.2.
 */
export function polynomialContrasts(
  levels: readonly number[],
  means: readonly number[],
  replication: readonly number[],
  msError: number | null,
  dfError: number,
  maxDegree = 3,
): PolynomialContrast[] {
  checkShape(levels, "levels", "numbers");
  checkShape(means, "means", "numbers");
  checkShape(replication, "replication", "numbers");
  checkShape(msError, "msError", "number|null");
  checkShape(dfError, "dfError", "number", "invalid-option");
  checkShape(maxDegree, "maxDegree", "number", "invalid-option");
  const k = levels.length;
  const degree = Math.min(maxDegree, k - 1);
  const coefficients = orthogonalPolynomials(levels, replication, degree);
  const total = replication.reduce((sum, n) => sum + n, 0);
  const grand = means.reduce((sum, m, l) => sum + replication[l] * m, 0) / total;
  const between = means.reduce((sum, m, l) => sum + replication[l] * square(m - grand), 0);
  check(msError === null || msError > 0, "invalid-data", `msError must be > 0 or null, got ${msError}`);
  const row = (contrast: string, c: readonly number[] | null, df: number, ss: number): PolynomialContrast => {
    const ms = ss / df;
    const f = msError !== null && dfError > 0 ? ms / msError : null;
    return finiteResult({ contrast, coefficients: c, df, ss, ms, f, p: f === null ? null : fUpper(f, df, dfError) });
  };
  const squares = coefficients.map((c) => {
    let along = 0;
    let length = 0;
    for (let l = 0; l < k; l++) {
      along += replication[l] * c[l] * (means[l] - grand);
      length += replication[l] * c[l] * c[l];
    }
    return (along * along) / length;
  });
  const rows = coefficients.map((c, j) => row(NAMES[j] ?? `degree ${j + 1}`, c, 1, squares[j]));
  for (const after of [1, 2]) {
    const df = k - 1 - after;
    if (df < 1) continue;
    const rest = between - squares.slice(0, after).reduce((sum, ss) => sum + ss, 0);
    rows.push(row(`remaining after ${NAMES[after - 1]}`, null, df, Math.max(0, rest)));
  }
  return rows;
}
