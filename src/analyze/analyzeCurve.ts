import { type Economics, priceRatio } from "../core/economics.ts";
import { isInner } from "../curves/family.ts";
import { flexScore } from "../derive/flexScore.ts";
import { agronomicOptimum, economicOptimum, type Optimum } from "../derive/optimum.ts";
import { quantityScalar } from "../derive/quantity.ts";
import { priceSensitivity } from "../derive/sensitivity.ts";
import { averageCurve, type CurveComparison, comparePrepared } from "../fit/compareCurves.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { type PreparedData, prepareData } from "../fit/fitData.ts";
import { fittedCurve } from "../fit/fittedCurve.ts";
import { type BootstrapOptions, type BootstrapResult, bootstrapPrepared } from "../interval/bootstrap.ts";
import type { BootstrapDistribution } from "../interval/limits.ts";
import { type Cutoff, type OptimumIntervalOptions, optimumIntervalPrepared } from "../interval/optimumInterval.ts";
import { scalarInterval } from "../interval/scalarInterval.ts";
import type { SimulationMemo } from "../interval/simulatedTrials.ts";
import { nitrogenOf } from "../recommend/nitrogenPlots.ts";
import type { Trial } from "../trial/trial.ts";
import { analyzeStandability, type YieldSide } from "./analyzeStandability.ts";
import { deriveSeed } from "./deriveSeed.ts";
import { curveData, establishmentOf, type Group } from "./groups.ts";
import { axesOf } from "./onAxes.ts";
import type { AnalyzeSettings } from "./options.ts";
import { inTrialUnits, plantsPerUnit } from "./prices.ts";
import type { CurveAnalysis, FlexInterval, FlexReport, NoAnalysis, OnAxes, OptimumReport } from "./result.ts";
import { scrutinise } from "./scrutinise.ts";

/** A curve's analysis with the replicates that comparisons between hybrids need (they do not go into the result). */
export interface CurveOutcome {
  readonly analysis: CurveAnalysis | NoAnalysis;
  readonly flexReplicates: readonly (number | null)[] | null;
  readonly optimumReplicates: readonly (number | null)[] | null;
}

/** Fits, chooses, locates the optima and puts intervals on them, for the plots of one group. */
export function analyzeCurve(
  trial: Trial,
  group: Group,
  settings: AnalyzeSettings,
  between: readonly [number, number] | null,
): CurveOutcome {
  const { hybrid, environment, plots, standing } = group;
  const seed = deriveSeed(settings.seed, hybrid, environment);
  const establishment = establishmentOf(plots.length > 0 ? plots : standing) ?? trial.establishment;
  const onStand = trial.densityAxis !== "seeding-rate";
  const axes = axesOf(establishment, onStand);
  const standability = (yieldSide: YieldSide | null): CurveAnalysis["standability"] =>
    analyzeStandability(trial, standing, settings, seed, axes, yieldSide, environment === null);
  const refuse = (reason: string): CurveOutcome => ({
    analysis: {
      kind: "not-estimable",
      hybrid,
      environment,
      plots: plots.length,
      reason,
      standability: standability(null),
    },
    flexReplicates: null,
    optimumReplicates: null,
  });
  if (plots.length === 0) return refuse("no plot has both a density and a yield");
  const data = prepareData(curveData(plots));
  const levels = data.design.levels.length;
  if (levels < 2) return refuse("only one density was grown, so there is no response to fit");

  const economics = settings.prices && inTrialUnits(settings.prices, trial, onStand ? (establishment ?? 1) : 1);
  const ratio = economics ? priceRatio(economics) : 0;
  const comparison = comparePrepared(data, { families: settings.families, priceRatio: 0 });
  const fit = comparison.fits.find((candidate) => candidate.family === comparison.best);
  if (fit === undefined) return refuse(`${plots.length} plots at ${levels} densities are too few to compare curves`);

  const inside =
    between !== null && between[0] >= data.design.levels[0] && between[1] <= data.design.levels[levels - 1];
  const boot = resample(data, comparison, settings, {
    seed,
    // Replicates themselves are needed only where hybrids are compared.
    keep: environment === null && trial.hybrids.length > 1,
    ...(economics ? { priceRatio: ratio } : {}),
    ...(inside ? { between } : {}),
  });
  const responding = comparison.fits.some(
    (one) => one.family !== "flat" && isInner(one.family) && one.status === "converged",
  );
  const context: Context = { data, comparison, settings, axes, responding, memo: new Map() };

  const agronomic = report(
    agronomicOptimum(fit, { nearBestShare: settings.nearBestShare, step: settings.missBy }),
    context,
    { target: "agronomic" },
    boot?.agronomic ?? null,
    comparison.averaged?.optimum ?? null,
  );
  const economic =
    economics &&
    report(
      economicOptimum(fit, { ...economics, nearBestLoss: settings.nearBestLoss, step: settings.missBy }),
      context,
      { target: "economic", priceRatio: ratio },
      boot?.economic ?? null,
      averageCurve(comparison.fits, comparison.ranking, ratio)?.optimum ?? null,
    );
  const { optimum, interval } = economic ?? agronomic;
  const analysis: CurveAnalysis = {
    kind: "analysed",
    hybrid,
    environment,
    plots: plots.length,
    environments: new Set(plots.map((plot) => plot.environment)).size,
    blocks: data.design.blocks,
    densities: [...data.design.levels],
    meanYield: mean(data.y),
    cvPercent: fit.sigma === null ? null : (100 * fit.sigma) / mean(data.y),
    establishment,
    comparison,
    chosen: fit.family,
    reason: explainChoice(comparison),
    agronomic,
    economic,
    flex: flexReport(
      fit,
      between,
      inside && responding ? flexInterval(data, settings, between, agronomic.interval.cutoff) : null,
      boot?.flexScore ?? null,
    ),
    marginal: marginal(fit, data, plantsPerUnit(trial)),
    sensitivity: economics ? sensitivity(fit, economics) : [],
    standability: standability({
      gross: { fit, economics },
      optimum: { target: economic ? "economic" : "agronomic", density: optimum.density, interval },
    }),
    nitrogen: nitrogenOf(plots).surface,
    scrutiny:
      settings.scrutiny && environment === null && fit.aicc !== null && fit.dofResidual > 0
        ? scrutinise(trial, plots, settings, {
            priceRatio: economics ? ratio : undefined,
            between: inside ? between : null,
            seed,
          })
        : null,
    seed,
  };
  return {
    analysis,
    flexReplicates: boot?.replicates?.flexScore ?? null,
    optimumReplicates: boot?.replicates?.agronomic ?? null,
  };
}

function resample(
  data: PreparedData,
  comparison: CurveComparison,
  { families, level, resamples }: AnalyzeSettings,
  options: Pick<BootstrapOptions, "seed" | "keep" | "priceRatio" | "between">,
): BootstrapResult | null {
  const inner = families.filter(isInner);
  const ranked = comparison.fits.filter((fit) => isInner(fit.family) && fit.aicc !== null && fit.dofResidual > 0);
  if (resamples === 0 || ranked.length === 0) return null;
  return bootstrapPrepared(
    data,
    {
      families: inner.filter((family) => ranked.some((fit) => fit.family === family)),
      level,
      resamples,
      ...options,
    },
    comparison.best !== null && isInner(comparison.best) ? comparison : undefined,
  );
}

interface Context {
  /** Simulated trials, which both targets share. */
  readonly memo: SimulationMemo;
  readonly data: PreparedData;
  readonly comparison: CurveComparison;
  readonly settings: AnalyzeSettings;
  readonly axes: (density: number | null) => OnAxes;
  readonly responding: boolean;
}

function report<O extends Optimum>(
  optimum: O,
  { data, comparison, settings, axes, responding, memo }: Context,
  target: Pick<OptimumIntervalOptions, "target" | "priceRatio">,
  bootstrap: BootstrapDistribution | null,
  averaged: OptimumReport<O>["averaged"],
): OptimumReport<O> {
  const families = settings.families.filter(isInner);
  const options = { ...target, level: settings.level };
  const interval = responding
    ? optimumIntervalPrepared(data, { ...options, families }, comparison, memo)
    : {
        lower: null,
        upper: null,
        lowerOpen: true,
        upperOpen: true,
        level: settings.level,
        method: "envelope",
        target: target.target ?? "agronomic",
        family: null,
        flatNotExcluded: true,
        reason: "no curve that responds to density can be fitted to these plots",
      };
  const chosenFamilyInterval =
    responding && comparison.best !== "flat" && comparison.best !== null && isInner(comparison.best)
      ? optimumIntervalPrepared(data, { ...options, method: "profile", family: comparison.best }, comparison)
      : null;
  const width = (one: { lower: number | null; upper: number | null } | null): number | null =>
    one === null || one.lower === null || one.upper === null ? null : one.upper - one.lower;
  const wide = width(interval);
  const narrow = width(chosenFamilyInterval);
  return {
    optimum,
    axes: axes(optimum.density),
    interval,
    intervalAxes: { lower: axes(interval.lower), upper: axes(interval.upper) },
    chosenFamilyInterval,
    widthRatio: wide !== null && narrow !== null && narrow > 0 ? wide / narrow : null,
    bootstrap,
    averaged,
  };
}

function explainChoice({ best, ranking, fits, tied, warnings }: CurveComparison): string {
  if (warnings.some((warning) => warning.code === "too-few-plots"))
    return "too few plots to compare all curves by AICc";
  if (tied.length > 1) return `${tied.join(", ")} have the same AICc; the simplest is shown`;
  const rivals = ranking
    .filter((rank) => rank.family !== best && rank.delta !== null)
    .sort((a, b) => (a.delta as number) - (b.delta as number));
  const next = rivals[0];
  const chosen = fits.find((fit) => fit.family === best);
  if (next === undefined || chosen === undefined) return "the only curve that could be fitted";
  const lead = `smallest AICc, ${(next.delta as number).toFixed(1)} below ${next.family}`;
  return best === "flat" ? `${lead}: no response to density in these plots` : lead;
}

/**
 * Flex groups are conventions of this library, not science: below 70 yield follows the plants, 70 to 90 missing plants are
 * partly made up, 90 to 110 fully, above 110 more plants yield less.
 */
function flexReport(
  fit: CurveFit,
  between: readonly [number, number] | null,
  interval: FlexInterval | null,
  boot: BootstrapDistribution | null,
): FlexReport {
  const reason = "the densities tested for the hybrids do not overlap, so there is no common range to compare them on";
  const flex = between
    ? flexScore(fit, { between })
    : { score: null, between: fit.range, slope: null, left: null, right: null, local: [], reason };
  const { score } = flex;
  const group =
    score === null
      ? null
      : score < 70
        ? "needs plants"
        : score < 90
          ? "partly makes up"
          : score <= 110
            ? "makes up"
            : "crowds";
  return { flex, interval: score === null ? null : interval, bootstrap: boot, group };
}

/** The optimum's cut-off serves the score too: both are read off the same curves. */
function flexInterval(
  data: PreparedData,
  { families, level }: AnalyzeSettings,
  between: readonly [number, number],
  cutoff: Cutoff | undefined,
): FlexInterval | null {
  if (cutoff === undefined) return null;
  const scalar = quantityScalar(data.design, { kind: "flex-score", between });
  const options = { families: families.filter(isInner), level, factor: cutoff.factor };
  const { family: _, ...interval } = scalarInterval(data, scalar, options);
  return interval;
}

function marginal(fit: CurveFit, data: PreparedData, plants: number): CurveAnalysis["marginal"] {
  const curve = fittedCurve(fit);
  return Array.from(data.design.levels, (density) => ({
    density,
    yieldPerThousand: (curve.slope(density) * 1000) / plants,
  }));
}

/** Seed cost and grain price 20 % down, as given, 20 % up. */
function sensitivity(fit: CurveFit, economics: Required<Economics>): CurveAnalysis["sensitivity"] {
  const around = (price: number): number[] => [0.8 * price, price, 1.2 * price];
  const { establishment, yieldCost } = economics;
  return priceSensitivity(
    fit,
    around(economics.seedCost),
    around(economics.grainPrice).filter((p) => p > yieldCost),
    {
      establishment,
      yieldCost,
    },
  );
}

function mean(values: Float64Array): number {
  return values.reduce((sum, value) => sum + value, 0) / values.length;
}
