import { type BinomialProblem, fitBinomial } from "../../src/fit/fitBinomial.ts";
import { logit } from "../../src/fit/fitBinomialLinks.ts";
import { logGamma } from "../../src/numeric/distributions.ts";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { clopperPearsonInterval, wilsonInterval } from "../../src/standability/proportionInterval.ts";
import { standabilityLimit } from "../../src/standability/standabilityLimit.ts";
import { designOf, referenceModels } from "../fit/binomialReference.ts";
import stored from "../oracle/lodging/binomial.json" with { type: "json" };
import proportions from "../oracle/lodging/proportions.json" with { type: "json" };
import { collect, type Score } from "./score.ts";

const own = new Set(stored.models.map(({ id }) => id));

/** Binomial (lodging) models against R's glm carried to the final weights; limits at tolerated shares; limits of one share. */
export function binomialScores(): Score[] {
  const { add, scores } = collect("Lodging: binomial models", (set) => set !== "one proportion" && !own.has(set));
  for (const { model, columns } of referenceModels()) {
    if (model.separation_suspected) continue;
    const design = designOf(model.formula, columns);
    const p = design.length;
    const events = Float64Array.from(columns[model.events] as number[]);
    const trials = Float64Array.from(columns[model.trials] as number[]);
    const task: BinomialProblem = {
      ...{ columns: p, events, trials, link: logit },
      design: Float64Array.from({ length: events.length * p }, (_, k) => design[k % p][Math.floor(k / p)]),
    };
    const fit = fitBinomial(task);
    model.coef.forEach(({ est, se }, j) => {
      add(model.id, "coefficients", fit.coef[j], est);
      add(model.id, "standard errors", Math.sqrt(fit.vcov?.[j * p + j] ?? Number.NaN), se);
    });
    add(model.id, "deviance", fit.deviance, model.deviance);
    add(model.id, "Pearson", fit.pearson, model.pearson_chi2);
    const constant = events.reduce(
      (sum, k, i) => sum + logGamma(trials[i] + 1) - logGamma(k + 1) - logGamma(trials[i] - k + 1),
      0,
    );
    add(model.id, "log-likelihood", fit.value + constant, model.loglik);
    if (!model.thresholds) continue;
    const density = columns[model.formula.replace(/^.*~\s*/, "")] as number[];
    const lodging = fitLodging({ density, lodged: [...events], examined: [...trials] }, { dispersion: "binomial" });
    for (const { p: tolerated, x } of model.thresholds) {
      const { crossing } = standabilityLimit(lodging, { tolerated, method: "fieller" });
      add(model.id, "density at a tolerated share", crossing, x);
    }
  }
  for (const { events, trials, wilson, clopper_pearson } of proportions.points) {
    const score = wilsonInterval(events, trials);
    // With no event R leaves 2e-17 where the end is 0 exactly.
    if (events > 0) add("one proportion", "Wilson limits", score.lower, wilson.lower);
    if (events < trials) add("one proportion", "Wilson limits", score.upper, wilson.upper);
    const exact = clopperPearsonInterval(events, trials);
    add("one proportion", "Clopper-Pearson limits", exact.lower, clopper_pearson.lower);
    add("one proportion", "Clopper-Pearson limits", exact.upper, clopper_pearson.upper);
  }
  return scores();
}
