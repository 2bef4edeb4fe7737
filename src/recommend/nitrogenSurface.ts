import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { tTwoSided } from "../numeric/distributions.ts";
import { leastSquares } from "../numeric/leastSquares.ts";

/** Plots of a trial in which density and nitrogen were both varied; parallel arrays of shape [n]. */
export interface NitrogenData {
  readonly density: ArrayLike<number>;
  /** Nitrogen rate, any unit. */
  readonly nitrogen: ArrayLike<number>;
  readonly yield: ArrayLike<number>;
  readonly block?: ArrayLike<string | number>;
}

/** What `NitrogenData` must look like. */
export const nitrogenDataShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  nitrogen: "numbers",
  yield: "numbers",
  block: "labels?",
};

/** Second-degree surface of yield over density and nitrogen, as plain data. */
export interface NitrogenSurface {
  readonly schema: "standcurve/nitrogen-surface/1";
  /** Coefficients of density, density^2, nitrogen, nitrogen^2, density x nitrogen; the level is that of the average block. */
  readonly coefficients: {
    readonly intercept: number;
    readonly density: number;
    readonly densitySquared: number;
    readonly nitrogen: number;
    readonly nitrogenSquared: number;
    readonly densityNitrogen: number;
  };
  /** Covariance of the five shape coefficients in that order; null without residual degrees of freedom. */
  readonly vcov: readonly (readonly number[])[] | null;
  readonly sigma: number | null;
  readonly dofResidual: number;
  readonly nobs: number;
  readonly densityRange: readonly [number, number];
  readonly nitrogenRange: readonly [number, number];
  /** Does the response to density depend on nitrogen? Two-sided t test of the product term. */
  readonly interaction: { readonly t: number; readonly pValue: number } | null;
}

/**
 * Fits yield = block + b1 x + b2 x^2 + c1 n + c2 n^2 + d x n by least squares, so that a nitrogen limit of the density can be read
 * from data instead of from uptake tables.
 *
 * @throws AnalysisError `length-mismatch`; `invalid-data` for values that are not finite; `not-estimable` with fewer than three
 * densities or nitrogen rates, or when the plots do not determine the surface
 * @example
 * const plots = [20, 28, 36].flatMap((x) => [60, 120, 180].map((n) => ({ x, n, y: 4 * x - 0.09 * x * x + 0.012 * x * n + 0.1 * n })));
 * const surface = fitNitrogenSurface({
 *   density: plots.map(({ x }) => x),
 *   nitrogen: plots.map(({ n }) => n),
 *   yield: plots.map(({ y }) => y),
 * });
 * densityFedBy(surface, 120)?.toFixed(2); // => "30.22"
 *
 * Source: second-degree response surfaces, e.g. Box & Draper (1987), Empirical Model-Building and Response Surfaces, ch. 7.
 */
export function fitNitrogenSurface(input: NitrogenData): NitrogenSurface {
  checkShape(input, "input", nitrogenDataShape);
  const { density, nitrogen, yield: grain, block } = input;
  const n = density.length;
  check(n > 0, "invalid-data", "density is empty");
  for (const [name, values] of Object.entries({ nitrogen, yield: grain, ...(block ? { block } : {}) })) {
    check(values.length === n, "length-mismatch", `density has ${n} values but ${name} has ${values.length}`);
  }
  for (let i = 0; i < n; i++) {
    check(
      Number.isFinite(density[i]) && Number.isFinite(nitrogen[i]) && Number.isFinite(grain[i]),
      "invalid-data",
      `density, nitrogen and yield must be finite; plot ${i} is not`,
    );
  }
  check(
    new Set(Array.from(density)).size >= 3 && new Set(Array.from(nitrogen)).size >= 3,
    "not-estimable",
    "a surface needs at least three densities and three nitrogen rates",
  );
  const x = centred(density);
  const z = centred(nitrogen);
  const labels = [...new Set(block ? Array.from(block, String) : ["1"])];
  const blockColumns = labels.map((label) =>
    Float64Array.from({ length: n }, (_, i) => (block === undefined || String(block[i]) === label ? 1 : 0)),
  );
  const shape = [
    x.values,
    x.values.map((v) => v * v),
    z.values,
    z.values.map((v) => v * v),
    x.values.map((v, i) => v * z.values[i]),
  ];
  const fit = leastSquares([...blockColumns, ...shape], Float64Array.from(grain));
  check(
    fit.status === "converged",
    "not-estimable",
    "the plots do not determine the surface (densities and nitrogen rates are confounded)",
  );
  const b = labels.length;
  const level = fit.coef.subarray(0, b).reduce((sum, v) => sum + v / b, 0);
  const [b1, b2, c1, c2, d] = fit.coef.subarray(b);
  // From centred, scaled axes back to the given ones: J is the Jacobian of the shape coefficients.
  const [sx, sz, mx, mz] = [x.scale, z.scale, x.centre, z.centre];
  const jacobian = [
    [1 / sx, (-2 * mx) / (sx * sx), 0, 0, 0 - mz / (sx * sz)],
    [0, 1 / (sx * sx), 0, 0, 0],
    [0, 0, 1 / sz, (-2 * mz) / (sz * sz), 0 - mx / (sx * sz)],
    [0, 0, 0, 1 / (sz * sz), 0],
    [0, 0, 0, 0, 1 / (sx * sz)],
  ];
  const own = [b1, b2, c1, c2, d];
  const raw = jacobian.map((row) => row.reduce((sum, v, j) => sum + v * own[j], 0));
  const vcov =
    fit.vcov &&
    jacobian.map((row) =>
      jacobian.map((other) => {
        let sum = 0;
        for (let i = 0; i < 5; i++) {
          for (let j = 0; j < 5; j++) sum += row[i] * (fit.vcov as readonly Float64Array[])[b + i][b + j] * other[j];
        }
        return sum;
      }),
    );
  const error = fit.stderror?.[b + 4] ?? null;
  const t = error !== null && error > 0 ? d / error : null;
  return {
    schema: "standcurve/nitrogen-surface/1",
    coefficients: {
      intercept:
        level -
        (b1 * mx) / sx +
        (b2 * mx * mx) / (sx * sx) -
        (c1 * mz) / sz +
        (c2 * mz * mz) / (sz * sz) +
        (d * mx * mz) / (sx * sz),
      density: raw[0],
      densitySquared: raw[1],
      nitrogen: raw[2],
      nitrogenSquared: raw[3],
      densityNitrogen: raw[4],
    },
    vcov,
    sigma: fit.sigma,
    dofResidual: fit.dofResidual,
    nobs: n,
    densityRange: rangeOf(density),
    nitrogenRange: rangeOf(nitrogen),
    interaction: t === null ? null : { t, pValue: tTwoSided(t, fit.dofResidual) },
  };
}

/**
 * Density above which more plants no longer raise yield at a nitrogen rate: -(b1 + d n) / (2 b2); null when yield does not turn.
 *
 * It may lie outside the tested range, and says nothing about the nitrogen rate that pays.
 *
 * @param nitrogen - rate, in the unit of the surface
 * @returns density, in the unit of the surface
 * @example
 * const coefficients = { intercept: 0, density: 4, densitySquared: -0.1, nitrogen: 0.2, nitrogenSquared: 0, densityNitrogen: 0.01 };
 * const surface = { ...fitNitrogenSurface({ density: [1, 2, 3, 1, 2, 3, 1, 2, 3], nitrogen: [1, 1, 1, 2, 2, 2, 3, 3, 3], yield: [1, 2, 1, 2, 3, 2, 2, 3, 1] }), coefficients };
 * densityFedBy(surface, 100); // => 25
 */
export function densityFedBy(input: NitrogenSurface, nitrogen: number): number | null {
  checkShape(input, "input", "standcurve/nitrogen-surface/1");
  const { coefficients } = input;
  checkShape(nitrogen, "nitrogen", "number", "invalid-option");
  const { density, densitySquared, densityNitrogen } = coefficients;
  return densitySquared < 0 ? (density + densityNitrogen * nitrogen) / (-2 * densitySquared) : null;
}

function centred(values: ArrayLike<number>): { values: Float64Array; centre: number; scale: number } {
  const [low, high] = rangeOf(values);
  const centre = (low + high) / 2;
  const scale = (high - low) / 2;
  return { values: Float64Array.from(values, (v) => (v - centre) / scale), centre, scale };
}

function rangeOf(values: ArrayLike<number>): [number, number] {
  const list = Array.from(values);
  return [Math.min(...list), Math.max(...list)];
}
