import type { Shape } from "../core/checkShape.ts";
import { exp, log, pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { curveOf } from "../curves/catalogue.ts";
import type { PastPlots } from "./pastPlots.ts";
import { type BentFamily, bentCurve, bentFamilies, type TruthCurve } from "./truthCurves.ts";

export interface PosteriorOptions {
  /** Densities between which the optimum is held possible beforehand; default 0.6 x the lowest to 1.5 x the highest grown. */
  readonly optimumRange?: readonly [number, number];
  /** Shapes held possible, with weights; default the three bent ones alike. */
  readonly families?: Partial<Readonly<Record<BentFamily, number>>>;
}

/** What `PosteriorOptions` must look like. */
export const posteriorOptionsShape: { readonly [property: string]: Shape } = {
  optimumRange: "numbers?",
  families: "any?",
};

const OPTIMA = 60;
const LOSSES = 24;
/** Curves with less than this share of the largest weight are left out: together they are below 1 in 1,000. */
const LEAST = 1e-6;

/**
 * Curves that plots already grown leave possible, with their posterior weights.
 *
 * Beforehand every bent family is as likely, the optimum lies anywhere in a stated range, and the logarithm of the loss at a third
 * of the tested range below it lies anywhere between a tenth of the scatter and half the mean yield. Block levels and the
 * standard deviation are integrated out under flat priors (on the levels and on log sigma), which leaves
 *
 *     weight proportional to RSS^(-(plots - blocks) / 2)
 *
 * with RSS the sum of squares about the curve within blocks. All is summed over a grid of 60 optima x 24 losses a family. That the
 * optimum is somewhere is taken for granted, so plots that show only a rise leave it above the highest density.
 *
 * @param scatter - standard deviation between plots, for the lower end of the losses
 * @param meanYield - mean of the plots: level of the curves
 *
 * Source: Box & Tiao (1973), Bayesian Inference in Statistical Analysis, section 2.7.
 */
export function posteriorCurves(
  past: PastPlots,
  scatter: number,
  meanYield: number,
  { optimumRange, families }: PosteriorOptions = {},
): TruthCurve[] {
  const low = Math.min(...past.density);
  const high = Math.max(...past.density);
  const [from, to] = optimumRange ?? [0.6 * low, 1.5 * high];
  check(from > 0 && to >= from, "invalid-option", `optimumRange needs 0 < lowest <= highest, got ${from} to ${to}`);
  check(high > low, "not-estimable", "plots of one density leave any response possible");
  const distance = (high - low) / 3;
  const [least, most] = [log(scatter / 10), log(Math.max(meanYield / 2, scatter))];
  const weights = families ?? { quadratic: 1, "linear-plateau": 1, "quadratic-plateau": 1 };
  const rss = withinBlocks(past);
  const half = (past.plots - past.blocks) / 2;
  const found: { curve: TruthCurve; log: number }[] = [];
  for (const family of bentFamilies) {
    const prior = weights[family] ?? 0;
    if (!(prior > 0)) continue;
    for (let i = 0; i < OPTIMA; i++) {
      const optimum = from + ((to - from) * (i + 0.5)) / OPTIMA;
      for (let j = 0; j < LOSSES; j++) {
        const loss = exp(least + ((most - least) * (j + 0.5)) / LOSSES);
        const theta = bentCurve(family, optimum, loss / pow(distance, family === "linear-plateau" ? 1 : 2), 0);
        found.push({
          curve: { family, theta, weight: prior },
          log: log(prior) - half * log(rss(family, theta)),
        });
      }
    }
  }
  check(found.length > 0, "invalid-option", "families must give a weight > 0 to some bent family");
  const top = found.reduce((most, { log }) => Math.max(most, log), Number.NEGATIVE_INFINITY);
  return found.flatMap(({ curve, log }) => {
    const weight = exp(log - top);
    if (weight < LEAST) return [];
    const { mean } = curveOf(curve.family);
    const average =
      past.density.reduce((sum, x, i) => sum + past.weight[i] * mean(x, curve.theta), 0) /
      past.weight.reduce((sum, w) => sum + w, 0);
    const theta = curve.theta.map((value, i) => (i === 0 ? value + meanYield - average : value));
    return [{ family: curve.family, theta, weight }];
  });
}

/** Residual sum of squares about a curve, each block at its best level. */
function withinBlocks(past: PastPlots): (family: BentFamily, theta: readonly number[]) => number {
  const { density, block, weight, rowBlocks, sums, total } = past;
  const levels = [...sums.keys()];
  const index = new Map(levels.map((x, l) => [x, l]));
  const at = density.map((x) => index.get(x) as number);
  const blockWeight = new Float64Array(rowBlocks);
  weight.forEach((w, i) => {
    blockWeight[block[i]] += w;
  });
  const values = new Float64Array(levels.length);
  const blockSum = new Float64Array(rowBlocks);
  return (family, theta) => {
    const { mean } = curveOf(family);
    let cross = 0;
    levels.forEach((x, l) => {
      values[l] = mean(x, theta);
      cross += (sums.get(x) as number) * values[l];
    });
    blockSum.fill(0);
    let squares = 0;
    for (let i = 0; i < at.length; i++) {
      const f = values[at[i]];
      blockSum[block[i]] += weight[i] * f;
      squares += weight[i] * f * f;
    }
    for (let b = 0; b < rowBlocks; b++) squares -= (blockSum[b] * blockSum[b]) / blockWeight[b];
    return Math.max(total - 2 * cross + squares, Number.MIN_VALUE);
  };
}
