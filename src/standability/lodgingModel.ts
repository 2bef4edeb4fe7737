import { type BinomialProblem, binomialCriterion, fitBinomial } from "../fit/fitBinomial.ts";
import { betaBinomialCriterion, fitBetaBinomial } from "../fit/fitBinomialBeta.ts";
import { binomialLinks } from "../fit/fitBinomialLinks.ts";
import type { Criterion, MaximiseOptions, Maximum } from "../numeric/glm.ts";
import type { DispersionModel, LodgingData } from "./lodgingFit.ts";

/** The numerical problem behind a lodging fit: one column per block, then z = (density - centre) / spread. */
export interface LodgingModel {
  readonly problem: BinomialProblem;
  readonly blocks: readonly string[];
  readonly blockIndex: Int32Array;
  readonly centre: number;
  readonly spread: number;
}

/** What to fit and how; the part of the options that the numerics need. */
export interface LodgingSettings {
  readonly link: "logit" | "cloglog";
  readonly dispersion: DispersionModel;
  readonly penalised: boolean;
}

/** Builds the design. Blocks keep the order in which they first appear. */
export function lodgingModel(data: LodgingData, link: "logit" | "cloglog"): LodgingModel {
  const n = data.density.length;
  const blocks = [...new Set(data.block)];
  const columns = blocks.length + 1;
  const low = Math.min(...data.density);
  const high = Math.max(...data.density);
  const centre = (low + high) / 2;
  const spread = high > low ? (high - low) / 2 : 1;
  const order = new Map(blocks.map((label, index) => [label, index]));
  const blockIndex = Int32Array.from(data.block, (label) => order.get(label)!);
  const design = new Float64Array(n * columns);
  for (let i = 0; i < n; i++) {
    design[i * columns + blockIndex[i]] = 1;
    design[i * columns + columns - 1] = (data.density[i] - centre) / spread;
  }
  const trials = data.examined ? Float64Array.from(data.examined) : new Float64Array(n).fill(1);
  const problem = { design, columns, events: Float64Array.from(data.lodged), trials, link: binomialLinks[link] };
  return { problem, blocks, blockIndex, centre, spread };
}

/** The criterion that the settings ask for; the beta-binomial one has theta as its last parameter. */
export function lodgingCriterion(model: LodgingModel, settings: LodgingSettings): Criterion {
  return settings.dispersion === "beta-binomial"
    ? betaBinomialCriterion(model.problem)
    : binomialCriterion(model.problem, settings.penalised);
}

/** Estimates in working form. */
export interface LodgingEstimate {
  readonly status: Maximum["status"];
  /** Block levels, slope and (beta-binomial) theta. */
  readonly theta: Float64Array;
  /** Of block levels and slope, shape [p][p], without dispersion; null when singular. */
  readonly vcov: Float64Array | null;
  /** Fitted share per plot. */
  readonly fitted: Float64Array;
  /** Log-likelihood without the binomial coefficients (penalty included when there is one). */
  readonly value: number;
}

/** Runs the fit, free or on a constraint. */
export function estimateLodging(
  model: LodgingModel,
  settings: LodgingSettings,
  options: MaximiseOptions & { readonly start?: Float64Array } = {},
): LodgingEstimate {
  if (settings.dispersion === "beta-binomial") {
    const fit = fitBetaBinomial(model.problem, options);
    return { ...fit, theta: Float64Array.from([...fit.coef, fit.theta]) };
  }
  const fit = fitBinomial(model.problem, { ...options, penalised: settings.penalised });
  return { ...fit, theta: fit.coef };
}
