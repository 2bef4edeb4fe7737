import type { PreparedData } from "../fit/fitData.ts";

/** A column of the shape as a function of density. */
export type ShapeColumn = (x: number) => number;

/**
 * Widens a band by the yields that one linear model (blocks plus at most two columns) allows at each density.
 *
 * With the mean m and its variance factor h at density x, RSS(v) = RSS + (v - m)^2 / h, so the yields within the cut-off are
 * m -+ sqrt((cutoff - RSS) h). `rising` keeps only those v whose best coefficient of the one column, b + (v - m) cov(b, m) / h,
 * is not negative.
 *
 * @param lower - lowered in place; shape of `at`
 * @param upper - raised in place
 */
export function acceptedYields(
  data: PreparedData,
  columns: readonly ShapeColumn[],
  rising: boolean,
  cutoff: number,
  at: readonly number[],
  lower: number[],
  upper: number[],
): void {
  const { x, y, block, weight, design } = data;
  const { blocks, blockWeight, nobs } = design;
  const blockMean = (values: Float64Array): Float64Array => {
    const means = new Float64Array(blocks);
    for (let i = 0; i < nobs; i++) means[block[i]] += (weight[i] / blockWeight[block[i]]) * values[i];
    return means;
  };
  const product = (a: Float64Array, b: Float64Array): number => {
    let sum = 0;
    for (let i = 0; i < nobs; i++) sum += weight[i] * a[i] * b[i];
    return sum;
  };
  const grand = (means: Float64Array): number => means.reduce((sum, value) => sum + value, 0) / blocks;

  const yMeans = blockMean(y);
  const residual = y.map((value, i) => value - yMeans[block[i]]);
  const raw = columns.map((column) => x.map(column));
  const means = raw.map(blockMean);
  const basis: Float64Array[] = [];
  const size: number[] = [];
  let overlap = 0;
  raw.forEach((column, j) => {
    const centred = column.map((value, i) => value - means[j][block[i]]);
    if (j === 1) {
      overlap = product(centred, basis[0]);
      for (let i = 0; i < nobs; i++) centred[i] -= overlap * basis[0][i];
    }
    const length = Math.sqrt(product(centred, centred));
    size.push(length);
    basis.push(centred.map((value) => value / length));
  });
  if (size.some((length) => !(length > 1e-12))) return;
  const z = basis.map((column) => {
    const score = product(column, residual);
    for (let i = 0; i < nobs; i++) residual[i] -= score * column[i];
    return score;
  });
  const rss = product(residual, residual);
  if (rss > cutoff) return;
  const room = Math.sqrt(cutoff - rss);
  const centre = means.map(grand);
  let base = 0;
  for (let b = 0; b < blocks; b++) base += 1 / blockWeight[b] / (blocks * blocks);
  const level = grand(yMeans);

  at.forEach((density, k) => {
    const d = columns.map((column, j) => column(density) - centre[j]);
    const a: number[] = [];
    if (d.length > 0) a.push(d[0] / size[0]);
    if (d.length > 1) a.push((d[1] - overlap * a[0]) / size[1]);
    const mean = a.reduce((sum, value, j) => sum + value * z[j], level);
    const h = a.reduce((sum, value) => sum + value * value, base);
    const half = room * Math.sqrt(h);
    let from = mean - half;
    let to = mean + half;
    if (rising) {
      if (a[0] === 0 && z[0] < 0) return;
      if (a[0] > 0) from = Math.max(from, mean - (z[0] * h) / a[0]);
      if (a[0] < 0) to = Math.min(to, mean - (z[0] * h) / a[0]);
      if (from > to) return;
    }
    lower[k] = Math.min(lower[k], from);
    upper[k] = Math.max(upper[k], to);
  });
}
