import { checkShape, type Shape } from "../core/checkShape.ts";
import { square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { betaUpper, chiSquareUpper, fQuantile } from "../numeric/distributions.ts";

/**
 * P(F > f) for the noncentral F with 1 and `dof` degrees of freedom and noncentrality `lambda`, as the Poisson mixture of beta
 * tails: sum_j Poisson(j; lambda / 2) P(Beta(1/2 + j, dof / 2) > f / (f + dof)).
 *
 * The sum starts at the largest term and runs out both ways until the terms left cannot change the 15th digit.
 *
 * Source: Johnson, Kotz & Balakrishnan (1995), Continuous Univariate Distributions 2, ch. 30.
 */
export function noncentralFUpper(f: number, dof: number, lambda: number): number {
  if (f <= 0) return 1;
  const x = f / (f + dof);
  const half = lambda / 2;
  const tail = (j: number): number => betaUpper(x, 0.5 + j, dof / 2);
  if (half === 0) return tail(0);
  // F below f needs the chi-square of the error to exceed dof (sqrt(lambda) - 10)^2 / f, or a normal below -10.
  if (lambda > 1e5 && chiSquareUpper((dof * square(Math.sqrt(lambda) - 10)) / f, dof) < 1e-17) return 1;
  const middle = Math.floor(half);
  // Poisson weights relative to the largest; dividing by their sum needs no factorial of a large number.
  let sum = tail(middle);
  let weights = 1;
  let weight = 1;
  for (let j = middle + 1; weight > 1e-18; j++) {
    weight *= half / j;
    weights += weight;
    sum += weight * tail(j);
  }
  weight = 1;
  for (let j = middle; j > 0 && weight > 1e-18; j--) {
    weight *= j / half;
    weights += weight;
    sum += weight * tail(j - 1);
  }
  return Math.min(sum / weights, 1);
}

export interface ContrastPowerOptions {
  /** Coefficients of the densities, adding to 0; shape [m]. */
  readonly contrast: readonly number[];
  /** True mean yields at the densities; shape [m]. */
  readonly means: readonly number[];
  /** Blocks, each with every density once. */
  readonly blocks: number;
  /** Standard deviation between plots of a block, yield units. */
  readonly sigma: number;
  /** Level of the two-sided test; default 0.05. */
  readonly alpha?: number;
}

/** What `ContrastPowerOptions` must look like. */
export const contrastPowerOptionsShape: { readonly [property: string]: Shape } = {
  contrast: "numbers",
  means: "numbers",
  blocks: "count",
  sigma: "number",
  alpha: "number?",
};

/**
 * Chance that an analysis of variance of complete blocks finds a contrast between densities: P(F > F crit) for the
 * noncentral F with 1 and (m - 1)(blocks - 1) degrees of freedom, lambda = blocks (sum c mu)^2 / (sigma^2 sum c^2).
 *
 * @throws AnalysisError `length-mismatch`, `invalid-option`
 * @example
 * const power = contrastPower({ contrast: [-3, -1, 1, 3], means: [180, 184, 188, 192], blocks: 4, sigma: 8 });
 * power.toFixed(4); // => "0.5144"
 */
export function contrastPower(options: ContrastPowerOptions): number {
  checkShape(options, "options", contrastPowerOptionsShape, "invalid-option");
  const { contrast, means, blocks, sigma, alpha = 0.05 } = options;
  const m = means.length;
  check(contrast.length === m, "length-mismatch", `contrast has ${contrast.length} values but means has ${m}`);
  const size = contrast.reduce((sum, c) => sum + Math.abs(c), 0);
  const sum = contrast.reduce((total, c) => total + c, 0);
  check(size > 0 && Math.abs(sum) <= 1e-9 * size, "invalid-option", `a contrast must add to 0; it adds to ${sum}`);
  check(sigma > 0, "invalid-option", `sigma must be > 0, got ${sigma}`);
  check(alpha > 0 && alpha < 1, "invalid-option", `alpha must be between 0 and 1, got ${alpha}`);
  check(Number.isInteger(blocks) && blocks >= 2, "invalid-option", `blocks must be an integer >= 2, got ${blocks}`);
  const dof = (m - 1) * (blocks - 1);
  const effect = contrast.reduce((total, c, i) => total + c * means[i], 0);
  const squares = contrast.reduce((total, c) => total + c * c, 0);
  const lambda = (blocks * effect * effect) / (sigma * sigma * squares);
  return noncentralFUpper(fQuantile(1 - alpha, 1, dof), dof, lambda);
}

/**
 * Coefficients of the linear trend over unevenly spaced densities: x - mean(x).
 *
 * @example
 * linearContrast([20, 30, 40]); // => [-10, 0, 10]
 */
export function linearContrast(densities: readonly number[]): number[] {
  checkShape(densities, "densities", "numbers");
  const mean = densities.reduce((sum, x) => sum + x, 0) / densities.length;
  return densities.map((x) => x - mean);
}
