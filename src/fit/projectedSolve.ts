import type { JoinDesign, JoinResponse } from "../numeric/joinDesign.ts";
import type { PreparedData } from "./fitData.ts";

/** Least squares on given shape columns, with the residual sum of squares taken from the residuals, not from a difference of large sums. */
export interface Solution {
  /** Shape columns at each plot, [q][n], multiplied by `shape`. */
  readonly columns: readonly Float64Array[];
  readonly shape: readonly number[];
  readonly level: number;
  readonly blockEffects: Float64Array;
  readonly rss: number;
}

/** Density of each plot on the [0, 1] scale of the tested range. */
export function unit(design: JoinDesign): Float64Array {
  return Float64Array.from(design.level, (l) => design.scaled[l]);
}

/**
 * Least squares of the yields on at most two shape columns with blocks projected out. One round of refinement on the
 * residuals gives back the digits that the projected products lose.
 */
export function solve(data: PreparedData, response: JoinResponse, columns: readonly Float64Array[]): Solution {
  const { design, y, block, weight } = data;
  const { blockWeight, blocks } = design;
  const means = columns.map((column) => {
    const out = new Float64Array(blocks);
    for (let i = 0; i < y.length; i++) out[block[i]] += (weight[i] / blockWeight[block[i]]) * column[i];
    return out;
  });
  const centred = columns.map((column, j) => column.map((value, i) => value - means[j][block[i]]));
  const product = (a: Float64Array, b: Float64Array): number => {
    let sum = 0;
    for (let i = 0; i < a.length; i++) sum += weight[i] * a[i] * b[i];
    return sum;
  };
  // Gram-Schmidt: the second column is replaced by what the first leaves of it.
  const first = centred[0];
  const second = centred[1];
  const aa = first ? product(first, first) : 0;
  const slope = first && second ? product(first, second) / aa : 0;
  const rest = first && second ? second.map((value, i) => value - slope * first[i]) : undefined;
  const rr = rest ? product(rest, rest) : 0;

  const shape = columns.map(() => 0);
  const residual = y.map((value, i) => value - response.blockMean[block[i]]);
  for (let round = 0; round < 3 && first; round++) {
    let stepFirst = product(first, residual) / aa;
    if (rest && second) {
      const stepSecond = product(rest, residual) / rr;
      stepFirst -= slope * stepSecond;
      shape[1] += stepSecond;
      for (let i = 0; i < residual.length; i++) residual[i] -= stepSecond * second[i];
    }
    shape[0] += stepFirst;
    for (let i = 0; i < residual.length; i++) residual[i] -= stepFirst * first[i];
  }
  const blockLevel = Float64Array.from({ length: blocks }, (_, b) =>
    means.reduce((value, m, j) => value - shape[j] * m[b], response.blockMean[b]),
  );
  const level = blockLevel.reduce((sum, value) => sum + value, 0) / blocks;
  return {
    columns,
    shape,
    level,
    blockEffects: blockLevel.map((value) => value - level),
    rss: product(residual, residual),
  };
}
