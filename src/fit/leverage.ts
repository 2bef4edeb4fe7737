import { curveOf } from "../curves/catalogue.ts";
import { leastSquares } from "../numeric/leastSquares.ts";
import type { CurveFit } from "./curveFit.ts";
import type { PreparedData } from "./fitData.ts";

/** What a fit says of each plot; each of shape [n]. */
export interface FitRows {
  /** Value of the curve of the average block at the plot's density. */
  readonly curve: Float64Array;
  /** The same with the plot's block effect. */
  readonly fitted: Float64Array;
  readonly residuals: Float64Array;
  /** Diagonal of the hat matrix of the linearised model, in [0, 1]. */
  readonly leverage: Float64Array;
}

/**
 * Rows behind a converged fit. The hat matrix is that of blocks plus the shape gradients of the curve actually drawn (in a
 * limit, the simpler family), built by Gram-Schmidt on the block-centred columns.
 */
export function fitRows(data: PreparedData, fit: CurveFit): FitRows {
  const { x, y, block, weight, design } = data;
  const n = x.length;
  if (fit.curve === null) throw new Error("fitRows needs a converged fit");
  const { family, theta } = fit.curve;
  const curve = curveOf(family);
  const gradient = new Float64Array(theta.length);
  const columns = theta.slice(1).map(() => new Float64Array(n));
  const first = new Float64Array(n);
  const mean = new Float64Array(n);
  const fitted = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    mean[i] = curve.mean(x[i], theta);
    fitted[i] = mean[i] + (fit.blockEffects[block[i]]?.effect ?? 0);
    curve.gradient(x[i], theta, gradient);
    first[i] = gradient[0];
    columns.forEach((column, j) => {
      column[i] = gradient[j + 1];
    });
  }
  const residuals = y.map((value, i) => value - fitted[i]);
  if (first.some((value) => value !== 1)) {
    // a curve without a free level: blocks enter as contrasts that sum to zero
    const leverage = leastSquares([first, ...columns, ...blockContrasts(data)], y, { weight }).leverages;
    return { curve: mean, fitted, residuals, leverage };
  }
  const leverage = Float64Array.from(weight, (w, i) => w / design.blockWeight[block[i]]);
  for (const column of orthonormal(columns, data)) {
    for (let i = 0; i < n; i++) leverage[i] += weight[i] * column[i] * column[i];
  }
  return {
    curve: mean,
    fitted,
    residuals,
    leverage: leverage.map((h) => Math.min(h, 1)),
  };
}

/** Columns of the sum-to-zero block contrasts, shape [B - 1][n]. */
function blockContrasts({ block, design }: PreparedData): Float64Array[] {
  const last = design.blocks - 1;
  return Array.from({ length: last }, (_, b) => Float64Array.from(block, (k) => (k === b ? 1 : k === last ? -1 : 0)));
}

/** Block-centred, orthonormalised columns; columns that vanish (unidentified directions) are left out. */
function orthonormal(columns: readonly Float64Array[], { block, weight, design }: PreparedData): Float64Array[] {
  const product = (a: Float64Array, b: Float64Array): number => {
    let sum = 0;
    for (let i = 0; i < a.length; i++) sum += weight[i] * a[i] * b[i];
    return sum;
  };
  const basis: Float64Array[] = [];
  for (const column of columns) {
    const means = new Float64Array(design.blocks);
    for (let i = 0; i < column.length; i++) means[block[i]] += (weight[i] / design.blockWeight[block[i]]) * column[i];
    const before = product(column, column);
    const rest = column.map((value, i) => value - means[block[i]]);
    for (let pass = 0; pass < 2; pass++) {
      for (const other of basis) {
        const share = product(rest, other);
        for (let i = 0; i < rest.length; i++) rest[i] -= share * other[i];
      }
    }
    const after = product(rest, rest);
    if (after > 1e-20 * before) basis.push(rest.map((value) => value / Math.sqrt(after)));
  }
  return basis;
}
