import { binomialLinks } from "../fit/fitBinomialLinks.ts";
import { maximise, quadraticForm } from "../numeric/glm.ts";
import { averageLink, shareConstraint } from "./averageShare.ts";
import type { LodgingFit } from "./lodgingFit.ts";
import { lodgingCriterion, lodgingModel } from "./lodgingModel.ts";

/**
 * Squared distance, in standard errors, between the tolerated share and the fitted average share at z, on the link scale.
 * Where it stays below the cut-off, the limit may lie: for one block this is Fieller's set, ends included.
 *
 * Source: Fieller (1954), Journal of the Royal Statistical Society B 16(2), 175-185.
 */
export function waldStatistic(fit: LodgingFit, tolerated: number): (z: number) => number {
  const working = fit.working!;
  const blocks = working.blocks.length;
  const link = binomialLinks[fit.link];
  const target = link.link(tolerated);
  const gradient = new Float64Array(blocks + 1);
  const vcov = working.vcov.flat();
  return (z) => {
    const miss = averageLink(working.theta, blocks, z, link, gradient) - target;
    return (miss * miss) / (fit.scale * quadraticForm(vcov, blocks + 1, gradient));
  };
}

/**
 * Drop of deviance (over the dispersion) when the curve is forced through (z, tolerated share).
 *
 * Neighbouring calls start from each other's solution, so ask in order.
 */
export function profileStatistic(fit: LodgingFit, tolerated: number): (z: number) => number {
  const working = fit.working!;
  const blocks = working.blocks.length;
  const link = binomialLinks[fit.link];
  const settings = { link: fit.link, dispersion: fit.dispersionModel, penalised: fit.bias === "firth" };
  const criterion = lodgingCriterion(lodgingModel(fit.data, fit.link), settings);
  const free: Float64Array = Float64Array.from(working.theta);
  const best = criterion.evaluate(free, null, null);
  let start: Float64Array = free;
  return (z) => {
    const constraint = shareConstraint(blocks, z, tolerated, link);
    let forced = maximise(criterion, start, { constraint, maxIterations: 100 });
    if (forced.status !== "converged") forced = maximise(criterion, free, { constraint, maxIterations: 1000 });
    start = forced.theta;
    return Math.max(0, 2 * (best - forced.value)) / fit.scale;
  };
}
