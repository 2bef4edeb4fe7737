import { checkShape, type Shape } from "../core/checkShape.ts";
import { square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { tQuantile, tTwoSided } from "../numeric/distributions.ts";
import { indexLevels } from "./randomTerm.ts";

export interface StabilityData {
  /** Yields, or means of plots, [n]. */
  readonly yield: ArrayLike<number>;
  readonly hybrid: ArrayLike<string | number>;
  readonly environment: ArrayLike<string | number>;
}

/** What `StabilityData` must look like. */
export const stabilityDataShape: { readonly [property: string]: Shape } = {
  yield: "numbers",
  hybrid: "labels",
  environment: "labels",
};

/** How one hybrid responds to better environments. */
export interface StabilitySlope {
  readonly hybrid: string;
  readonly mean: number;
  /** Yield gained per unit of the environment index; 1 is the average hybrid. */
  readonly slope: number;
  readonly standardError: number | null;
  readonly lower: number | null;
  readonly upper: number | null;
  /** Two-sided p of slope = 1. */
  readonly p: number | null;
  /** Root mean square deviation from the hybrid's own line, environments - 2 degrees of freedom; null below 3. */
  readonly deviation: number | null;
  readonly environments: number;
}

export interface StabilitySlopes {
  readonly schema: "standcurve/stability-slopes/1";
  /** Environment mean minus the grand mean, adjusted for the hybrids grown there. */
  readonly index: readonly { readonly environment: string; readonly value: number }[];
  readonly slopes: readonly StabilitySlope[];
  /** Pooled residual mean square of the lines. */
  readonly residualMeanSquare: number | null;
  readonly dofResidual: number;
  readonly level: number;
  readonly notes: readonly string[];
}

/**
 * Finlay-Wilkinson slopes: the regression of each hybrid's yields on the environment index.
 *
 * index_e = least-squares environment effect of yield = hybrid + environment, centred; slope_h = sum (y - mean_h) index /
 * sum (index - its mean)^2 over the environments of h. Standard errors pool the residuals of all lines,
 * SE = sqrt(MS / sum of squares of the index). In a complete table the slopes average exactly 1.
 *
 * @throws AnalysisError `length-mismatch`, `invalid-data`; `not-estimable` below 3 environments or 2 hybrids
 * @example
 * // Every hybrid moves with the mean of the environments: slope 1.
 * const slopes = stabilitySlopes({
 *   yield: [100, 120, 140, 90, 110, 130],
 *   hybrid: ["A", "A", "A", "B", "B", "B"],
 *   environment: ["x", "y", "z", "x", "y", "z"],
 * });
 * slopes.schema.startsWith("standcurve/"); // => true
 *
 * Source: Finlay & Wilkinson (1963), Aust. J. Agric. Res. 14, 742-754. Oracle: the table of Sharma (1988).
 */
export function stabilitySlopes(data: StabilityData, options: { readonly level?: number } = {}): StabilitySlopes {
  checkShape(data, "data", stabilityDataShape);
  checkShape(options, "options", { level: "number?" }, "invalid-option");
  const level = options.level ?? 0.95;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  const n = data.yield.length;
  check(data.hybrid.length === n, "length-mismatch", `yield has ${n} values but hybrid has ${data.hybrid.length}`);
  check(
    data.environment.length === n,
    "length-mismatch",
    `yield has ${n} values but environment has ${data.environment.length}`,
  );
  const y = Float64Array.from(data.yield);
  check(y.every(Number.isFinite), "invalid-data", "yields must be finite numbers");
  const hybrids = indexLevels(Array.from(data.hybrid, String));
  const environments = indexLevels(Array.from(data.environment, String));
  const h = hybrids.levels.length;
  const e = environments.levels.length;
  check(h >= 2, "not-estimable", `an environment index needs at least 2 hybrids, got ${h}`);
  check(e >= 3, "not-estimable", `slopes on environments need at least 3 environments, got ${e}`);

  const sum = new Float64Array(h * e);
  const count = new Float64Array(h * e);
  for (let i = 0; i < n; i++) {
    const at = hybrids.index[i] * e + environments.index[i];
    sum[at] += y[i];
    count[at]++;
  }
  const cell = sum.map((v, i) => (count[i] > 0 ? v / count[i] : Number.NaN));
  const index = additiveIndex(cell, h, e);
  const notes: string[] = [];
  if (count.some((c) => c === 0))
    notes.push("some hybrids miss some environments: the index allows for the hybrids grown there");
  if (e < 6) notes.push(`${e} environments say little about stability`);

  let rss = 0;
  let dof = 0;
  const lines = hybrids.levels.map((hybrid, a) => {
    const own = Array.from({ length: e }, (_, b) => b).filter((b) => count[a * e + b] > 0);
    const mean = own.reduce((s, b) => s + cell[a * e + b], 0) / own.length;
    const centre = own.reduce((s, b) => s + index[b], 0) / own.length;
    let sxx = 0;
    let sxy = 0;
    for (const b of own) {
      sxx += square(index[b] - centre);
      sxy += (index[b] - centre) * (cell[a * e + b] - mean);
    }
    const slope = sxy / sxx;
    let residual = 0;
    for (const b of own) residual += square(cell[a * e + b] - mean - slope * (index[b] - centre));
    if (own.length > 2) {
      rss += residual;
      dof += own.length - 2;
    }
    return { hybrid, mean, slope, sxx, residual, environments: own.length };
  });
  check(
    lines.every(({ sxx }) => sxx > 0),
    "not-estimable",
    "a hybrid was grown in one environment only, or all its environments are alike",
  );
  const ms = dof > 0 ? rss / dof : null;
  const quantile = dof > 0 ? tQuantile(1 - (1 - level) / 2, dof) : null;
  return {
    schema: "standcurve/stability-slopes/1",
    index: environments.levels.map((environment, b) => ({ environment, value: index[b] })),
    slopes: lines.map(({ hybrid, mean, slope, sxx, residual, environments: grown }) => {
      const se = ms === null ? null : Math.sqrt(ms / sxx);
      return {
        hybrid,
        mean,
        slope,
        standardError: se,
        lower: se === null || quantile === null ? null : slope - quantile * se,
        upper: se === null || quantile === null ? null : slope + quantile * se,
        p: se === null || !(se > 0) ? null : tTwoSided((slope - 1) / se, dof),
        deviation: grown > 2 ? Math.sqrt(residual / (grown - 2)) : null,
        environments: grown,
      };
    }),
    residualMeanSquare: ms,
    dofResidual: dof,
    level,
    notes,
  };
}

/** Environment effects of cell = hybrid + environment, mean zero, by alternating sweeps (exact at once when complete). */
function additiveIndex(cell: Float64Array, h: number, e: number): Float64Array {
  const row = new Float64Array(h);
  const column = new Float64Array(e);
  for (let sweep = 0; sweep < 10000; sweep++) {
    let change = 0;
    for (let a = 0; a < h; a++) row[a] = meanOf(e, (b) => cell[a * e + b] - column[b]);
    for (let b = 0; b < e; b++) {
      const next = meanOf(h, (a) => cell[a * e + b] - row[a]);
      change = Math.max(change, Math.abs(next - column[b]));
      column[b] = next;
    }
    const centre = column.reduce((s, v) => s + v, 0) / e;
    for (let b = 0; b < e; b++) column[b] -= centre;
    if (change <= 1e-14 * Math.max(...row.map(Math.abs))) break;
  }
  return column;
}

/** Mean over the indices whose value exists. */
function meanOf(n: number, value: (i: number) => number): number {
  let sum = 0;
  let count = 0;
  for (let i = 0; i < n; i++) {
    const v = value(i);
    if (Number.isNaN(v)) continue;
    sum += v;
    count++;
  }
  return sum / count;
}
