import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Trial } from "../trial/trial.ts";
import { type AnalysedTrial, analysedCurve } from "./analysedTrial.ts";
import { pastFromAnalysis, pastFromTrial } from "./pastPlots.ts";
import { plotNoise } from "./plotNoise.ts";
import { type PosteriorOptions, posteriorCurves } from "./posteriorCurves.ts";
import { checkCurves, priorCurves, type ResponsePrior, type TruthCurve } from "./truthCurves.ts";

/** An earlier trial in place of a guess: its analysis and, better, the trial itself; `hybrid` when it has several. */
export interface EarlierTrial extends PosteriorOptions {
  readonly analysis: AnalysedTrial;
  readonly trial?: Trial;
  readonly hybrid?: string;
}

/** What may be true: a range of optima and losses; curves with weights; or what an earlier trial leaves possible. */
export type PriorSource = ResponsePrior | { readonly curves: readonly TruthCurve[] } | EarlierTrial;

/** The curves of a prior, with the words for where they come from. */
export function priorOf(prior: PriorSource): { readonly curves: readonly TruthCurve[]; readonly source: string } {
  check(typeof prior === "object" && prior !== null, "invalid-option", "prior is missing: say what may be true");
  check(!Array.isArray(prior), "invalid-option", "prior must be an object, not a list");
  if ("curves" in prior) {
    checkCurves(prior.curves, "prior.curves");
    return { curves: prior.curves, source: `${prior.curves.length} given curve(s)` };
  }
  if ("analysis" in prior) {
    const { analysis, trial, hybrid } = prior;
    const curve = analysedCurve(analysis, hybrid);
    const past = trial ? pastFromTrial(trial, curve.hybrid) : pastFromAnalysis(curve);
    const { sigma } = plotNoise({ analysis, hybrid: curve.hybrid }, analysis.trial.yieldUnit);
    return {
      curves: posteriorCurves(past, sigma, curve.meanYield, prior),
      source: `what an earlier trial of ${curve.hybrid} left possible`,
    };
  }
  checkShape(
    prior,
    "prior",
    { optimum: "numbers", lossBelow: "object", bestYield: "number", families: "object?" },
    "invalid-option",
  );
  checkShape(prior.lossBelow, "prior.lossBelow", { distance: "number", loss: "any" }, "invalid-option");
  const curves = priorCurves(prior);
  const [low, high] = prior.optimum;
  return {
    curves,
    source: `${low === high ? `optimum at ${low}` : `optimum between ${low} and ${high}`}, ${curves.length} curve${curves.length === 1 ? "" : "s"}`,
  };
}
