import type { Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import { type Family, innerFamilies } from "../curves/family.ts";
import { startingValues } from "../fit/fitBinomial.ts";
import { binomialLinks } from "../fit/fitBinomialLinks.ts";
import { separation } from "../fit/fitBinomialSeparation.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import { prepareData } from "../fit/fitData.ts";
import { fitRows } from "../fit/leverage.ts";
import { type BootstrapDistribution, summarise } from "../interval/limits.ts";
import { betaBinomialCdf, countAt } from "../numeric/betaBinomial.ts";
import { normalCdf, normalQuantile } from "../numeric/distributions.ts";
import { maximise, quadraticForm } from "../numeric/glm.ts";
import { averageShare } from "./averageShare.ts";
import { fitLodging } from "./fitLodging.ts";
import { greatestOnRange } from "./greatestOnRange.ts";
import type { LodgingFit } from "./lodgingFit.ts";
import { lodgingCriterion, lodgingModel } from "./lodgingModel.ts";
import { chosenCurve, yieldRefit } from "./yieldRefit.ts";

/** Plots on which yield was weighed and lodging counted; parallel arrays. */
export interface HarvestPlots {
  readonly density: ArrayLike<number>;
  readonly yield: ArrayLike<number>;
  readonly lodged: ArrayLike<number>;
  readonly examined: ArrayLike<number>;
  readonly block?: ArrayLike<string | number>;
}

export interface HarvestBootstrapOptions {
  /** Default 999. */
  readonly resamples?: number;
  /** Default 1. */
  readonly seed?: number;
  /** Default 0.95. */
  readonly level?: number;
  /** Yield families refitted and chosen from in every replicate; default the five inner ones. */
  readonly families?: readonly Family[];
}

/** What `HarvestBootstrapOptions` must look like. */
export const harvestBootstrapOptionsShape: { readonly [property: string]: Shape } = {
  resamples: "count?",
  seed: "number?",
  level: "number?",
  families: "list?",
};

/** Percentile intervals of the four optima from replicates that refit both submodels. */
export interface HarvestBootstrap {
  readonly resamples: number;
  readonly seed: number;
  readonly gross: { readonly agronomic: BootstrapDistribution; readonly economic: BootstrapDistribution | null };
  readonly harvestable: { readonly agronomic: BootstrapDistribution; readonly economic: BootstrapDistribution | null };
  /** Harvestable minus gross agronomic optimum, ends of the range taken as they are. */
  readonly shift: BootstrapDistribution;
  /** Share of replicates in which lodging lowers the agronomic optimum. */
  readonly probabilityLower: number;
  /** Correlation between the yield and the lodging residual of a plot. */
  readonly residualCorrelation: number | null;
  /** Replicates whose lodging counts were separated or without any lodged plant. */
  readonly separated: number;
}

interface Settings extends HarvestBootstrapOptions {
  readonly lossShare: number;
  /** Price ratio; null without prices. */
  readonly price: number | null;
  readonly range: readonly [number, number];
}

/** Replicates per random stream: fixed, so that the answer does not depend on how the work is spread. */
const PER_STREAM = 100;

/**
 * Joint residual bootstrap: for every plot one source plot is drawn, and both its residuals are used, so that plots that
 * yielded little because they lodged keep that tie.
 *
 * Yield: fitted value plus the source's leverage-adjusted, centred residual. Lodging: the source's count is turned into a
 * probability under the fitted beta-binomial distribution (spread evenly over the step of its count), then into a
 * leverage-adjusted, centred normal score; the new count is the one at that probability for this plot's own fitted share, so
 * counts stay whole and within bounds. Blocks and densities stay as they are. Yield families are chosen again by AICc in every
 * replicate.
 *
 * Source: Davison & Hinkley (1997), Bootstrap Methods and their Application, sections 6.3 and 7.2; Dunn & Smyth (1996),
 * Journal of Computational and Graphical Statistics 5(3), 236-244 (randomised quantile residuals).
 */
export function bootstrapHarvest(plots: HarvestPlots, lodging: LodgingFit, settings: Settings): HarvestBootstrap {
  const { resamples = 999, seed = 1, level = 0.95, lossShare, price, range } = settings;
  const [low, high] = range;
  check(
    Number.isInteger(resamples) && resamples >= 99,
    "invalid-option",
    `resamples must be a whole number of at least 99, got ${resamples}`,
  );
  const data = prepareData(plots);
  const n = data.x.length;
  const families = (settings.families ?? innerFamilies).filter(
    (family) => fitPrepared(family, data).status === "converged",
  );
  const base = chosenCurve(data, families);
  check(
    base !== null && base.dofResidual > 0,
    "not-estimable",
    "the plots given cannot carry a yield curve with residual degrees of freedom",
  );
  const rows = fitRows(data, base);
  const yieldPool = centred(
    rows.residuals.map((r, i) => (rows.leverage[i] < 1 - 1e-9 ? r / Math.sqrt(1 - rows.leverage[i]) : 0)),
  );

  const count = { density: plots.density, examined: plots.examined, ...(plots.block ? { block: plots.block } : {}) };
  const dispersion = lodging.dispersionModel === "beta-binomial" ? "quasi" : lodging.dispersionModel;
  const own = fitLodging({ ...count, lodged: plots.lodged }, { link: lodging.link, dispersion, bias: lodging.bias });
  const trials = Array.from(plots.examined);
  check(
    trials.every(Number.isInteger) && Array.from(plots.lodged).every(Number.isInteger),
    "invalid-data",
    "lodged and examined must hold whole numbers of plants for the joint bootstrap",
  );
  const shares = own.working ? own.fitted : trials.map(() => (own.status === "all-lodged" ? 1 : 0));
  const icc = dispersion === "binomial" ? 0 : (own.icc?.value ?? 0);
  const tables = trials.map((m, i) => betaBinomialCdf(m, shares[i], icc));
  const stretch = scoreStretch(own);

  const model = lodgingModel(own.data, own.link);
  const begin = own.working && own.bias === "none" ? Float64Array.from(own.working.theta) : null;
  /** Share curve of new counts; null: nothing lodged, so nothing is lost. */
  const refitShare = (counts: Float64Array): { share: ((x: number) => number) | null; separated: boolean } => {
    model.problem.events.set(counts);
    const apart = separation(own.data.density, counts, trials, model.blockIndex, model.blocks.length);
    if (apart?.kind === "no-events") return { share: null, separated: true };
    if (apart?.kind === "all-events") return { share: () => 1, separated: true };
    const penalised = apart !== null || own.bias === "firth";
    const plan = { link: own.link, dispersion: "binomial", penalised } as const;
    const from = apart === null && begin !== null ? begin : startingValues(model.problem);
    const { theta } = maximise(lodgingCriterion(model, plan), from, { accuracy: 1e-4 });
    const link = binomialLinks[own.link];
    const blocks = model.blocks.length;
    return {
      share: (x) => averageShare(theta, blocks, (x - model.centre) / model.spread, link),
      separated: apart !== null,
    };
  };

  const refitYield = yieldRefit(data, families, base, range);
  const inside = { low, high };
  const grossAgronomic = new Float64Array(resamples);
  const harvestAgronomic = new Float64Array(resamples);
  const grossEconomic = price === null ? null : new Float64Array(resamples);
  const harvestEconomic = price === null ? null : new Float64Array(resamples);
  const shift = new Float64Array(resamples);
  const [scores, y, lodged] = [new Float64Array(n), new Float64Array(n), new Float64Array(n)];
  let [lower, separated, products, squares, yieldSquares] = [0, 0, 0, 0, 0];
  let random = streamRandom(seed, 0);
  for (let r = 0; r < resamples; r++) {
    if (r % PER_STREAM === 0) random = streamRandom(seed, r / PER_STREAM);
    for (let i = 0; i < n; i++) {
      const k = plots.lodged[i];
      const from = k === 0 ? 0 : tables[i][k - 1];
      const u = from + (tables[i][k] - from) * random.next();
      scores[i] = normalQuantile(Math.min(Math.max(u, 1e-12), 1 - 1e-12)) * stretch[i];
    }
    centre(scores);
    for (let i = 0; i < n; i++) {
      products += scores[i] * yieldPool[i];
      squares += scores[i] * scores[i];
      yieldSquares += yieldPool[i] * yieldPool[i];
    }
    for (let i = 0; i < n; i++) {
      const source = random.below(n);
      y[i] = rows.fitted[i] + yieldPool[source];
      lodged[i] = countAt(tables[i], Math.min(normalCdf(scores[source]), 1 - 1e-15));
    }
    const curve = refitYield(y);
    const refit = refitShare(lodged);
    if (refit.separated) separated++;
    const best = (loss: number, ratio: number): number => {
      const { share } = refit;
      if (loss === 0 || share === null) return curve.optimum(ratio);
      const value = (x: number): number => curve.mean(x) * (1 - loss * share(x)) - ratio * x;
      return greatestOnRange(value, low, high, curve.corners, 24, 1e-6).at;
    };
    grossAgronomic[r] = best(0, 0);
    harvestAgronomic[r] = best(lossShare, 0);
    if (price !== null && grossEconomic && harvestEconomic) {
      grossEconomic[r] = best(0, price);
      harvestEconomic[r] = best(lossShare, price);
    }
    shift[r] = harvestAgronomic[r] - grossAgronomic[r];
    if (shift[r] < 0) lower++;
  }
  const same = (value: number) => value;
  const tidy = (values: Float64Array) => summarise(values, level, inside, same);
  return {
    resamples,
    seed,
    gross: { agronomic: tidy(grossAgronomic), economic: grossEconomic && tidy(grossEconomic) },
    harvestable: { agronomic: tidy(harvestAgronomic), economic: harvestEconomic && tidy(harvestEconomic) },
    shift: summarise(shift, level, null, same),
    probabilityLower: lower / resamples,
    residualCorrelation:
      squares > 0 && yieldSquares > 0 && own.working ? products / Math.sqrt(squares * yieldSquares) : null,
    separated,
  };
}

/** 1 / sqrt(1 - leverage) of every plot in the lodging fit; 1 without a fit. */
function scoreStretch(fit: LodgingFit): Float64Array {
  const { working } = fit;
  if (working === null) return new Float64Array(fit.nobs).fill(1);
  const { problem } = lodgingModel(fit.data, fit.link);
  const p = problem.columns;
  const vcov = working.vcov.flat();
  return Float64Array.from(fit.fitted, (share, i) => {
    const row = problem.design.subarray(i * p, (i + 1) * p);
    const eta = row.reduce((sum, value, j) => sum + value * working.theta[j], 0);
    const slope = problem.link.slope(eta);
    const weight = share > 0 && share < 1 ? (problem.trials[i] * slope * slope) / (share * (1 - share)) : 0;
    const leverage = Math.min(weight * quadraticForm(vcov, p, row), 0.95);
    return 1 / Math.sqrt(1 - leverage);
  });
}

function centre(values: Float64Array): void {
  const mean = values.reduce((sum, value) => sum + value, 0) / values.length;
  for (let i = 0; i < values.length; i++) values[i] -= mean;
}

function centred(values: Float64Array): Float64Array {
  centre(values);
  return values;
}
