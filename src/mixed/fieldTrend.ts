import { checkShape, type Shape } from "../core/checkShape.ts";
import { type Economics, priceRatio } from "../core/economics.ts";
import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { chiSquareUpper } from "../numeric/distributions.ts";
import { dot } from "../numeric/matrix.ts";
import { extendBasis } from "../numeric/orthogonalBasis.ts";
import { symmetricEigen } from "../numeric/symmetricEigen.ts";
import { dummies } from "./analyseStrata.ts";
import { type CurveOptimumAnswer, curveOptimum } from "./curveAnswers.ts";
import { type CorrelatedFit, fitCorrelated } from "./fitCorrelated.ts";
import type { CurveFrame } from "./mixedBasis.ts";

/** Plots of one environment with their place in the field, arrays of equal length n. */
export interface FieldTrendData {
  readonly density: ArrayLike<number>;
  readonly yield: ArrayLike<number>;
  /** Place along the field: strip number, planting order, row or column; equal steps count as equal distances. */
  readonly position: ArrayLike<number>;
  /** Lines along which neighbours are neighbours (ranges, passes); default one. */
  readonly line?: ArrayLike<string | number>;
  readonly block?: ArrayLike<string | number>;
}

/** What `FieldTrendData` must look like. */
export const fieldTrendDataShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  yield: "numbers",
  position: "numbers",
  line: "labels?",
  block: "labels?",
};

export interface FieldTrendOptions {
  /** Default "quadratic". */
  readonly curve?: "linear" | "quadratic";
  /** Smooth trend over position: degree 0 (none), 1 or 2; default 1. */
  readonly degree?: 0 | 1 | 2;
  /** Correlated errors between neighbours, rho^distance; default true. */
  readonly correlated?: boolean;
  /** Independent part of the error beside the correlated one; default true. */
  readonly nugget?: boolean;
  readonly prices?: Economics;
  /** Confidence level, default 0.95. */
  readonly level?: number;
}

/** What `FieldTrendOptions` must look like. */
export const fieldTrendOptionsShape: { readonly [property: string]: Shape } = {
  curve: "text?",
  degree: "any?",
  correlated: "flag?",
  nugget: "flag?",
  prices: "object?",
  level: "number?",
};

/** One of the two analyses. */
export interface TrendAnalysis {
  /** Coefficients of 1, z, z^2 (the level at the mean position and an average block). */
  readonly coefficients: readonly number[];
  readonly standardErrors: readonly number[];
  readonly optimum: CurveOptimumAnswer;
  readonly sigma: number;
  /** Restricted log-likelihood; comparable only between analyses with the same fixed effects. */
  readonly logLikelihood: number;
}

export type FieldTrend = FieldTrendAnswer | FieldTrendRefusal;

export interface FieldTrendAnswer {
  readonly kind: "adjusted";
  readonly naive: TrendAnalysis;
  readonly adjusted: TrendAnalysis;
  /** Adjusted minus naive optimum, density units. */
  readonly shift: number;
  /** Trend coefficients per unit of position and its square, about the mean position. */
  readonly trend: readonly { readonly degree: number; readonly coefficient: number; readonly standardError: number }[];
  /** Correlation of neighbours one step apart, and the share of independent error; null when not asked for. */
  readonly correlation: { readonly rho: number; readonly nuggetShare: number; readonly p: number } | null;
  /** Share of the information about the response that the trend could take away, 0 to 1. */
  readonly confounding: number;
  /** Lag-one correlation of the naive residuals along the lines. */
  readonly neighbourCorrelation: number | null;
  readonly level: number;
  readonly notes: readonly string[];
}

export interface FieldTrendRefusal {
  readonly kind: "refused";
  readonly confounding: number;
  readonly reason: string;
}

/** Above this share the trend and the densities cannot be told apart; a convention, no source. */
const CONFOUNDED = 0.8;

/**
 * Density response with and without an adjustment for the field: a polynomial trend over position and errors correlated
 * between neighbours, side by side.
 *
 * y = block + f(z) + t1 s + t2 s^2 + e, Cov(e_i, e_j) = sigma^2 ((1 - nu) rho^|d_ij| + nu [i = j]) within a line; rho and
 * nu by restricted maximum likelihood. The confounding measure is the largest share of the information on the curve's
 * coefficients that position (to the second degree) explains; above 0.8 the adjustment is refused, because it would take
 * the response away with the trend.
 *
 * @throws AnalysisError `length-mismatch`, `invalid-data`, `invalid-option`, `not-estimable`
 * @example
 * const position = [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12];
 * const density = [20, 32, 26, 38, 26, 20, 38, 32, 38, 26, 32, 20];
 * const noise = [2, -1, 1, -2, 0, 3, -3, 1, -1, 2, 0, -2];
 * const trend = fieldTrend({ density, yield: density.map((x, i) => 200 - 0.05 * (x - 30) ** 2 + noise[i]), position });
 * trend.kind; // => "adjusted"
 *
 * Source: Cullis & Gleeson (1991), Biometrics 47, 1449-1460; Gilmour et al. (1997), JABES 2, 269-293.
 */
export function fieldTrend(data: FieldTrendData, options: FieldTrendOptions = {}): FieldTrend {
  checkShape(data, "data", fieldTrendDataShape);
  checkShape(options, "options", fieldTrendOptionsShape, "invalid-option");
  const { curve = "quadratic", degree = 1, correlated = true, nugget = true, level = 0.95 } = options;
  const n = data.density.length;
  for (const [name, column] of Object.entries(data) as [string, ArrayLike<unknown> | undefined][]) {
    if (column !== undefined)
      check(column.length === n, "length-mismatch", `density has ${n} values but ${name} has ${column.length}`);
  }
  check([0, 1, 2].includes(degree), "invalid-option", `degree must be 0, 1 or 2, got ${degree}`);
  check(
    n <= 1000,
    "not-offered",
    `neighbour correlations are worked out for up to 1,000 plots of one environment, got ${n}`,
  );
  const x = Float64Array.from(data.density);
  const y = Float64Array.from(data.yield);
  const position = Float64Array.from(data.position);
  for (const column of [x, y, position])
    check(column.every(Number.isFinite), "invalid-data", "density, yield and position must be finite numbers");
  const densities = [...new Set(x)].sort((a, b) => a - b);
  const needed = curve === "quadratic" ? 3 : 2;
  check(
    densities.length >= needed,
    "not-estimable",
    `a ${curve} curve needs ${needed} densities, got ${densities.length}`,
  );
  const low = densities[0];
  const high = densities[densities.length - 1];
  const frame: CurveFrame = {
    curve,
    scaling: { centre: (low + high) / 2, scale: (high - low) / 2 },
    densityRange: [low, high],
    join: null,
    joinProfile: null,
  };
  const z = x.map((v) => (v - frame.scaling.centre) / frame.scaling.scale);
  const shape = curve === "quadratic" ? [z, z.map((v) => v * v)] : [z];
  const ones = new Float64Array(n).fill(1);
  const blocks = data.block === undefined ? [] : blockContrasts(data.block);
  const centre = position.reduce((sum, v) => sum + v, 0) / n;
  const reach = Math.max(1e-300, ...position.map((v) => Math.abs(v - centre)));
  const s = position.map((v) => (v - centre) / reach);
  const smooth = [s, s.map((v) => v * v)];

  const confounding = confoundedShare([ones, ...blocks], smooth, shape);
  if (confounding > CONFOUNDED) {
    return {
      kind: "refused",
      confounding,
      reason: `${Math.round(100 * confounding)} % of what the plots say about density could as well be a trend over the field: the densities were not spread over it`,
    };
  }
  const ratio = options.prices === undefined ? 0 : priceRatio(options.prices);
  const line = data.line === undefined ? new Array<string>(n).fill("") : Array.from(data.line, String);
  const base = [ones, ...shape, ...blocks];
  const trendColumns = smooth.slice(0, degree);
  const naiveFit = fitCorrelated(y, base, position, line, { correlated: false, nugget });
  const plain = fitCorrelated(y, [...base, ...trendColumns], position, line, { correlated: false, nugget });
  const full = correlated
    ? fitCorrelated(y, [...base, ...trendColumns], position, line, { correlated: true, nugget })
    : plain;
  check(
    naiveFit !== null && plain !== null && full !== null,
    "not-estimable",
    "density, blocks and position cannot be told apart",
  );
  const analysis = (fit: CorrelatedFit): TrendAnalysis => {
    const w = shape.length + 1;
    const coefficients = fit.coefficients.slice(0, w);
    const vcov = coefficients.map((_, i) => coefficients.map((__, j) => fit.vcov[i][j]));
    const estimate = { coefficients, vcov, dof: () => Math.max(1, n - fit.coefficients.length) };
    return {
      coefficients,
      standardErrors: vcov.map((row, i) => Math.sqrt(row[i])),
      optimum: curveOptimum(frame, estimate, ratio, level),
      sigma: fit.sigma,
      logLikelihood: fit.logLikelihood,
    };
  };
  const naive = analysis(naiveFit);
  const adjusted = analysis(full);
  const statistic = Math.max(0, 2 * (full.logLikelihood - plain.logLikelihood));
  const first = base.length;
  const notes: string[] = [];
  const neighbourCorrelation = lagOne(naiveFit.residuals, position, line);
  if (neighbourCorrelation !== null && neighbourCorrelation > 2 / Math.sqrt(n)) {
    notes.push("neighbouring plots resemble each other more than chance allows: read the adjusted analysis");
  }
  if (confounding > 0.4)
    notes.push(
      `${Math.round(100 * confounding)} % of the information on density is shared with position: the adjustment costs precision`,
    );
  return {
    kind: "adjusted",
    naive,
    adjusted,
    shift: adjusted.optimum.density - naive.optimum.density,
    trend: trendColumns.map((_, d) => ({
      degree: d + 1,
      coefficient: full.coefficients[first + d] / pow(reach, d + 1),
      standardError: Math.sqrt(full.vcov[first + d][first + d]) / pow(reach, d + 1),
    })),
    correlation: correlated
      ? {
          rho: full.rho,
          nuggetShare: full.nuggetShare,
          // Both parameters vanish together on the boundary: half on one, half on two degrees of freedom.
          p: statistic > 0 ? 0.5 * chiSquareUpper(statistic, 1) + 0.5 * chiSquareUpper(statistic, nugget ? 2 : 1) : 1,
        }
      : null,
    confounding,
    neighbourCorrelation,
    level,
    notes,
  };
}

/** Sum-to-zero block columns, so that the intercept is the level of an average block. */
function blockContrasts(labels: ArrayLike<string | number>): Float64Array[] {
  const columns = dummies(labels);
  const last = columns[columns.length - 1];
  return columns.slice(0, -1).map((column) => column.map((v, i) => v - last[i]));
}

/** 1 - the smallest share of the information on any combination of the shape columns that survives the trend. */
function confoundedShare(
  fixed: readonly Float64Array[],
  trend: readonly Float64Array[],
  shape: readonly Float64Array[],
): number {
  const base = extendBasis([], fixed);
  const kept = extendBasis(base, shape);
  if (kept.length < shape.length) return 1;
  const moved = extendBasis(base, trend);
  // Cosines between the response space and the trend space: the largest squared one is the share that can be lost.
  const k = kept.length;
  const gram = new Float64Array(k * k);
  for (let i = 0; i < k; i++) {
    for (let j = 0; j < k; j++) for (const q of moved) gram[i * k + j] += dot(kept[i], q) * dot(kept[j], q);
  }
  return Math.min(1, Math.max(0, symmetricEigen(gram, k).values[0]));
}

/** Correlation of residuals of plots next to each other on a line; null with fewer than 3 pairs. */
function lagOne(residuals: readonly number[], position: Float64Array, line: readonly string[]): number | null {
  const order = residuals
    .map((_, i) => i)
    .sort((a, b) => (line[a] < line[b] ? -1 : line[a] > line[b] ? 1 : position[a] - position[b]));
  let cross = 0;
  let pairs = 0;
  let squares = 0;
  for (const r of residuals) squares += r * r;
  for (let i = 1; i < order.length; i++) {
    if (line[order[i]] !== line[order[i - 1]]) continue;
    cross += residuals[order[i]] * residuals[order[i - 1]];
    pairs++;
  }
  return pairs < 3 || !(squares > 0) ? null : cross / pairs / (squares / residuals.length);
}
