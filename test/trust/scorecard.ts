import { binomialScores } from "./binomialScores.ts";
import { bootstrapScores } from "./bootstrapScores.ts";
import { brokenLineScores } from "./brokenLineScores.ts";
import { distributionScores } from "./distributionScores.ts";
import { remlScores, strataScores } from "./mixedScores.ts";
import { anovaScores, linearScores, nonlinearScores, univariateScores } from "./nistScores.ts";
import type { Score } from "./score.ts";
import { yieldDensityScores } from "./yieldDensityScores.ts";

/** The areas of the scorecard, each measured on its own. */
export const areas: Readonly<Record<string, () => Score[]>> = {
  "NIST StRD linear": linearScores,
  "NIST StRD nonlinear": nonlinearScores,
  "NIST StRD univariate": univariateScores,
  "NIST StRD analysis of variance": anovaScores,
  "Distribution functions": distributionScores,
  "Response curves": yieldDensityScores,
  "Lodging: binomial models": binomialScores,
  "Stalk traits: broken line": brokenLineScores,
  "Mixed models: REML": remlScores,
  "Analyses of variance": strataScores,
  "Bootstrap with fixed indices": bootstrapScores,
};
