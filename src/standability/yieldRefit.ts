import { type Family, isInner } from "../curves/family.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { fittedCurve } from "../fit/fittedCurve.ts";
import { choose, emptyDraws, writeCurve } from "../interval/curveDraws.ts";
import { layoutOf, penaltyFactor } from "../interval/layout.ts";
import { optimumOf, valueAt } from "../interval/scaledCurve.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import { kernelFamilies, refitKernel } from "../numeric/refitKernel.ts";

/** A yield curve refitted to resampled plots; densities in the unit of the data. */
export interface RefittedYield {
  mean(density: number): number;
  /** Where yield less `ratio` times density is highest on the range; NaN for a curve without response at ratio 0. */
  optimum(ratio: number): number;
  /** Densities at which the curve may bend sharply. */
  readonly corners: readonly number[];
}

/**
 * Refits the families to new yields of the same plots and keeps the one that AICc chooses.
 *
 * The five inner families take the bootstrap kernel, microseconds a refit; with a smooth family in the list each is fitted
 * as `fitCurve` does. A curve that the function returned is read before the next call.
 *
 * @param base - the fit to fall back on when none can be ranked
 * @param range - where optima are looked for
 */
export function yieldRefit(
  data: PreparedData,
  families: readonly Family[],
  base: CurveFit,
  range: readonly [number, number],
): (y: Float64Array) => RefittedYield {
  const [low, high] = range;
  if (!families.every(isInner)) {
    return (y) => {
      const fit = chosenCurve({ ...data, y }, families) ?? base;
      const curve = fittedCurve(fit);
      const { theta = [], family } = fit.curve ?? {};
      return {
        mean: curve.mean,
        optimum: (ratio) => (ratio === 0 && family === "flat" ? Number.NaN : curve.optimum(low, high, ratio).density),
        corners: family === "linear-plateau" || family === "quadratic-plateau" ? [theta[2] as number] : [],
      };
    };
  }
  const { design } = data;
  const kernel = refitKernel(design, families);
  const layout = layoutOf(design);
  const pick = Int32Array.from(families, (family) => kernelFamilies.indexOf(family));
  const penalty = Float64Array.from(pick, (family) => penaltyFactor(design.nobs, design.blocks, family));
  const draws = emptyDraws(1);
  const levels = design.levels.length;
  const moments = new Float64Array(levels + 2);
  const { low: first, span } = design;
  return (y) => {
    const { sums, total, blockMean } = joinResponse(design, y);
    moments.set(sums);
    moments[levels] = total;
    moments[levels + 1] = blockMean.reduce((sum, value) => sum + value, 0) / blockMean.length;
    kernel.fit(moments);
    const family = choose(kernel, total, pick, penalty, design.nobs);
    writeCurve(draws, 0, kernel, family, moments, layout);
    const [a, b, c] = [draws.a[0], draws.b[0], draws.c[0]];
    return {
      mean: (x) => valueAt(family, a, b, c, (x - first) / span),
      optimum: (ratio) => Math.min(Math.max(first + span * optimumOf(family, a, b, c, ratio * span), low), high),
      corners: family >= 3 && c < 1 ? [first + span * c] : [],
    };
  };
}

/** Curve with the smallest AICc, or the only one; null when none can be ranked. */
export function chosenCurve(data: PreparedData, families: readonly Family[]): CurveFit | null {
  const fits = families.map((family) => fitPrepared(family, data)).filter(({ status }) => status === "converged");
  if (fits.length === 1) return fits[0];
  const ranked = fits.filter(({ aicc }) => aicc !== null);
  if (ranked.length === 0) return fits[0] ?? null;
  return ranked.reduce((best, fit) => ((fit.aicc as number) < (best.aicc as number) - 1e-9 ? fit : best));
}
