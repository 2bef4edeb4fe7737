import { streamRandom } from "../core/random.ts";
import type { InnerFamily } from "../curves/family.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import { kernelFamilies, refitKernel } from "../numeric/refitKernel.ts";
import { emptyDraws, writeCurve } from "./curveDraws.ts";
import { cutoffFrom, quantileFrom } from "./cutoffRule.ts";
import { gainAtOptimum } from "./gainAtOptimum.ts";
import { layoutOf } from "./layout.ts";
import { noiseMoments } from "./noiseMoments.ts";
import { optimumOf, valueAt } from "./scaledCurve.ts";

/** The simulated cut-off: a curve is compatible when RSS <= least RSS x (1 + factor). */
export interface Calibration {
  readonly factor: number;
  /** The same for the question whether a flat curve is compatible: exact under normal errors, as nothing unknown is left in it. */
  readonly flatFactor: number;
}

export interface CalibrationOptions {
  /** Price ratio, yield units per density unit of the caller. */
  readonly r: number;
  readonly level: number;
  /** Residual degrees of freedom of the richest candidate. */
  readonly dof: number;
  /** F(level; 1, dof) / dof: used where a family puts its optimum at an end of the range. */
  readonly plain: number;
  readonly simulations: number;
  readonly seed: number;
  /** Also simulate the flat curve's cut-off; default true. Without it `flatFactor` is `plain`. */
  readonly flat?: boolean;
}

/** Families that exceed the F cut-off this many times are not simulated: simulated quantiles reach about twice the F cut-off. */
const HOPELESS = 8;

/** Random numbers far from those of the bootstrap with the same seed. */
const STREAM = 2 ** 30;

/**
 * Cut-off of the envelope by simulation.
 *
 * With several candidate families the least RSS is that of whichever happens to fit best, so F(level; 1, df) is too small where
 * families can tell their curves apart only partly; at the kink of the linear-plateau it is not exact either. For each family
 * in turn, normal errors are added to its best curve, all families are refitted, and
 *
 *     (RSS with the optimum where that curve has it - least RSS) / least RSS
 *
 * is collected. While F covers enough of them it stays; else their `level` quantile takes its place (`cutoffFrom`). The factor is
 * the largest of any family that is itself compatible at its own.
 *
 * Source: test inversion with a simulated null distribution, Davison & Hinkley (1997), section 4.2 and 5.6; coverage in
 * bench/coverage.md.
 */
export function calibrate(
  data: PreparedData,
  families: readonly InnerFamily[],
  options: CalibrationOptions,
): Calibration {
  // Of the straight line alone both are F tests on one degree of freedom: exact.
  if (families.every((family) => family === "linear")) return { factor: options.plain, flatFactor: options.plain };
  const { design } = data;
  const { r, level, dof, plain, simulations, seed, flat = true } = options;
  const scaledRatio = r * design.span;
  const response = joinResponse(design, data.y);
  const kernel = refitKernel(design);
  kernel.fit(response.sums);
  const pick = families.map((family) => kernelFamilies.indexOf(family));
  const rss = pick.map((family) => Math.max(response.total - kernel.gain[family], 0));
  const least = Math.min(...rss);
  const sigma = Math.sqrt(least / dof);
  const layout = layoutOf(design);
  const truths = emptyDraws(pick.length);
  pick.forEach((family, i) => {
    writeCurve(truths, i, kernel, family, response.total, 0, layout);
  });

  const noise = noiseMoments(design);
  const sums = new Float64Array(design.levels.length);
  /** (gain of the best - gain of the truth) / RSS of the best over simulations of one curve. */
  const simulate = (curveAt: (level: number) => number, gainOfTruth: () => number): Float64Array => {
    // Level sums and total of the curve itself, blocks projected out.
    const curve = Float64Array.from(design.scaled, (_, l) => curveAt(l));
    const fit = joinResponse(
      design,
      Float64Array.from(design.level, (l) => curve[l]),
    );
    const random = streamRandom(seed, STREAM);
    const ratios = new Float64Array(simulations);
    for (let s = 0; s < simulations; s++) {
      let total = fit.total + sigma * sigma * noise.draw(random, sums);
      for (let l = 0; l < sums.length; l++) {
        const error = sigma * sums[l];
        total += 2 * curve[l] * error;
        sums[l] = fit.sums[l] + error;
      }
      kernel.fit(sums);
      let best = 0;
      for (const family of pick) best = Math.max(best, kernel.gain[family]);
      ratios[s] = (best - gainOfTruth()) / (total - best);
    }
    return ratios;
  };

  const none = (): number => 0;
  const flatFactor =
    flat && response.total <= least * (1 + HOPELESS * plain) ? quantileFrom(simulate(none, none).sort(), level) : plain;
  let factor = 0;
  pick.forEach((family, i) => {
    const [a, b, c] = [truths.a[i], truths.b[i], truths.c[i]];
    const optimum = optimumOf(family, a, b, c, scaledRatio);
    if (rss[i] > least * (1 + HOPELESS * plain)) return;
    const inside = optimum > 0 && optimum < 1;
    const own = inside
      ? cutoffFrom(
          simulate(
            (l) => valueAt(family, a, b, c, design.scaled[l]),
            () => gainAtOptimum(design, sums, optimum, scaledRatio, pick, family === 4 ? b : undefined),
          ),
          level,
          plain,
        )
      : plain;
    if (rss[i] <= least * (1 + own)) factor = Math.max(factor, own);
  });
  return { factor, flatFactor };
}
