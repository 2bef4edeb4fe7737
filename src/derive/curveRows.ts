import { checkShape } from "../core/checkShape.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { type CurveData, curveDataShape, prepareData } from "../fit/fitData.ts";
import { fitRows } from "../fit/leverage.ts";
import { normalQuantile } from "../numeric/distributions.ts";

/** One plot beside its curve. Yields in the unit of the data. */
export interface CurveRow {
  /** Position in the data. */
  readonly index: number;
  readonly density: number;
  readonly yield: number;
  /** Yield without the effect of its block: what a curve of the average block is to be compared with. */
  readonly adjusted: number;
  readonly fitted: number;
  readonly residual: number;
  /** residual sqrt(weight) / (sigma sqrt(1 - leverage)); null without residual degrees of freedom or at leverage 1. */
  readonly standardised: number | null;
  /** Normal score of its rank, (rank - 3/8) / (n + 1/4); ties by order. Null like `standardised`. */
  readonly normalScore: number | null;
}

/** Mean of the plots of one density, block effects taken off, weighted. */
export interface LevelMean {
  readonly density: number;
  readonly mean: number;
  readonly plots: number;
}

/**
 * Plots of a fitted curve with their residuals, and the mean of each density: what charts and residual panels show.
 *
 * @throws AnalysisError as `fitCurve` for bad arrays
 * @throws Error when the fit did not converge
 * @example
 * const data = { density: [20, 30, 40, 20, 30, 40], yield: [150, 180, 170, 160, 190, 180], block: [1, 1, 1, 2, 2, 2] };
 * const { means } = curveRows(data, fitCurve("quadratic", data));
 * means.map(({ mean }) => mean); // => [155, 185, 175]
 *
 * Source: standardised residuals, Cook & Weisberg (1982), section 2.1; normal scores, Blom (1958).
 */
export function curveRows(
  data: CurveData,
  fit: CurveFit,
): { readonly rows: readonly CurveRow[]; readonly means: readonly LevelMean[] } {
  checkShape(data, "data", curveDataShape);
  checkShape(fit, "fit", "standcurve/curve-fit/1");
  const prepared = prepareData(data);
  const { x, y, weight, design } = prepared;
  const { curve, fitted, residuals, leverage } = fitRows(prepared, fit);
  const { sigma } = fit;
  const standardised = Array.from(residuals, (residual, i) => {
    const room = 1 - leverage[i];
    return sigma === null || !(sigma > 0) || room < 1e-9
      ? null
      : (residual * Math.sqrt(weight[i])) / (sigma * Math.sqrt(room));
  });
  const scores = normalScores(standardised);
  const rows = Array.from(x, (density, index) => ({
    index,
    density,
    yield: y[index],
    adjusted: curve[index] + residuals[index],
    fitted: fitted[index],
    residual: residuals[index],
    standardised: standardised[index],
    normalScore: scores[index],
  }));
  const sums = Array.from(design.levels, (density) => ({ density, weight: 0, sum: 0, plots: 0 }));
  rows.forEach((row, i) => {
    const level = sums[design.level[i]];
    level.weight += weight[i];
    level.sum += weight[i] * row.adjusted;
    level.plots += 1;
  });
  return { rows, means: sums.map(({ density, weight: total, sum, plots }) => ({ density, mean: sum / total, plots })) };
}

function normalScores(values: readonly (number | null)[]): (number | null)[] {
  const order = values.flatMap((value, i) => (value === null ? [] : [i]));
  order.sort((a, b) => (values[a] as number) - (values[b] as number) || a - b);
  const scores: (number | null)[] = values.map(() => null);
  order.forEach((i, rank) => {
    scores[i] = normalQuantile((rank + 5 / 8) / (order.length + 1 / 4));
  });
  return scores;
}
