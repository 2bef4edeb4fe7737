import { factorCholesky, invertFromCholesky } from "../numeric/cholesky.ts";
import { multiplyVector } from "../numeric/matrix.ts";
import { extendBasis, projectedSquares } from "../numeric/orthogonalBasis.ts";
import { crossLabels, dummies, type Factor, type VarianceRow } from "./analyseStrata.ts";
import { indexLevels } from "./randomTerm.ts";

/** Least-squares means of the treatment cells, averaged over blocks with equal weight. */
export interface CellMeans {
  /** Cell labels in order of first appearance. */
  readonly cells: readonly string[];
  /** Level of each treatment factor in each cell, [c][factors]. */
  readonly parts: readonly (readonly string[])[];
  readonly means: Float64Array;
  /** (X'X)^-1 of the cells; times the residual mean square it is their covariance; [c * c]. */
  readonly unscaled: Float64Array;
  /** Cell of each plot. */
  readonly index: Int32Array;
}

/**
 * Cell means of yield = block + cell by least squares: what each treatment would give in an average block.
 *
 * @returns null when blocks and treatments are confounded
 */
export function cellMeans(
  yields: ArrayLike<number>,
  treatments: readonly Factor[],
  blocks: readonly Factor[],
): CellMeans | null {
  const { levels: cells, index } = indexLevels(crossLabels(treatments));
  const n = yields.length;
  const c = cells.length;
  const shapes = blocks.map(({ labels }) => indexLevels(Array.from(labels, String)));
  const width = c + shapes.reduce((sum, { levels }) => sum + levels.length - 1, 0);
  const gram = new Float64Array(width * width);
  const right = new Float64Array(width);
  const mean = Array.from(yields).reduce((sum, v) => sum + v, 0) / n;
  const row = new Float64Array(width);
  for (let i = 0; i < n; i++) {
    row.fill(0);
    row[index[i]] = 1;
    let at = c;
    for (const { levels, index: block } of shapes) {
      // Sum-to-zero contrasts, so that a cell's coefficient is its mean over all blocks.
      if (block[i] < levels.length - 1) row[at + block[i]] = 1;
      else for (let l = 0; l < levels.length - 1; l++) row[at + l] = -1;
      at += levels.length - 1;
    }
    for (let a = 0; a < width; a++) {
      if (row[a] === 0) continue;
      right[a] += row[a] * (yields[i] - mean);
      for (let b = 0; b < width; b++) gram[a * width + b] += row[a] * row[b];
    }
  }
  if (!factorCholesky(gram, width)) return null;
  for (let i = 0; i < width; i++) if (!(gram[i * width + i] > 1e-6)) return null;
  const inverse = invertFromCholesky(gram, width);
  const coefficients = multiplyVector(inverse, right, width, width);
  const unscaled = new Float64Array(c * c);
  for (let i = 0; i < c; i++) for (let j = 0; j < c; j++) unscaled[i * c + j] = inverse[i * width + j];
  return {
    cells,
    parts: cellParts(cells.length, index, treatments),
    means: coefficients.slice(0, c).map((v) => v + mean),
    unscaled,
    index,
  };
}

/**
 * Tests of each treatment term given all others that do not contain it (type II), blocks fitted first.
 *
 * SS = RSS(terms without it and without what contains it) - RSS(with it).
 */
export function typeTwo(
  yields: ArrayLike<number>,
  treatments: readonly Factor[],
  blocks: readonly Factor[],
  maxOrder: number,
): VarianceRow[] {
  const n = yields.length;
  const mean = Array.from(yields).reduce((sum, v) => sum + v, 0) / n;
  const y = Float64Array.from(yields, (v) => v - mean);
  let base: Float64Array[] = [new Float64Array(n).fill(1 / Math.sqrt(n))];
  for (const { labels } of blocks) base = [...base, ...extendBasis(base, dummies(labels))];
  const masks: number[] = [];
  const bits = (mask: number): number => treatments.filter((_, i) => mask & (1 << i)).length;
  for (let mask = 1; mask < 1 << treatments.length; mask++) if (bits(mask) <= maxOrder) masks.push(mask);
  masks.sort((a, b) => bits(a) - bits(b));
  return masks.map((mask) => {
    const subset = treatments.filter((_, i) => mask & (1 << i));
    let without = base;
    for (const other of masks) {
      if ((other & mask) === mask) continue;
      without = [
        ...without,
        ...extendBasis(without, dummies(crossLabels(treatments.filter((_, i) => other & (1 << i))))),
      ];
    }
    const added = extendBasis(without, dummies(crossLabels(subset)));
    const ss = projectedSquares(added, y);
    const df = added.length;
    return { source: subset.map(({ name }) => name).join(" x "), df, ss, ms: df > 0 ? ss / df : 0, f: null, p: null };
  });
}

/** Level of each factor in each cell, taken from a plot of the cell. */
export function cellParts(count: number, index: Int32Array, factors: readonly Factor[]): string[][] {
  return Array.from({ length: count }, (_, c) => {
    const plot = index.indexOf(c);
    return factors.map(({ labels }) => String(labels[plot]));
  });
}
