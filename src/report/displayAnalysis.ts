import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { jupyterDisplay, type MimeBundle, type SelfDisplaying } from "../plot/jupyterDisplay.ts";
import { htmlSummary } from "./htmlPage.ts";
import { trialText } from "./trialText.ts";

export interface DisplayAnalysisOptions {
  /** "$", "EUR" or nothing (default). */
  readonly currency?: string;
}

/** What `DisplayAnalysisOptions` must look like. */
export const displayAnalysisOptionsShape: { readonly [property: string]: Shape } = { currency: "text?" };

/**
 * The result in a form that shows itself when it is the last value of a notebook cell: the answer and the tables over all hybrids, as HTML
 * and as text. It is the same data: `JSON.stringify` gives the same text as before.
 *
 * @example
 * JSON.stringify(displayAnalysis(analysis)) === JSON.stringify(analysis); // => true
 */
export function displayAnalysis(
  analysis: TrialAnalysis,
  options: DisplayAnalysisOptions = {},
): SelfDisplaying<TrialAnalysis> {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", displayAnalysisOptionsShape, "invalid-option");
  const { currency = "" } = options;
  return {
    ...analysis,
    async [jupyterDisplay](): Promise<MimeBundle> {
      return { "text/html": htmlSummary(analysis, currency), "text/plain": trialText(analysis, { currency }) };
    },
  };
}
