import { check } from "../core/errors.ts";
import { type AnalysedTrial, posteriorCurves } from "./posteriorCurves.ts";
import { checkCurves, priorCurves, type ResponsePrior, type TruthCurve } from "./truthCurves.ts";

/**
 * What may be true: a range of optima and losses; curves with weights; or what an earlier analysis left possible (one hybrid
 * of it, by default the only one).
 */
export type PriorSource =
  | ResponsePrior
  | { readonly curves: readonly TruthCurve[] }
  | { readonly analysis: AnalysedTrial; readonly hybrid?: string; readonly draws?: number; readonly seed?: number };

/** The curves of a prior, with the words for where they come from. */
export function priorOf(prior: PriorSource): { readonly curves: readonly TruthCurve[]; readonly source: string } {
  check(typeof prior === "object" && prior !== null, "invalid-option", "prior is missing: say what may be true");
  if ("curves" in prior) {
    checkCurves(prior.curves, "prior.curves");
    return { curves: prior.curves, source: `${prior.curves.length} given curve(s)` };
  }
  if ("analysis" in prior) {
    const { curves, hybrid } = posteriorCurves(prior.analysis, prior.hybrid, prior.draws, prior.seed);
    return { curves, source: `earlier analysis of ${hybrid}` };
  }
  const curves = priorCurves(prior);
  return { curves, source: `optimum between ${prior.optimum[0]} and ${prior.optimum[1]}, ${curves.length} curves` };
}
