import { describe, expect, test } from "vitest";
import { cellMeans, typeTwo } from "../../src/mixed/adjustedMeans.ts";
import { analyseStrata, crossLabels } from "../../src/mixed/analyseStrata.ts";
import { polynomialContrasts } from "../../src/mixed/orthogonalPolynomial.ts";
import type { RandomTerm } from "../../src/mixed/randomTerm.ts";
import { remlFit } from "../../src/mixed/remlFit.ts";
import { varianceTable } from "../../src/mixed/varianceTable.ts";
import { assertDigits } from "../assertDigits.ts";
import { contrasts, hasShared, type Row, sharedJson, sharedRows, times } from "./sharedData.ts";

// The wider reference sets (answers by R: lme4 polished, AI-REML, aov), beside the repository.

interface MixedReference {
  readonly id: string;
  readonly csv: string;
  readonly n: number;
  readonly reml: {
    readonly loglik: number;
    readonly singular: boolean;
    readonly fixed: { name: string; est: number; se: number }[];
    readonly variance_components: {
      group: string;
      term1: string | null;
      term2: string | null;
      variance_or_covariance: number;
    }[];
  };
  readonly variance_components_ai_reml: {
    readonly components?: { group: string; value: number }[];
    readonly fixed?: { est: number; se: number }[];
  };
}
interface Spec {
  readonly y: string;
  readonly keep?: (row: Row) => boolean;
  readonly x: (rows: Row[]) => number[][];
  readonly random: (rows: Row[]) => RandomTerm[];
}

const num = (rows: Row[], name: string, divide = 1): number[] => rows.map((row) => Number(row[name]) / divide);
const text = (rows: Row[], ...names: string[]): string[] => rows.map((row) => names.map((name) => row[name]).join(":"));
const one = (rows: Row[]): number[] => rows.map(() => 1);
const quadratic = (x: number[]): number[][] => [x, times(x, x)];
const group = (rows: Row[], ...names: string[]): RandomTerm => ({ name: names.join(":"), group: text(rows, ...names) });
const byBlock = (y: string, column: string, divide: number): Spec => ({
  y,
  x: (r) => [one(r), ...quadratic(num(r, column, divide))],
  random: (r) => [group(r, "block")],
});
const factorial = (rows: Row[], a: string, b: string): number[][] => {
  const ca = contrasts(text(rows, a));
  const cb = contrasts(text(rows, b));
  return [one(rows), ...ca, ...cb, ...cb.flatMap((q) => ca.map((p) => times(p, q)))];
};

const specs: Record<string, Spec> = {
  rice_seedrate_quadratic: byBlock("yield_kg_ha", "seed_rate_kg_ha", 100),
  barley_monoculture_zero_block_variance: {
    ...byBlock("barley_dry_g", "barley_seeds", 100),
    keep: (row) => row["mustard_seeds"] === "0" && Number(row["barley_seeds"]) > 0,
  },
  turnip_log_density: {
    y: "log_yield",
    x: (r) => [one(r), ...quadratic(num(r, "seed_rate_lb_ac").map(Math.log))],
    random: (r) => [group(r, "block")],
  },
  oats_quadratic: {
    y: "yield_qlb",
    x: (r) => [one(r), ...contrasts(text(r, "variety")), ...quadratic(num(r, "nitrogen_cwt_ac"))],
    random: (r) => [group(r, "block"), group(r, "block", "variety")],
  },
  oats_factor: {
    y: "yield_qlb",
    x: (r) => factorial(r, "variety", "nitrogen_cwt_ac"),
    random: (r) => [group(r, "block"), group(r, "block", "variety")],
  },
  stroup: {
    y: "response",
    x: (r) => factorial(r, "whole_plot_trt", "sub_plot_trt"),
    random: (r) => [group(r, "rep"), group(r, "rep", "whole_plot_trt")],
  },
  rice_splitsplit: {
    y: "yield_t_ha",
    x: (r) => [
      one(r),
      ...quadratic(num(r, "nitrogen_kg_ha", 100)),
      ...contrasts(text(r, "management")),
      ...contrasts(text(r, "variety")),
    ],
    random: (r) => [
      group(r, "rep"),
      { ...group(r, "rep", "nitrogen_kg_ha"), name: "rep:nf" },
      { ...group(r, "rep", "nitrogen_kg_ha", "management"), name: "rep:nf:management" },
    ],
  },
  soybean_splitstrip_missing: {
    y: "yield_bu_ac",
    x: (r) => {
      const cultivar = contrasts(text(r, "cultivar"));
      const q = quadratic(num(r, "plants_k_per_acre", 100));
      return [
        one(r),
        ...cultivar,
        ...q,
        ...contrasts(text(r, "row_spacing_in")),
        ...q.flatMap((x) => cultivar.map((c) => times(c, x))),
      ];
    },
    random: (r) => [
      group(r, "block"),
      group(r, "block", "cultivar"),
      { ...group(r, "block", "cultivar", "row_spacing_in"), name: "block:cultivar:sp" },
      { ...group(r, "block", "cultivar", "plants_k_per_acre"), name: "block:cultivar:pf" },
    ],
  },
  lupin_1991_sites_random: {
    y: "yield_t_ha",
    x: (r) => [one(r), ...quadratic(num(r, "plants_per_m2", 10))],
    random: (r) => [group(r, "site"), group(r, "site", "rep")],
  },
  lupin_1991_crossed_variety: {
    y: "yield_t_ha",
    x: (r) => [one(r), ...quadratic(num(r, "plants_per_m2", 10))],
    random: (r) => [group(r, "site"), group(r, "site", "rep"), group(r, "variety"), group(r, "site", "variety")],
  },
  lupin_1991_random_slope: {
    y: "yield_t_ha",
    x: (r) => [one(r), ...quadratic(num(r, "plants_per_m2", 10).map((x) => x - 3.5))],
    random: (r) => [
      { ...group(r, "site"), columns: [one(r), num(r, "plants_per_m2", 10).map((x) => x - 3.5)] },
      group(r, "site", "rep"),
    ],
  },
  potato_missing_plots: {
    y: "infection",
    x: (r) => [one(r), ...contrasts(text(r, "treatment"))],
    random: (r) => [group(r, "block")],
  },
  barley_met_theobald: {
    y: "yield_t_ha",
    x: (r) => [one(r), ...contrasts(text(r, "variety")), ...quadratic(num(r, "nitrogen_kg_ha", 100))],
    random: (r) => [
      { ...group(r, "year", "location"), name: "env" },
      { ...group(r, "year", "location", "variety"), name: "env:variety" },
    ],
  },
  maize_strips_lasrosas: {
    y: "yield_q_ha",
    x: (r) => [one(r), ...contrasts(text(r, "topography")), ...quadratic(num(r, "nitrogen_kg_ha", 100))],
    random: (r) => [
      { ...group(r, "year"), name: "yr" },
      { ...group(r, "year", "rep"), name: "yr:rep" },
    ],
  },
  rice_wetdry: {
    y: "yield_t_ha",
    x: (r) => {
      const season = contrasts(text(r, "season"))[0];
      const q = quadratic(num(r, "nitrogen_kg_ha", 100));
      return [one(r), season, ...q, ...q.map((x) => times(x, season))];
    },
    random: (r) => [{ ...group(r, "season", "rep"), name: "sr" }],
  },
  sim01: byBlock("yield", "density", 10),
  sim02_flat: byBlock("yield", "density", 10),
  sim05_outlier: byBlock("yield", "density", 10),
};

describe.skipIf(!hasShared)("remlFit matches every mixed-model reference set", () => {
  const references = hasShared ? sharedJson<{ models: MixedReference[] }>("reference/mixed_share.json").models : [];
  test("all 18 sets are covered", () => {
    expect(references.map(({ id }) => id).sort()).toEqual(Object.keys(specs).sort());
  });
  test.each(references.map((reference) => [reference.id, reference] as const))("%s", (id, reference) => {
    const spec = specs[id];
    const rows = sharedRows(reference.csv, spec.y).filter(spec.keep ?? (() => true));
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

interface ReferenceRow {
  readonly source: string;
  readonly df: number;
  readonly ss: number;
  readonly f: number | null;
  readonly p: number | null;
}
interface ReferencePolynomial {
  readonly x: number[];
  readonly n: number[];
  readonly means: number[];
  readonly ms_error: number;
  readonly df_error: number;
  readonly contrasts: { contrast: string; coefficients?: number[]; ss: number; f: number; p: number }[];
}
interface AnovaReference {
  readonly id: string;
  readonly csv: string;
  readonly n: number;
  readonly anova_sequential_blocks_first?: ReferenceRow[];
  readonly strata?: { stratum: string; rows: ReferenceRow[] }[];
  readonly type2?: ReferenceRow[] | null;
  readonly adjusted_means?: { level: string; adjusted_mean: number; se: number }[];
  readonly polynomial?: Record<string, ReferencePolynomial>;
  readonly split_plot_sed?: Record<string, number>;
  readonly means?: {
    factor: string;
    levels: string[];
    mean: number[];
    se_mean: number[];
    sed?: number;
    lsd05?: number;
    tukey_hsd05?: number;
  }[];
  readonly tests?: Record<string, { f: number; df1: number; df2: number; p: number }>;
  readonly bartlett_of_error_variances?: { chisq: number; df: number; p: number };
}
interface Plan {
  readonly kind: "rcbd" | "strata" | "combined";
  readonly id: string;
  readonly y: string;
  readonly block: string[];
  readonly factors?: string[];
  readonly max_order?: number;
}

const filters: Record<string, (row: Row) => boolean> = {
  barley_monoculture: (row) => row["mustard_seeds"] === "0" && Number(row["barley_seeds"]) > 0,
  lupin_S01: (row) => row["site"] === "S01",
  lupin_S03_unbalanced: (row) => row["site"] === "S03",
  soybean_complete_cultivars: (row) => row["cultivar"] === "C01" || row["cultivar"] === "C02",
};
const strata: Record<string, { treatments: string[]; units: string[] }> = {
  oats: { treatments: ["variety", "nitrogen_cwt_ac"], units: ["block", "block:variety"] },
  stroup: { treatments: ["whole_plot_trt", "sub_plot_trt"], units: ["rep", "rep:whole_plot_trt"] },
  rice_splitsplit: {
    treatments: ["nitrogen_kg_ha", "management", "variety"],
    units: ["rep", "rep:nitrogen_kg_ha", "rep:nitrogen_kg_ha:management"],
  },
  soybean_complete_cultivars: {
    treatments: ["cultivar", "row_spacing_in", "plants_k_per_acre"],
    units: ["block", "block:cultivar", "block:cultivar:row_spacing_in", "block:cultivar:plants_k_per_acre"],
  },
  sugarbeet_splitblock: {
    treatments: ["nitrogen_lb_ac", "harvest_weeks"],
    units: ["row", "block", "row:block", "block:harvest_weeks"],
  },
};

describe.skipIf(!hasShared)("analyses of variance match every reference set", () => {
  const references = hasShared ? sharedJson<{ analyses: AnovaReference[] }>("reference/anova_share.json").analyses : [];
  const plans = new Map(
    (hasShared ? sharedJson<Plan[]>("scripts/plan_anova.json") : []).map((plan) => [plan.id, plan]),
  );
  const prepare = (
    reference: AnovaReference,
  ): { rows: Row[]; plan: Plan; factor: (name: string) => { name: string; labels: string[] } } => {
    const plan = plans.get(reference.id) as Plan;
    const rows = sharedRows(reference.csv, plan.y).filter(filters[reference.id] ?? (() => true));
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
      const treatments = (plan.factors ?? strata[id].treatments).map(factor);
      const blocks = plan.kind === "rcbd" ? plan.block.map(factor) : [];
      const order = plan.max_order === undefined ? {} : { maxOrder: plan.max_order };
      const table = analyseStrata({
        yield: yields,
        treatments,
        blocks,
        units: plan.kind === "rcbd" ? [] : strata[id].units.map(factor),
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
      const rows = sharedRows(reference.csv, y).filter(
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
    const rows = sharedRows(reference.csv, "yield_qlb");
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

  test("rice: domain check 23 (Gomez & Gomez 1984, p. 26)", () => {
    const rows = sharedRows("rice_seedrate_rcbd_gomez.csv", "yield_kg_ha");
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
