import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Trial } from "../trial/trial.ts";
import { cellMeans } from "./adjustedMeans.ts";
import { analyseStrata, crossLabels, type Factor, type Stratum, type VarianceRow } from "./analyseStrata.ts";
import { balancedStrata } from "./balancedStrata.ts";
import { type BartlettTest, bartlettTest } from "./bartlettTest.ts";
import { type EffectTest, effectTests, findRow, residualOf } from "./effectTests.ts";
import type { MeanTable } from "./meanTable.ts";
import { type PolynomialContrast, polynomialContrasts } from "./orthogonalPolynomial.ts";
import { type Layout, recogniseLayout, type WholePlotFactor } from "./recogniseLayout.ts";
import { type SplitPlotErrors, splitErrors } from "./splitPlotErrors.ts";
import { splitPlotUnbalanced } from "./splitPlotUnbalanced.ts";
import { cellTable, marginalMeans, marginalTable } from "./treatmentMeans.ts";
import { type VarianceData, type VariancePlots, variancePlots } from "./varianceData.ts";

export interface VarianceOptions {
  /** Factor on the main plots; default: recognised from the layout. "none" forbids a split plot. */
  readonly wholePlot?: WholePlotFactor | "none";
  /** Confidence level of LSD and HSD, 0 < level < 1; default 0.95. */
  readonly level?: number;
  /** Tables of means with their comparisons; default true. Without them a large trial costs far less. */
  readonly means?: boolean;
  /** Largest plots x columns^2 of an unbalanced table, a measure of its cost; default 2e9. */
  readonly largest?: number;
}

/** What `VarianceOptions` must look like. */
export const varianceOptionsShape: { readonly [property: string]: Shape } = {
  wholePlot: "any?",
  level: "number?",
  means: "flag?",
  largest: "number?",
};

export type VarianceDesign = "completely-randomised" | "randomised-complete-block" | "split-plot";

/** Analysis of variance of a density trial, as plain data. */
export interface VarianceTable {
  readonly schema: "standcurve/variance-table/1";
  readonly design: VarianceDesign;
  /** How the design was recognised, in words. */
  readonly evidence: string;
  readonly wholePlot: WholePlotFactor | null;
  readonly environments: number;
  readonly nobs: number;
  /** Plots that the full crossing of blocks and treatments would have and the data lack. */
  readonly missingPlots: number;
  readonly balanced: boolean;
  /** Sums of squares by unit size, each treatment tested against the residual of its stratum. */
  readonly strata: readonly Stratum[];
  /**
   * The tests to read: in one environment those of `strata`; over environments each effect against its interaction with
   * environments; with missing plots, those that allow for them.
   */
  readonly tests: readonly EffectTest[];
  readonly grandMean: number;
  /** 100 x residual standard deviation / grand mean, of the main plots and of the plots. */
  readonly cvPercent: { readonly mainPlots: number | null; readonly plots: number | null };
  /** Orthogonal polynomials over the density means; null with fewer than 3 densities. */
  readonly polynomial: readonly PolynomialContrast[] | null;
  readonly means: readonly MeanTable[];
  /** Split-plot errors of differences; null for other designs or with missing plots. */
  readonly splitPlot: SplitPlotErrors | null;
  /** Equality of error variances over environments (Bartlett); null with one environment. */
  readonly bartlett: BartlettTest | null;
  readonly notes: readonly string[];
}

/**
 * Analysis of variance with the error terms the layout calls for.
 *
 * One treatment factor, or two randomised together: blocks, treatments, residual. Hybrids (or densities) on main plots:
 * a stratum of main plots that tests that factor, and a stratum of plots for the other and the interaction. Several
 * environments: each effect is tested against its interaction with environments, because environments are the sample
 * from which growers will draw the next one. Density means are split into orthogonal polynomials for their own spacing.
 * Missing plots: blocks first, each effect given the others (type II), adjusted means; a split plot with missing plots
 * goes through REML with Kenward-Roger degrees of freedom.
 *
 * @param data - a trial, or parallel arrays
 * @throws AnalysisError `length-mismatch`, `invalid-data`, `invalid-option`, `not-estimable`
 * @throws AnalysisError `not-offered` when the table would be too large (use `fitMixedResponse`)
 * @example
 * const table = varianceTable({
 *   yield: [50, 55, 57, 52, 58, 60, 47, 54, 56],
 *   density: [25, 50, 75, 25, 50, 75, 25, 50, 75],
 *   block: [1, 1, 1, 2, 2, 2, 3, 3, 3],
 * });
 * table.strata[1].rows[0].df; // => 2
 *
 * Source: Gomez & Gomez (1984), Statistical Procedures for Agricultural Research, chapters 2, 3, 8; Nelder (1965).
 */
export function varianceTable(data: VarianceData | Trial, options: VarianceOptions = {}): VarianceTable {
  checkShape(data, "data", "object");
  checkShape(options, "options", varianceOptionsShape, "invalid-option");
  const { level = 0.95, means: wanted = true, largest = 2e9 } = options;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(largest > 0, "invalid-option", `largest must be > 0, got ${largest}`);
  const plots = variancePlots(data);
  const environments = new Set(plots.environment).size;
  const hybrids = new Set(plots.hybrid).size;
  const densities = new Set(plots.density).size;
  check(hybrids > 1 || densities > 1, "not-estimable", "there is one treatment only: nothing to compare");

  const layout = chooseLayout(plots, options);
  const { wholePlot } = layout;
  const blocked = new Set(plots.block).size > environments;
  check(
    wholePlot === null || blocked,
    "not-estimable",
    "a split plot needs at least two blocks: its main plots are not replicated",
  );
  const treatments: Factor[] = [];
  const hybrid: Factor = { name: "hybrid", labels: plots.hybrid };
  const density: Factor = { name: "density", labels: plots.density };
  if (hybrids > 1) treatments.push(hybrid);
  if (densities > 1) treatments.push(density);
  const environment: Factor = { name: "environment", labels: plots.environment };
  const block: Factor = { name: environments > 1 ? "block in environment" : "block", labels: plots.block };
  const mainFactor = wholePlot === "hybrid" ? hybrid : density;
  const mainPlot: Factor = { name: "main plot", labels: crossLabels([block, mainFactor]) };

  const cells = new Set(crossLabels([block, ...treatments])).size;
  const full = new Set(plots.block).size * new Set(crossLabels(treatments)).size;
  const counts = new Map<string, number>();
  for (const label of crossLabels([block, ...treatments])) counts.set(label, (counts.get(label) ?? 0) + 1);
  const balanced = cells === full && new Set(counts.values()).size === 1;

  const several = environments > 1;
  const columns = (full / new Set(plots.block).size) * (several ? environments : 1) + new Set(plots.block).size;
  // Beyond this the projections are too many; sums of cells do in the balanced case.
  const large = plots.yield.length > 6000 || plots.yield.length * columns * columns > largest;
  check(
    !large || (balanced && wholePlot === null),
    "not-offered",
    `${plots.yield.length} plots with ${Math.round(columns)} treatment and block means are too many for an unbalanced table; use fitMixedResponse or compareHybrids`,
  );
  const within: Factor[] = several ? [environment, ...treatments] : treatments;
  const nuisance = several ? [environment, ...(blocked ? [block] : [])] : blocked ? [block] : [];
  const { strata, spread } = large
    ? { strata: balancedStrata(plots.yield, within, nuisance), spread: [] }
    : analyseStrata({
        yield: plots.yield,
        treatments: within,
        ...(wholePlot !== null
          ? { units: several ? [environment, block, mainPlot] : [block, mainPlot] }
          : { units: [], blocks: nuisance }),
      });
  const notes: string[] = [];
  if (plots.withoutYield > 0) notes.push(`${plots.withoutYield} plots without a yield were left out`);
  const grandMean = plots.yield.reduce((sum, y) => sum + y, 0) / plots.yield.length;
  const plotResidual = residualOf(strata, "plots");
  const mainResidual = wholePlot === null ? null : residualOf(strata, "main plot");
  const base = {
    schema: "standcurve/variance-table/1" as const,
    design:
      wholePlot !== null
        ? ("split-plot" as const)
        : blocked
          ? ("randomised-complete-block" as const)
          : ("completely-randomised" as const),
    evidence: layout.evidence,
    wholePlot,
    environments,
    nobs: plots.yield.length,
    missingPlots: Math.max(0, full - cells),
    balanced,
    grandMean,
    cvPercent: { mainPlots: cv(mainResidual, grandMean), plots: cv(plotResidual, grandMean) },
    bartlett: several ? bartlettTest(plots, treatments) : null,
  };

  if (wholePlot !== null && !balanced) {
    notes.push(
      "plots are missing: the tests and means come from a mixed model (REML, Kenward-Roger); the strata are only a guide",
    );
    if (spread.length > 0) notes.push(`sums of squares of ${spread.join(", ")} are spread over strata`);
    const mixed = splitPlotUnbalanced(plots, treatments, block, mainPlot, several ? environment : null, level);
    return { ...base, strata, ...mixed, splitPlot: null, notes };
  }

  const tests = effectTests(strata, treatments, several, balanced, plots, block, environment, blocked, notes);
  const errorOf = (source: string): { ms: number; df: number } | null => {
    const row = several ? findRow(strata, `environment x ${source}`) : null;
    if (row !== null && row.df > 0) return { ms: row.ms, df: row.df };
    const own = strata.find((stratum) => stratum.rows.some((line) => line.source === source));
    const residual = own === undefined ? null : residualOf(strata, own.name);
    return residual === null ? null : { ms: residual.ms, df: residual.df };
  };
  const estimated = cellMeans(
    plots.yield,
    treatments,
    wholePlot !== null || !blocked ? (several ? [environment] : []) : [block],
  );
  if (estimated === null) notes.push("blocks and treatments are confounded: means cannot be compared");
  const splitPlot =
    wholePlot === null || several ? null : splitErrors(strata, plots, wholePlot, mainResidual, plotResidual);
  const means: MeanTable[] = [];
  let polynomial: PolynomialContrast[] | null = null;
  if (estimated !== null) {
    for (const factor of treatments) {
      const error = errorOf(factor.name);
      if (error === null || (!wanted && factor.name !== "density")) continue;
      const table = marginalMeans(estimated, treatments, factor);
      if (wanted) means.push(marginalTable(estimated, table, factor, error, level));
      if (factor.name === "density" && densities >= 3 && table.means.every((m) => m !== null)) {
        polynomial = polynomialContrasts(
          table.levels.map(Number),
          table.means as number[],
          table.replication,
          error.ms,
          error.df,
        );
        if (!balanced) notes.push("polynomial contrasts are of the adjusted means, weighted by plots");
      }
    }
    if (treatments.length > 1 && wanted) {
      const table = cellTable(plots, estimated, treatments, errorOf("hybrid x density"), splitPlot, wholePlot, level);
      if (table !== null) means.push(table);
    }
  }
  if (plotResidual === null) notes.push("no degrees of freedom are left for the error: nothing can be tested");
  return { ...base, strata, tests, polynomial, means, splitPlot, notes };
}

function chooseLayout(plots: VariancePlots, { wholePlot }: VarianceOptions): Layout {
  if (wholePlot === "none") return { wholePlot: null, evidence: "the caller says that there are no main plots" };
  if (wholePlot !== undefined) {
    check(
      wholePlot === "hybrid" || wholePlot === "density",
      "invalid-option",
      `wholePlot must be "hybrid", "density" or "none", got "${wholePlot}"`,
    );
    return { wholePlot, evidence: `the caller says that each ${wholePlot} lies on its own main plot` };
  }
  return recogniseLayout({ ...plots, density: plots.density.map(String) });
}

function cv(residual: VarianceRow | null, mean: number): number | null {
  return residual === null || mean === 0 ? null : (100 * Math.sqrt(residual.ms)) / Math.abs(mean);
}
