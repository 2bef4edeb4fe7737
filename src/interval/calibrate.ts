import type { InnerFamily } from "../curves/family.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { cutoffFrom, quantileFrom } from "./cutoffRule.ts";
import { gainsAtOptimum } from "./gainAtOptimum.ts";
import { optimumOf } from "./scaledCurve.ts";
import { type SimulatedTrials, type SimulationMemo, simulatedTrials } from "./simulatedTrials.ts";

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
  memo?: SimulationMemo,
): Calibration {
  // Of the straight line alone both are F tests on one degree of freedom: exact.
  if (families.every((family) => family === "linear")) return { factor: options.plain, flatFactor: options.plain };
  const { design } = data;
  const { r, level, plain, flat = true } = options;
  const scaledRatio = r * design.span;
  const trials = simulatedTrials(data, families, options, memo);
  const { pick, rss, least, total, truths } = trials;

  const flatFactor =
    flat && total <= least * (1 + HOPELESS * plain) ? quantileFrom(flatRatios(trials).sort(), level) : plain;
  let factor = 0;
  pick.forEach((family, i) => {
    const [a, b, c] = [truths.a[i], truths.b[i], truths.c[i]];
    const optimum = optimumOf(family, a, b, c, scaledRatio);
    if (rss[i] > least * (1 + HOPELESS * plain)) return;
    const inside = optimum > 0 && optimum < 1;
    const near = family === 4 ? b : undefined;
    const own = inside ? cutoffFrom(ratios(data, trials, i, optimum, scaledRatio, near, plain), level, plain) : plain;
    if (rss[i] <= least * (1 + own)) factor = Math.max(factor, own);
  });
  return { factor, flatFactor };
}

function flatRatios(trials: SimulatedTrials): Float64Array {
  const { total, best } = trials.scene(-1);
  return total.map((all, s) => best[s] / (all - best[s]));
}

/**
 * (gain of the best - gain with the optimum where the curve has it) / RSS of the best, over trials simulated from the curve of candidate
 * i. Beyond `plain` it is exact; up to there it is only known to be so, since the rule asks no more: the search for the best curve with
 * that optimum ends as soon as one is good enough.
 */
function ratios(
  { design }: PreparedData,
  trials: SimulatedTrials,
  i: number,
  optimum: number,
  r: number,
  near: number | undefined,
  plain: number,
): Float64Array {
  const { sums, total, best } = trials.scene(i);
  const levels = design.levels.length;
  const own = trials.pick[i];
  // The generating family first: its curve is the likeliest to be good enough.
  const gainOf = gainsAtOptimum(design, optimum, r, [own, ...trials.pick.filter((family) => family !== own)], near);
  const out = new Float64Array(total.length);
  for (let s = 0; s < out.length; s++) {
    const rest = total[s] - best[s];
    const enough = best[s] - plain * rest;
    const gain = gainOf(sums, s * levels, enough);
    const ratio = (best[s] - gain) / rest;
    // Rounding may put a curve that is just good enough on the other side.
    const doubtful = ratio > plain && gain >= enough;
    out[s] = doubtful ? (best[s] - gainOf(sums, s * levels, Number.POSITIVE_INFINITY)) / rest : ratio;
  }
  return out;
}
