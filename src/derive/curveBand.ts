import { checkShape, type Shape } from "../core/checkShape.ts";
import { pow, square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { curveOf } from "../curves/catalogue.ts";
import { type Family, innerFamilies, isInner } from "../curves/family.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import { type CurveData, curveDataShape, type PreparedData, prepareData } from "../fit/fitData.ts";
import { fQuantile, tQuantile } from "../numeric/distributions.ts";
import { acceptedYields, type ShapeColumn } from "./acceptedYields.ts";

export interface CurveBandOptions {
  /** Default 0.95. */
  readonly level?: number;
  /** Exact families over which the band is made; default the five inner ones. */
  readonly families?: readonly Family[];
  /** One family alone, inner or smooth: ignores that it was chosen. */
  readonly family?: Family;
  /** Densities, ascending; default 61 over the tested range with the tested densities among them. */
  readonly at?: readonly number[];
}

/** What `CurveBandOptions` must look like. */
export const curveBandOptionsShape: { readonly [property: string]: Shape } = {
  level: "number?",
  families: "list?",
  family: "text?",
  at: "numbers?",
};

/** Where the expected yield of the average block may lie, density by density: plain data. */
export interface CurveBand {
  readonly density: readonly number[];
  readonly lower: readonly number[];
  readonly upper: readonly number[];
  readonly level: number;
  /** `envelope`: over all families; `profile`: within one exact family; `delta`: from the covariance of a smooth one. */
  readonly method: "envelope" | "profile" | "delta";
  readonly family: Family | null;
  /** Why there is no band (then the arrays are empty); null when there is one. */
  readonly reason: string | null;
}

const GRID = 60;
const JOINS = 160;
/** How far beyond the range joins of a quadratic-plateau are tried, in ranges; beyond, it is a straight line. */
const BEYOND = [0.02, 0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1, 1.5, 2, 3, 5, 10, 30];

/**
 * Pointwise confidence band of the response curve, valid after choosing a family.
 *
 * A yield v belongs to the band at density x when some candidate family whose curve passes through (x, v) fits within the
 * F cut-off of the best candidate: min_m min{ RSS_m : Y_m(x) = v } <= min_m RSS_m (1 + F(level; 1, df) / df), df being the
 * residual degrees of freedom of the richest candidate. It is the headline interval of the optimum turned by a right angle.
 * For a straight line or a parabola alone it is the ordinary t interval of the mean. For plateau families joins are
 * swept: 160 inside the range and some beyond, which gives the ends to about 1 % of the width of the band. Pieces with
 * gaps are drawn as one.
 *
 * Coverage at a tested density, where 95 % is claimed: 92.0 to 96.0 % in simulated trials of six densities in four blocks with three
 * true curves (bench/coverage-band.md). It is pointwise: a curve may leave it somewhere more often.
 *
 * @throws AnalysisError `invalid-option`; `not-offered` for a smooth family among `families`; errors of `fitCurve`
 * @example
 * const density = [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43];
 * const band = curveBand({ density, yield: [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192] }, { at: [33] });
 * band.lower[0] < 200 && band.upper[0] > 200; // => true
 *
 * Source: test inversion, e.g. Seber & Wild (1989), Nonlinear Regression, section 5.4. Oracle: test/oracle/curveBand.json.
 */
export function curveBand(data: CurveData, options: CurveBandOptions = {}): CurveBand {
  checkShape(data, "data", curveDataShape);
  checkShape(options, "options", curveBandOptionsShape, "invalid-option");
  const { level = 0.95, family = null } = options;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  const prepared = prepareData(data);
  const at = options.at ?? gridOf(prepared);
  check(at.every(Number.isFinite), "invalid-option", "at must hold finite densities");
  if (family !== null && !isInner(family)) return deltaBand(prepared, family, level, at);
  const wanted = family === null ? (options.families ?? innerFamilies) : [family];
  const smooth = wanted.filter((one) => !isInner(one));
  check(smooth.length === 0, "not-offered", `the band covers the exact families; leave out ${smooth.join(", ")}`);
  check(wanted.length > 0, "invalid-option", "families is empty; name at least one");
  const base = { level, method: family === null ? "envelope" : "profile", family } as const;
  const fits = wanted.map((one) => fitPrepared(one, prepared)).filter((fit) => fit.status === "converged");
  if (fits.length === 0) return without(base, `none of ${wanted.join(", ")} can be fitted to these plots`);
  const dof = Math.min(...fits.map((fit) => fit.dofResidual));
  if (dof <= 0) return without(base, "there are no residual degrees of freedom to judge scatter by");
  const least = Math.min(...fits.map((fit) => fit.rss as number));
  const cutoff = least * (1 + fQuantile(level, 1, dof) / dof);

  const lower = at.map(() => Number.POSITIVE_INFINITY);
  const upper = at.map(() => Number.NEGATIVE_INFINITY);
  const joins = fits.flatMap((fit) => (fit.coefficients["join"] == null ? [] : [fit.coefficients["join"]]));
  for (const fit of fits) {
    for (const { columns, rising } of shapesOf(fit.family, prepared, joins)) {
      acceptedYields(prepared, columns, rising, cutoff, at, lower, upper);
    }
  }
  const empty = lower.some((value) => !Number.isFinite(value));
  if (empty) return without(base, "no candidate fits within the cut-off at some density");
  return { density: [...at], lower, upper, ...base, reason: null };
}

/** Linear models, one a join, that make up a family: level + coefficients x columns, `rising` ones with coefficient >= 0. */
function shapesOf(
  family: Family,
  { design }: PreparedData,
  fitted: readonly number[],
): { readonly columns: readonly ShapeColumn[]; readonly rising: boolean }[] {
  const { low, span, levels } = design;
  const scaled: ShapeColumn = (x) => (x - low) / span;
  const high = low + span;
  switch (family) {
    case "flat":
      return [{ columns: [], rising: false }];
    case "linear":
      return [{ columns: [scaled], rising: false }];
    case "quadratic":
      return [{ columns: [scaled, (x) => square(scaled(x))], rising: false }];
    default: {
      const power = family === "linear-plateau" ? 1 : 2;
      const inside = [...Array.from({ length: JOINS }, (_, i) => low + (span * (i + 1)) / JOINS), ...levels, ...fitted];
      const joins = inside.filter((join) => join > low && join <= high);
      if (power === 2) joins.push(...BEYOND.map((share) => high + share * span));
      return [
        ...joins.map((join) => ({
          columns: [(x: number) => -pow(Math.max(join - x, 0) / (join - low), power)],
          rising: true,
        })),
        { columns: [scaled], rising: true },
        { columns: [], rising: false },
      ];
    }
  }
}

/** Mean -+ t sqrt(g'Vg) from the covariance of the fit: symmetric, first-order. */
function deltaBand(data: PreparedData, family: Family, level: number, at: readonly number[]): CurveBand {
  const base = { level, method: "delta", family } as const;
  const fit = fitPrepared(family, data);
  if (fit.curve === null || fit.status !== "converged") return without(base, fit.reason ?? fit.status);
  const { vcov, curve } = fit;
  if (vcov === null || curve.family !== family || vcov.length !== curve.theta.length || fit.dofResidual <= 0) {
    return without(base, "the fit has no covariance matrix");
  }
  const shape = curveOf(family);
  const gradient = new Float64Array(curve.theta.length);
  const t = tQuantile((1 + level) / 2, fit.dofResidual);
  const ends = at.map((x) => {
    shape.gradient(x, curve.theta, gradient);
    const variance = vcov.reduce(
      (sum, row, i) => sum + row.reduce((s, v, j) => s + v * gradient[i] * gradient[j], 0),
      0,
    );
    const half = t * Math.sqrt(Math.max(variance, 0));
    const mean = shape.mean(x, curve.theta);
    return [mean - half, mean + half] as const;
  });
  if (ends.some(([a, b]) => !Number.isFinite(a + b))) return without(base, "the covariance matrix is not finite");
  return { density: [...at], lower: ends.map(([a]) => a), upper: ends.map(([, b]) => b), ...base, reason: null };
}

function without(base: Pick<CurveBand, "level" | "method" | "family">, reason: string): CurveBand {
  return { density: [], lower: [], upper: [], ...base, reason };
}

function gridOf({ design: { low, span, levels } }: PreparedData): number[] {
  const grid = Array.from({ length: GRID + 1 }, (_, i) => low + (span * i) / GRID);
  return [...new Set([...grid.slice(0, -1), ...levels])].sort((a, b) => a - b);
}
