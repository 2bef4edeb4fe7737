import { square } from "../core/elementary.ts";
import { discrepancy } from "../fit/fitBinomial.ts";
import type { Separation } from "../fit/fitBinomialSeparation.ts";
import { chiSquareUpper, fUpper, logGamma } from "../numeric/distributions.ts";
import type { Constraint } from "../numeric/glm.ts";
import type { LodgingFit } from "./lodgingFit.ts";
import { estimateLodging, type LodgingEstimate, type LodgingModel, type LodgingSettings } from "./lodgingModel.ts";

/** Turns working estimates into the public result: units of the data, average block, dispersion, tests. */
export function describeLodging(
  model: LodgingModel,
  settings: LodgingSettings,
  estimate: LodgingEstimate,
  separation: Separation | null,
  dofResidual: number,
  notes: string[],
): Omit<LodgingFit, "nobs" | "data" | "link" | "dofResidual" | "notes" | "separation"> {
  const { problem, blocks, centre, spread } = model;
  const p = problem.columns;
  const { theta, fitted } = estimate;
  const vcov = estimate.vcov as Float64Array;
  const { deviance, pearson } = discrepancy(problem, theta.subarray(0, p));
  const dispersion = dofResidual > 0 ? pearson / dofResidual : null;
  const scale =
    settings.dispersion !== "quasi" || dispersion === null ? 1 : separation ? Math.max(1, dispersion) : dispersion;
  if (settings.dispersion === "quasi" && separation && scale > (dispersion ?? 0)) {
    notes.push("A separated fit leaves next to no residual spread; binomial variances are kept as the least possible.");
  }
  const counted = problem.trials.some((m) => m !== 1);
  const icc =
    settings.dispersion === "beta-binomial"
      ? { value: theta[p] / (1 + theta[p]), method: "maximum-likelihood" as const }
      : counted && dofResidual > 0
        ? { value: momentIcc(problem.events, problem.trials, fitted, dofResidual), method: "moment" as const }
        : null;

  // (intercept, slope) of the average block is linear in the working parameters.
  const intercept = new Float64Array(p).fill(1 / blocks.length);
  intercept[p - 1] = -centre / spread;
  const slope = new Float64Array(p);
  slope[p - 1] = 1 / spread;
  const covariance = (a: Float64Array, b: Float64Array) => {
    let sum = 0;
    for (let i = 0; i < p; i++) for (let j = 0; j < p; j++) sum += a[i] * vcov[i * p + j] * b[j];
    return sum * scale;
  };
  const value = (a: Float64Array) => a.reduce((sum, weight, j) => sum + weight * theta[j], 0);
  const cross = covariance(intercept, slope);
  const matrix = [
    [covariance(intercept, intercept), cross],
    [cross, covariance(slope, slope)],
  ];
  const level = theta.subarray(0, blocks.length).reduce((sum, a) => sum + a, 0) / blocks.length;
  return {
    schema: "standcurve/lodging-fit/1",
    status: separation ? "separation" : "converged",
    dispersionModel: settings.dispersion,
    bias: settings.penalised ? "firth" : "none",
    coefficients: { intercept: value(intercept), slope: value(slope) },
    standardErrors: { intercept: Math.sqrt(matrix[0][0]), slope: Math.sqrt(matrix[1][1]) },
    vcov: matrix,
    blockEffects: blocks.map((block, b) => ({ block, effect: theta[b] - level })),
    dispersion,
    scale,
    icc,
    deviance,
    pearson,
    logLikelihood: settings.dispersion === "quasi" ? null : logLikelihood(model, settings, estimate),
    slopeTest: testSlope(model, settings, estimate, scale, dofResidual),
    fitted: Array.from(fitted),
    working: {
      centre,
      spread,
      blocks,
      theta: Array.from(theta),
      vcov: Array.from({ length: p }, (_, i) => Array.from(vcov.subarray(i * p, (i + 1) * p))),
    },
  };
}

/** Correlation that makes the Pearson statistic with variance m p q (1 + (m - 1) icc) equal to its degrees of freedom. */
function momentIcc(events: Float64Array, trials: Float64Array, fitted: Float64Array, dof: number): number {
  const excess = (icc: number) => {
    let sum = -dof;
    for (let i = 0; i < events.length; i++) {
      const mean = trials[i] * fitted[i];
      const variance = mean * (1 - fitted[i]) * (1 + (trials[i] - 1) * icc);
      if (variance > 0) sum += square(events[i] - mean) / variance;
    }
    return sum;
  };
  if (excess(0) <= 0) return 0;
  if (excess(1) >= 0) return 1;
  let [low, high] = [0, 1];
  for (let step = 0; step < 60; step++) {
    const middle = (low + high) / 2;
    if (excess(middle) > 0) low = middle;
    else high = middle;
  }
  return (low + high) / 2;
}

function logLikelihood(
  { problem: { events, trials } }: LodgingModel,
  settings: LodgingSettings,
  estimate: LodgingEstimate,
): number | null {
  if (settings.penalised) return null;
  let sum = estimate.value;
  for (let i = 0; i < events.length; i++) {
    sum += logGamma(trials[i] + 1) - logGamma(events[i] + 1) - logGamma(trials[i] - events[i] + 1);
  }
  return sum;
}

/** Twice the drop of the criterion when the slope is forced to 0. */
function testSlope(
  model: LodgingModel,
  settings: LodgingSettings,
  estimate: LodgingEstimate,
  scale: number,
  dofResidual: number,
): LodgingFit["slopeTest"] {
  const k = model.problem.columns - 1;
  const flat: Constraint = {
    gradient(_theta, out) {
      out.fill(0);
      out[k] = 1;
    },
    restore(theta) {
      theta[k] = 0;
    },
  };
  const without = estimateLodging(model, settings, { constraint: flat });
  if (without.status !== "converged") return null;
  const statistic = Math.max(0, 2 * (estimate.value - without.value)) / scale;
  if (settings.dispersion === "binomial" || dofResidual < 1) {
    return { statistic, dof1: 1, dof2: null, pValue: chiSquareUpper(statistic, 1) };
  }
  return { statistic, dof1: 1, dof2: dofResidual, pValue: fUpper(statistic, 1, dofResidual) };
}
