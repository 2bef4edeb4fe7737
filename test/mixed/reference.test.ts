import { describe, expect, test } from "vitest";
import { cellMeans, typeTwo } from "../../src/mixed/adjustedMeans.ts";
import { analyseStrata, crossLabels } from "../../src/mixed/analyseStrata.ts";
import { polynomialContrasts } from "../../src/mixed/orthogonalPolynomial.ts";
import { remlFit } from "../../src/mixed/remlFit.ts";
import { varianceTable } from "../../src/mixed/varianceTable.ts";
import { assertDigits } from "../assertDigits.ts";
import {
  type AnovaPlan,
  type AnovaReference,
  anovaFilters,
  anovaPlans,
  anovaReferences,
  anovaStrata,
} from "./anovaReferences.ts";
import { num, text } from "./referenceColumns.ts";
import { remlReferences, remlSpecs } from "./remlReferences.ts";
import { hasShared, type Row, referenceRows } from "./sharedData.ts";

// Answers by R (lme4 polished, AI-REML, aov): those on data that may be copied stand in test/oracle/mixed, the others are read
// beside the repository.

describe("remlFit matches every mixed-model reference set", () => {
  const references = remlReferences();
  test.skipIf(!hasShared)("all 18 sets are covered", () => {
    expect(references.map(({ id }) => id).sort()).toEqual(Object.keys(remlSpecs).sort());
  });
  test.each(references.map((reference) => [reference.id, reference] as const))("%s", (id, reference) => {
    const spec = remlSpecs[id];
    const rows = referenceRows(reference.csv, spec.y).filter(spec.keep ?? (() => true));
    expect(rows.length).toBe(reference.n);
    const fit = remlFit({ y: num(rows, spec.y), x: spec.x(rows), random: spec.random(rows) });
    assertDigits(fit.logLikelihood, reference.reml.loglik, 11, "log-likelihood");
    expect(fit.status).toBe(reference.reml.singular ? "singular" : "converged");
    const { components, fixed } = reference.variance_components_ai_reml;
    const own = (name: string): number | undefined =>
      fit.varianceComponents.find((c) => c.term === name && c.withColumn === null)?.value;
    for (const { group: name, value } of components ?? []) {
      if (value === 0) expect(own(name)).toBe(0);
      else assertDigits(own(name === "Residual" ? "residual" : name), value, 9, name);
    }
    // lme4 itself stops at about 8 digits where the optimum is a correlation of one (no AI-REML answer there).
    const digits = components === undefined || components.length === 0 ? 7 : 9;
    if (digits === 7) {
      for (const { group: name, term1, term2, variance_or_covariance: value } of reference.reml.variance_components) {
        const column = term1 === "x" ? "z" : "intercept";
        const found = fit.varianceComponents.find(
          (c) =>
            c.term === (name === "Residual" ? "residual" : name) &&
            c.column === column &&
            c.withColumn === (term2 === null ? null : "z"),
        );
        assertDigits(found?.value, value, 6, `${name} ${term1} ${term2}`);
      }
    }
    const want = fixed !== undefined && fixed.length > 0 ? fixed : reference.reml.fixed;
    want.forEach(({ est, se }, j) => {
      assertDigits(fit.coefficients[j], est, digits, reference.reml.fixed[j].name);
      assertDigits(fit.standardErrors[j], se, digits, `SE ${reference.reml.fixed[j].name}`);
    });
  });
});
describe("analyses of variance match every reference set", () => {
  const references = anovaReferences();
  const plans = anovaPlans();
  const prepare = (
    reference: AnovaReference,
  ): { rows: Row[]; plan: AnovaPlan; factor: (name: string) => { name: string; labels: string[] } } => {
    const plan = plans.get(reference.id) as AnovaPlan;
    const rows = referenceRows(reference.csv, plan.y).filter(anovaFilters[reference.id] ?? (() => true));
    const factor = (name: string): { name: string; labels: string[] } => ({
      name,
      labels: crossLabels(name.split(":").map((part) => ({ name: part, labels: text(rows, part) }))),
    });
    return { rows, plan, factor };
  };

  test.each(references.filter((r) => r.tests === undefined).map((r) => [r.id, r] as const))(
    "%s: strata, type II, adjusted means, polynomials",
    (id, reference) => {
      const { rows, plan, factor } = prepare(reference);
      expect(rows.length).toBe(reference.n);
      const yields = num(rows, plan.y);
      const treatments = (plan.factors ?? anovaStrata[id].treatments).map(factor);
      const blocks = plan.kind === "rcbd" ? plan.block.map(factor) : [];
      const order = plan.max_order === undefined ? {} : { maxOrder: plan.max_order };
      const table = analyseStrata({
        yield: yields,
        treatments,
        blocks,
        units: plan.kind === "rcbd" ? [] : anovaStrata[id].units.map(factor),
        ...order,
      });
      const got = table.strata.flatMap((stratum) => stratum.rows);
      const want =
        reference.anova_sequential_blocks_first ?? (reference.strata ?? []).flatMap((stratum) => stratum.rows);
      expect(got.length).toBe(want.length);
      want.forEach((row, i) => {
        expect(got[i].df).toBe(row.df);
        assertDigits(got[i].ss, row.ss, 9, `${row.source} SS`);
        if (row.f === null || row.source === "BLK") return;
        assertDigits(got[i].f, row.f, 9, `${row.source} F`);
        assertDigits(got[i].p, row.p as number, 8, `${row.source} p`);
      });
      const types = !reference.type2 ? [] : typeTwo(yields, treatments, blocks, plan.max_order ?? treatments.length);
      reference.type2?.forEach((row, i) => {
        expect(types[i].df).toBe(row.df);
        assertDigits(types[i].ss, row.ss, 9, `type II ${row.source}`);
      });
      if (reference.adjusted_means !== undefined) {
        const cells = cellMeans(yields, treatments, blocks);
        const ms = got[got.length - 1].ms;
        for (const { level, adjusted_mean, se } of reference.adjusted_means) {
          const at = cells?.cells.indexOf(level) ?? -1;
          assertDigits(cells?.means[at], adjusted_mean, 9, level);
          assertDigits(
            Math.sqrt(ms * (cells?.unscaled[at * ((cells?.cells.length ?? 0) + 1)] ?? 0)),
            se,
            9,
            `SE ${level}`,
          );
        }
      }
      for (const { x, means, n, ms_error, df_error, contrasts: expected } of Object.values(
        reference.polynomial ?? {},
      )) {
        const rowsOut = polynomialContrasts(x, means, n, ms_error, df_error);
        expected.forEach((contrast, i) => {
          // A contrast that is zero but for rounding has no digits to compare.
          if (contrast.ss > 1e-12 * ms_error) assertDigits(rowsOut[i].ss, contrast.ss, 7, contrast.contrast); // lm's own cancellation costs a few digits
          contrast.coefficients?.forEach((c, l) => {
            expect(Math.abs((rowsOut[i].coefficients?.[l] ?? Number.NaN) - c)).toBeLessThan(1e-9);
          });
        });
      }
    },
  );

  test.each(references.filter((r) => r.tests !== undefined).map((r) => [r.id, r] as const))(
    "%s: environments as the sample",
    (id, reference) => {
      const rice = id === "rice_wetdry";
      const y = "yield_t_ha";
      const rows = referenceRows(reference.csv, y).filter(
        (row) => rice || ["S01", "S02", "S04", "S05"].includes(row["site"]),
      );
      const table = varianceTable({
        yield: num(rows, y),
        // The reference pools variety x density into one treatment: number its combinations.
        density: rice
          ? num(rows, "nitrogen_kg_ha")
          : text(rows, "variety", "plants_per_m2").map((label, _, all) => all.indexOf(label)),
        environment: text(rows, rice ? "season" : "site"),
        block: text(rows, "rep"),
      });
      const own = table.tests.find(({ source }) => source === "density");
      const type2 = reference.type2;
      if (!type2?.length) {
        assertDigits(own?.f, reference.tests?.["treatment_over_interaction"].f as number, 9);
        assertDigits(own?.p, reference.tests?.["treatment_over_interaction"].p as number, 8);
        assertDigits(table.tests[0].f, reference.tests?.["environment_over_blocks"].f as number, 9);
      } else {
        assertDigits(own?.f, type2[0].ss / type2[0].df / (type2[1].ss / type2[1].df), 9);
        assertDigits(table.tests.find(({ source }) => source === "environment x density")?.f, type2[1].f as number, 9);
      }
      assertDigits(table.bartlett?.chiSquare, reference.bartlett_of_error_variances?.chisq as number, 9);
      assertDigits(table.bartlett?.p, reference.bartlett_of_error_variances?.p as number, 9);
    },
  );

  test("oats: means, LSD, HSD and the four split-plot errors (domain check 24)", () => {
    const reference = references.find(({ id }) => id === "oats") as AnovaReference;
    const rows = referenceRows(reference.csv, "yield_qlb");
    const table = varianceTable({
      yield: num(rows, "yield_qlb"),
      density: num(rows, "nitrogen_cwt_ac"),
      hybrid: text(rows, "variety"),
      block: text(rows, "block"),
      row: num(rows, "row"),
      column: num(rows, "col"),
    });
    expect(table.design).toBe("split-plot");
    expect(table.wholePlot).toBe("hybrid");
    const sed = reference.split_plot_sed as Record<string, number>;
    assertDigits(table.splitPlot?.wholePlotMeans, sed["whole_plot_means"], 9);
    assertDigits(table.splitPlot?.subPlotMeans, sed["sub_plot_means"], 9);
    assertDigits(table.splitPlot?.subWithinWhole, sed["sub_within_whole"], 9);
    assertDigits(table.splitPlot?.wholeWithinOrAcrossSub, sed["whole_within_or_across_sub"], 9);
    assertDigits(table.splitPlot?.satterthwaiteDof, sed["satterthwaite_df"], 9);
    assertDigits(table.cvPercent.mainPlots, sed["cv_whole_percent"], 9);
    assertDigits(table.cvPercent.plots, sed["cv_sub_percent"], 9);
    for (const { factor, levels, mean, se_mean, sed: difference, lsd05, tukey_hsd05 } of reference.means ?? []) {
      const own = table.means.find((means) => means.factor === (factor === "variety" ? "hybrid" : "density"));
      levels.forEach((level, l) => {
        const at = own?.levels.indexOf(level) ?? -1;
        assertDigits(own?.means[at], mean[l], 10);
        assertDigits(own?.standardErrors[at], se_mean[l], 9);
      });
      assertDigits(own?.sed, difference as number, 9);
      assertDigits(own?.lsd, lsd05 as number, 9);
      assertDigits(own?.hsd, tukey_hsd05 as number, 8);
    }
  });

  test.skipIf(!hasShared)("rice: domain check 23 (Gomez & Gomez 1984, p. 26)", () => {
    const rows = referenceRows("rice_seedrate_rcbd_gomez.csv", "yield_kg_ha");
    const table = varianceTable({
      yield: num(rows, "yield_kg_ha"),
      density: num(rows, "seed_rate_kg_ha"),
      block: text(rows, "block"),
    });
    expect(table.design).toBe("randomised-complete-block");
    assertDigits(table.tests[0].f, 2.167779, 6);
    assertDigits(table.tests[0].p, 0.112809, 5); // printed to six decimals
    assertDigits(table.cvPercent.plots, 6.70426, 6);
    assertDigits(table.polynomial?.[0].f, 6.87451, 6);
    assertDigits(table.means[0].lsd, 501.136405, 8);
    assertDigits(table.means[0].hsd, 763.8821319226892, 8);
  });
});
