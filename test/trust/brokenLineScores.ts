import { fitBrokenLine } from "../../src/standability/fitBrokenLine.ts";
import { brokenLineCases } from "../standability/brokenLineReference.ts";
import { collect, type Score } from "./score.ts";

/** Broken lines (stalk traits) against R: break, slopes, their errors and the 95 % set of the break. */
export function brokenLineScores(): Score[] {
  const { add, scores } = collect("Stalk traits: broken line");
  for (const { name, input, expected } of brokenLineCases()) {
    const fit = fitBrokenLine(input, { simulations: 199 });
    add(name, "break", fit.break, expected.coef.psi.est);
    add(name, "coefficients", fit.intercept, expected.coef.a.est);
    add(name, "coefficients", fit.slopes.left, expected.coef.slope1.est);
    add(name, "coefficients", fit.slopes.right, expected.slope2.est);
    add(name, "standard errors", fit.breakError, expected.coef.psi.se);
    add(name, "standard errors", fit.slopeErrors.left, expected.coef.slope1.se);
    add(name, "residual sum of squares", fit.rss, expected.rss);
    add(name, "F", fit.statistic, expected.f_naive);
    const pieces = fit.interval?.pieces ?? [fit.interval];
    expected.psi_ci95_f.intervals.forEach((piece, i) => {
      if (!piece.lower_is_domain_end) add(name, "95 % set of the break", pieces[i]?.lower, piece.lower);
      if (!piece.upper_is_domain_end) add(name, "95 % set of the break", pieces[i]?.upper, piece.upper);
    });
  }
  return scores();
}
