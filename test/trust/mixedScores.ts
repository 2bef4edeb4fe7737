import { cellMeans, typeTwo } from "../../src/mixed/adjustedMeans.ts";
import { analyseStrata, crossLabels, type Factor } from "../../src/mixed/analyseStrata.ts";
import { polynomialContrasts } from "../../src/mixed/orthogonalPolynomial.ts";
import { remlFit } from "../../src/mixed/remlFit.ts";
import { anovaFilters, anovaPlans, anovaReferences, anovaStrata } from "../mixed/anovaReferences.ts";
import { num, text } from "../mixed/referenceColumns.ts";
import { remlReferences, remlSpecs } from "../mixed/remlReferences.ts";
import { oracleJson, type Row, referenceRows } from "../mixed/sharedData.ts";
import { collect, type Score } from "./score.ts";

const idsOf = (models: readonly { readonly id: string }[]): Set<string> => new Set(models.map(({ id }) => id));

/** Mixed models by REML against average-information REML carried to about 12 digits, or lme4 where that has no answer. */
export function remlScores(): Score[] {
  const own = idsOf(oracleJson<{ models: { id: string }[] }>("remlReference.json").models);
  const { add, scores } = collect("Mixed models: REML", (set) => !own.has(set));
  for (const reference of remlReferences()) {
    const { id, csv, reml } = reference;
    const spec = remlSpecs[id];
    const rows = referenceRows(csv, spec.y).filter(spec.keep ?? (() => true));
    const fit = remlFit({ y: num(rows, spec.y), x: spec.x(rows), random: spec.random(rows) });
    add(id, "log-likelihood", fit.logLikelihood, reml.loglik);
    const { components, fixed } = reference.variance_components_ai_reml;
    for (const { group, value } of components ?? []) {
      const term = group === "Residual" ? "residual" : group;
      const own = fit.varianceComponents.find((c) => c.term === term && c.withColumn === null)?.value;
      add(id, "variances", own, value);
    }
    // At a correlation of one there is no answer but lme4's, good to about 8 digits.
    if (!components?.length) {
      for (const { group, term1, term2, variance_or_covariance: value } of reml.variance_components) {
        const [term, column, withColumn] = [
          group === "Residual" ? "residual" : group,
          term1 === "x" ? "z" : "intercept",
          term2 === null ? null : "z",
        ];
        const own = fit.varianceComponents.find(
          (c) => c.term === term && c.column === column && c.withColumn === withColumn,
        );
        add(id, "variances", own?.value, value);
      }
    }
    (fixed?.length ? fixed : reml.fixed).forEach(({ est, se }, j) => {
      add(id, "fixed effects", fit.coefficients[j], est);
      add(id, "standard errors", fit.standardErrors[j], se);
    });
  }
  return scores();
}

/** Analyses of variance against R's aov: strata, F tests, type II sums. */
export function strataScores(): Score[] {
  const own = idsOf(oracleJson<{ analyses: { id: string }[] }>("anovaReference.json").analyses);
  const { add, scores } = collect("Analyses of variance", (set) => !own.has(set));
  const plans = anovaPlans();
  for (const reference of anovaReferences().filter((r) => r.tests === undefined)) {
    const { id } = reference;
    const plan = plans.get(id);
    if (!plan) throw new Error(`no plan for ${id}`);
    const rows = referenceRows(reference.csv, plan.y).filter(anovaFilters[id] ?? (() => true));
    const factor = (name: string): Factor => factorOf(rows, name);
    const yields = num(rows, plan.y);
    const treatments = (plan.factors ?? anovaStrata[id].treatments).map(factor);
    const blocks = plan.kind === "rcbd" ? plan.block.map(factor) : [];
    const table = analyseStrata({
      ...{ yield: yields, treatments, blocks },
      units: plan.kind === "rcbd" ? [] : anovaStrata[id].units.map(factor),
      ...(plan.max_order === undefined ? {} : { maxOrder: plan.max_order }),
    });
    const got = table.strata.flatMap((stratum) => stratum.rows);
    const want = reference.anova_sequential_blocks_first ?? (reference.strata ?? []).flatMap((s) => s.rows);
    want.forEach((row, i) => {
      add(id, "sums of squares", got[i].ss, row.ss);
      if (row.f === null || row.p === null || row.source === "BLK") return;
      add(id, "F", got[i].f, row.f);
      add(id, "p", got[i].p, row.p);
    });
    for (const { x, means, n, ms_error, df_error, contrasts } of Object.values(reference.polynomial ?? {})) {
      const ours = polynomialContrasts(x, means, n, ms_error, df_error);
      contrasts.forEach((contrast, i) => {
        // A contrast that is zero but for rounding has no digits to compare.
        if (contrast.ss > 1e-12 * ms_error) add(id, "polynomial contrasts", ours[i].ss, contrast.ss);
      });
    }
    const cells = reference.adjusted_means ? cellMeans(yields, treatments, blocks) : null;
    for (const { level, adjusted_mean } of reference.adjusted_means ?? []) {
      add(id, "adjusted means", cells?.means[cells.cells.indexOf(level)], adjusted_mean);
    }
    if (!reference.type2) continue;
    const types = typeTwo(yields, treatments, blocks, plan.max_order ?? treatments.length);
    reference.type2.forEach((row, i) => void add(id, "type II sums of squares", types[i].ss, row.ss));
  }
  return scores();
}

function factorOf(rows: readonly Row[], name: string): Factor {
  return { name, labels: crossLabels(name.split(":").map((part) => ({ name: part, labels: text(rows, part) }))) };
}
