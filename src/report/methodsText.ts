import type { TrialAnalysis } from "../analyze/result.ts";
import { significant } from "./numberText.ts";

/** How the figures of a report were made, in short, a paragraph each. */
export function methodsText({ settings, comparison, trial }: TrialAnalysis): string[] {
  const level = `${significant(100 * settings.level, 4)} %`;
  return [
    `Curves: ${settings.families.join(", ")}, each with a level of its own for every block of every environment, fitted by least squares. The five exact families are solved for the global minimum, without starting values. The curve shown has the smallest AICc, with every coefficient counted; the flat curve competes, so "no response" is an ordinary answer.`,
    `Densities: ${
      trial.densityAxis === "seeding-rate"
        ? "the seeding rate"
        : trial.densityAxis === "plot-stand"
          ? "the stand counted in each plot"
          : "the counted stand, averaged over the plots of one seeding rate in its environment"
    }. Optima are looked for inside the tested range only: one at an end means "there or beyond". Nothing is extrapolated.`,
    `Ranges (${level}): a density belongs to the range when some curve that has its optimum there fits nearly as well as the best one. Such a range holds after the curve was chosen from the same plots; that of the chosen curve alone would be too short. An end that the trial does not bound is left open. Where the true response has another shape than the curves compared, such a range can be too short. Ranges of flex scores are made in the same way. The band in the pictures is made in the same way, yield by yield at each density.`,
    ...(settings.resamples === 0
      ? []
      : [
          "Resampling: residuals are drawn anew, all curves refitted and one chosen each time. It compares the hybrids and gives a second opinion on the optima.",
        ]),
    ...(comparison.between === null
      ? []
      : [
          "Flex score: 100 (1 - ln(Y2 / Y1) / ln(x2 / x1)) between two densities x1 and x2 that all hybrids share, Y being the yields on the curve. 0: each plant keeps its ear, so yield follows the plants; 100: bigger ears fully make up for missing plants; above 100: crowded.",
        ]),
    ...(settings.prices === null
      ? []
      : [
          "Best-paying density: where one more seed just pays for itself, dY/dx = seed cost / (establishment x net grain price).",
        ]),
  ];
}
