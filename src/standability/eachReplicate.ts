import { check } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import { discrepancy } from "../fit/fitBinomial.ts";
import { separation } from "../fit/fitBinomialSeparation.ts";
import { betaBinomialCdf, countAt } from "../numeric/betaBinomial.ts";
import type { LodgingFit } from "./lodgingFit.ts";
import { estimateLodging, lodgingModel } from "./lodgingModel.ts";

/** One refit of counts drawn from a lodging fit. */
export interface LodgingReplicate {
  /** `none` and `all`: no plant, or every plant, lodged, and there are no estimates. */
  readonly lodged: "some" | "none" | "all";
  readonly separated: boolean;
  readonly theta: Float64Array;
  /** Shape [p][p], without `scale`. */
  readonly vcov: Float64Array;
  readonly scale: number;
}

/** Replicates per random stream: fixed, so that the answer does not depend on how the work is spread. */
const PER_STREAM = 100;

/** The last replicates of a fit: its limit and its flags read the same ones. They go when the fit goes. */
const last = new WeakMap<LodgingFit, { resamples: number; seed: number; replicates: readonly LodgingReplicate[] }>();

/**
 * Parametric bootstrap of a lodging fit: counts are drawn from the fitted shares with the fitted correlation between plants
 * of a plot (none for "binomial"), and refitted in the same way, dispersion and separation included.
 *
 * @throws AnalysisError `not-offered` for shares without counts; `invalid-option` for fewer than 99 resamples
 */
export function eachReplicate(
  fit: LodgingFit,
  resamples: number,
  seed: number,
  visit: (replicate: LodgingReplicate, index: number) => void,
): void {
  let known = last.get(fit);
  if (known?.resamples !== resamples || known.seed !== seed) {
    known = { resamples, seed, replicates: lodgingReplicates(fit, resamples, seed) };
    last.set(fit, known);
  }
  known.replicates.forEach(visit);
}

function lodgingReplicates(fit: LodgingFit, resamples: number, seed: number): LodgingReplicate[] {
  const { examined, density } = fit.data;
  check(examined !== null, "not-offered", "a parametric bootstrap needs counts; use fieller or profile for shares");
  check(
    Number.isInteger(resamples) && resamples >= 99,
    "invalid-option",
    `resamples must be a whole number of at least 99, got ${resamples}`,
  );
  check(
    examined.every(Number.isInteger),
    "invalid-data",
    "a parametric bootstrap needs whole numbers of examined plants",
  );
  const model = lodgingModel(fit.data, fit.link);
  const { problem, blocks, blockIndex } = model;
  const start = Float64Array.from(fit.working!.theta);
  const icc = fit.dispersionModel === "binomial" ? 0 : (fit.icc?.value ?? 0);
  const tables = examined.map((plants, i) => betaBinomialCdf(plants, fit.fitted[i], icc));
  const nothing = { theta: start, vcov: new Float64Array(0), scale: 1, separated: true };
  const replicates: LodgingReplicate[] = [];
  let random = streamRandom(seed, 0);
  for (let r = 0; r < resamples; r++) {
    if (r % PER_STREAM === 0) random = streamRandom(seed, r / PER_STREAM);
    for (let i = 0; i < examined.length; i++) problem.events[i] = countAt(tables[i], random.next());
    const apart = separation(density, problem.events, examined, blockIndex, blocks.length);
    if (apart?.kind === "no-events" || apart?.kind === "all-events") {
      replicates.push({ ...nothing, lodged: apart.kind === "no-events" ? "none" : "all" });
      continue;
    }
    const separated = apart !== null;
    const dispersion = separated && fit.dispersionModel === "beta-binomial" ? "quasi" : fit.dispersionModel;
    const settings = { link: fit.link, dispersion, penalised: separated || fit.bias === "firth" };
    // A ten-thousandth of a standard error is plenty for one replicate among hundreds.
    const options = { accuracy: 1e-4, ...(separated ? {} : { start }) };
    const { theta, vcov } = estimateLodging(model, settings, options);
    let scale = 1;
    if (dispersion === "quasi") {
      scale = discrepancy(problem, theta.subarray(0, problem.columns)).pearson / fit.dofResidual;
      if (separated) scale = Math.max(1, scale);
    }
    replicates.push({ lodged: "some", separated, theta, vcov: vcov ?? nothing.vcov, scale });
  }
  return replicates;
}
