import { streamRandom } from "../core/random.ts";
import type { InnerFamily } from "../curves/family.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { fitRows } from "../fit/leverage.ts";
import { kernelFamilies, refitKernel } from "../numeric/refitKernel.ts";
import { type CurveDraws, choose, weightedRefit, writeCurve } from "./curveDraws.ts";
import { parametricSampler, wildSampler } from "./errorSampler.ts";
import type { Grouping, PreparedIntervalData } from "./intervalData.ts";
import { layoutOf, penaltyFactor } from "./layout.ts";
import { residualSampler, type Sampler } from "./sampler.ts";
import { members, type ResamplingPlan } from "./scheme.ts";

/** Makes one replicate after another. */
export interface Replicator {
  /** Starts the numbered random stream. */
  begin(seed: number, stream: number): void;
  /** Writes the next replicate's curve to place i. */
  next(draws: CurveDraws, i: number): void;
}

/**
 * The replicate machine of a plan.
 *
 * @param order - labels of all units that are drawn, when another data set shares them: unit k of every replicate is then the
 * same in both. Default: the plan's own
 */
export function replicator(
  data: PreparedIntervalData,
  base: CurveFit,
  families: readonly InnerFamily[],
  plan: ResamplingPlan,
  order?: readonly string[],
): Replicator {
  const rows = fitRows(data, base);
  const shared =
    plan.unit && order
      ? { of: plan.unit.of.map((k) => order.indexOf(plan.unit?.labels[k] ?? "")), labels: order }
      : plan.unit;
  switch (plan.scheme) {
    case "residual":
      return fixedLayout(data, families, residualSampler(data, rows));
    case "wild":
      return fixedLayout(data, families, wildSampler(data, rows, plan.multipliers ?? "rademacher", shared));
    case "parametric":
      return fixedLayout(data, families, parametricSampler(data, rows, base.sigma ?? 0));
    default:
      return changingLayout(data, families, plan, shared);
  }
}

/** Replicates that differ in the yields only: one kernel serves them all. */
export function fixedLayout(
  data: PreparedIntervalData,
  families: readonly InnerFamily[],
  sampler: Sampler,
): Replicator {
  const { design } = data;
  const kernel = refitKernel(design, families);
  const layout = layoutOf(design);
  const pick = Int32Array.from(families, (family) => kernelFamilies.indexOf(family));
  const penalty = Float64Array.from(pick, (family) => penaltyFactor(design.nobs, design.blocks, family));
  const only = pick.length === 1 ? pick[0] : -1;
  const levels = design.levels.length;
  const { moments } = sampler;
  return {
    begin: sampler.begin,
    next(draws, i) {
      sampler.draw();
      kernel.fit(moments);
      const family = only >= 0 ? only : choose(kernel, moments[levels], pick, penalty, design.nobs);
      writeCurve(draws, i, kernel, family, moments, layout);
    },
  };
}

/** Replicates that hold some plots several times and others not at all. */
function changingLayout(
  data: PreparedIntervalData,
  families: readonly InnerFamily[],
  plan: ResamplingPlan,
  unit: Grouping | null,
): Replicator {
  const whole = plan.scheme === "cluster";
  const refit = weightedRefit(data, families, whole);
  const nobs = data.x.length;
  const of = unit?.of ?? Int32Array.from({ length: nobs }, (_, i) => i);
  const units = unit?.labels.length ?? nobs;
  const strata = plan.strata ? members(plan.strata) : [Array.from({ length: units }, (_, k) => k)];
  const times = new Int32Array(units);
  const count = new Int32Array(nobs);
  let random = streamRandom(0, 0);
  return {
    begin(seed, stream) {
      random = streamRandom(seed, stream);
    },
    next(draws, i) {
      // A draw without any plot of these data (possible when units are shared with another data set) is made again.
      do {
        times.fill(0);
        for (const stratum of strata)
          for (let k = 0; k < stratum.length; k++) times[stratum[random.below(stratum.length)]]++;
        for (let k = 0; k < nobs; k++) count[k] = times[of[k]];
      } while (count.every((value) => value === 0));
      refit(count, draws, i);
    },
  };
}
