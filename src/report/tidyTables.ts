import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { checkShape } from "../core/checkShape.ts";
import type { TidyRow } from "./csvText.ts";
import { estimateRows } from "./estimateRows.ts";
import {
  adjustedPairRows,
  environmentColumns,
  environmentRows,
  testRows,
  togetherColumns,
  togetherRows,
} from "./mixedRows.ts";
import { plantColumns, plantRows } from "./plantRows.ts";
import { standabilityColumns, standabilityRows } from "./standabilityRows.ts";

/** The result as flat tables: one kind of thing a table, one thing a row, the same columns in all rows. */
export interface TidyTables {
  /**
   * A row for each estimate: hybrid, environment (empty: all together), quantity, unit, estimate, lower, upper, lower_open,
   * upper_open, level, method, kind, family, note. One quantity has several rows when several methods give it.
   */
  readonly estimates: readonly TidyRow[];
  /**
   * A row for each estimate about standing plants: limits by kind and round of counting, lodged share of every tested density
   * with the chance that it exceeds the tolerated one, harvestable optima, traits and ratings.
   */
  readonly standability: readonly TidyRow[];
  /** A row for each slope on density of an ear component or a plant trait, with that of yield beside a trait. */
  readonly crowding: readonly TidyRow[];
  /** A row for each curve family fitted: its place in the ranking, scatter, lack of fit and optimum. */
  readonly curves: readonly TidyRow[];
  /** A row for each coefficient of each fitted curve. */
  readonly coefficients: readonly TidyRow[];
  /**
   * A row for each pair of hybrids compared, by flex score and by agronomic optimum; those of method "mixed-model" carry a p-value
   * by itself and one among all pairs.
   */
  readonly comparisons: readonly TidyRow[];
  /** Hybrids over environments: the average field, a new one, classes of yield level, the yield goal; or why not. */
  readonly environments: readonly TidyRow[];
  /** Hybrids in one model: compared, drawn towards each other, stability, place in the field; or why not. */
  readonly together: readonly TidyRow[];
  /** A row for each test of density, hybrids, environments and what they have together. */
  readonly tests: readonly TidyRow[];
  /** A row for each plot left out. */
  readonly excluded: readonly TidyRow[];
  /** A row for each problem found in the file. */
  readonly issues: readonly TidyRow[];
}

/** Headers of the tables, for those without rows. */
export const tidyColumns: { readonly [T in keyof TidyTables]: readonly string[] } = {
  estimates: words(
    "hybrid environment quantity unit estimate lower upper lower_open upper_open level method kind family note",
  ),
  standability: standabilityColumns,
  crowding: plantColumns,
  curves: words(
    "hybrid environment family chosen status limit plots dof dof_residual rss sigma aicc aicc_above_best weight lack_of_fit_f lack_of_fit_p optimum_kind optimum_density note",
  ),
  coefficients: words("hybrid environment family chosen coefficient estimate standard_error"),
  comparisons: words(
    "first second quantity difference lower upper lower_open upper_open level method probability p adjusted_p",
  ),
  environments: environmentColumns,
  together: togetherColumns,
  tests: words("effect method f df1 df2 p against"),
  excluded: words("row plot reason"),
  issues: words("severity code row column received rule remedy count"),
};

/**
 * The result as tables for a spreadsheet, a notebook or `csvText`. Nothing is computed; nothing missing is a number.
 *
 * @example
 * const { trial } = readTrial("hybrid,block,stand_k_ac,yield_bu_ac\nA,1,20,170\nA,1,30,200\nA,2,20,175\nA,2,30,198\n");
 * tidyTables(analyzeTrial(trial)).estimates.length > 0; // => true
 */
export function tidyTables(analysis: TrialAnalysis): TidyTables {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  const curves = analysis.hybrids
    .flatMap(({ pooled, environments }) => [pooled, ...environments])
    .flatMap((one) => (one.kind === "analysed" ? [one] : []));
  return {
    estimates: estimateRows(analysis),
    standability: standabilityRows(analysis),
    crowding: plantRows(analysis),
    curves: curves.flatMap(familyRows),
    coefficients: curves.flatMap(coefficientRows),
    comparisons: [...comparisonRows(analysis), ...adjustedPairRows(analysis)],
    environments: environmentRows(analysis),
    together: togetherRows(analysis),
    tests: testRows(analysis),
    excluded: analysis.trial.excluded.map(({ row, plot, reason }) => ({ row, plot, reason })),
    issues: analysis.issues.map(({ severity, code, row, column, received, rule, remedy, count }) => ({
      severity,
      code,
      row,
      column,
      received,
      rule,
      remedy,
      count: count ?? null,
    })),
  };
}

function comparisonRows({ comparison }: TrialAnalysis): TidyRow[] {
  const scores = comparison.differences.map(({ first, second, difference, interval, probability }) => ({
    first,
    second,
    quantity: "flex_score",
    difference,
    lower: interval.lower,
    upper: interval.upper,
    lower_open: interval.lowerOpen,
    upper_open: interval.upperOpen,
    level: interval.level,
    method: interval.method,
    probability,
    p: null,
    adjusted_p: null,
  }));
  const optima = comparison.optimumDifferences.map(({ first, second, difference, probability }) => ({
    first,
    second,
    quantity: "agronomic_density",
    difference,
    lower: null,
    upper: null,
    lower_open: null,
    upper_open: null,
    level: null,
    method: null,
    probability,
    p: null,
    adjusted_p: null,
  }));
  return [...scores, ...optima];
}

function familyRows({ hybrid, environment, chosen, comparison }: CurveAnalysis): TidyRow[] {
  return comparison.fits.map((fit, i) => {
    const rank = comparison.ranking[i];
    const tested = rank?.lackOfFit.kind === "tested" ? rank.lackOfFit : null;
    return {
      hybrid,
      environment,
      family: fit.family,
      chosen: fit.family === chosen,
      status: fit.status,
      limit: fit.limit,
      plots: fit.nobs,
      dof: fit.dof,
      dof_residual: fit.dofResidual,
      rss: fit.rss,
      sigma: fit.sigma,
      aicc: fit.aicc,
      aicc_above_best: rank?.delta ?? null,
      weight: rank?.weight ?? null,
      lack_of_fit_f: tested?.f ?? null,
      lack_of_fit_p: tested?.p ?? null,
      optimum_kind: rank?.optimum?.kind ?? null,
      optimum_density: rank?.optimum?.density ?? null,
      note: fit.reason,
    };
  });
}

function coefficientRows({ hybrid, environment, chosen, comparison }: CurveAnalysis): TidyRow[] {
  return comparison.fits.flatMap((fit) =>
    Object.entries(fit.coefficients).map(([coefficient, estimate]) => ({
      hybrid,
      environment,
      family: fit.family,
      chosen: fit.family === chosen,
      coefficient,
      estimate,
      standard_error: fit.standardErrors[coefficient] ?? null,
    })),
  );
}

function words(text: string): readonly string[] {
  return text.split(" ");
}
