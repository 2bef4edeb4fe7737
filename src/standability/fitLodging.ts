import { check } from "../core/errors.ts";
import { discrepancy } from "../fit/fitBinomial.ts";
import { separation as findSeparation, type Separation } from "../fit/fitBinomialSeparation.ts";
import { chiSquareUpper, fUpper, logGamma } from "../numeric/distributions.ts";
import type { Constraint } from "../numeric/glm.ts";
import type { DispersionModel, LodgingData, LodgingFit } from "./lodgingFit.ts";
import {
  estimateLodging,
  type LodgingEstimate,
  type LodgingModel,
  type LodgingSettings,
  lodgingModel,
} from "./lodgingModel.ts";
import { type LodgingInput, readLodging } from "./readLodging.ts";

export interface FitLodgingOptions {
  /** Default "logit". */
  readonly link?: "logit" | "cloglog";
  /** Default "quasi" where the spread between plots can be judged (see `fitLodging`), else "binomial". */
  readonly dispersion?: DispersionModel;
  /** "firth": bias-reduced estimates. Default "none"; separation switches to "firth" by itself and says so. */
  readonly bias?: "none" | "firth";
}

/** With this many residual degrees of freedom the dispersion is estimated even where no two plots share a density. */
const ENOUGH_DOF = 8;

/**
 * Share of lodged plants against density: link(p) = block level + slope * density, fitted to counts per plot.
 *
 * Plants of one plot share wind, soil and disease, so plots differ by more than independent plants would. The default
 * therefore multiplies binomial variances by the Pearson dispersion X2 / dof ("quasi") as soon as a density has more than
 * one plot or 8 residual degrees of freedom are left; "beta-binomial" estimates the correlation between plants of a plot by
 * maximum likelihood. "binomial" is right only for plants that fall independently. Shares without counts always use
 * "quasi".
 *
 * When the counts are separated (lodging only above some density, or a block without any) the ordinary estimate does not
 * exist; the bias-reduced fit is given with status "separation". Nothing lodged, or everything: no curve, a status.
 *
 * @returns estimates on the link scale; the intercept is that of the average block (mean of the block levels)
 * @throws AnalysisError `length-mismatch`; `invalid-data` for a value out of range; `not-offered` for a combination that
 * would mislead (beta-binomial with shares or with firth, counts mixed with shares)
 * @example
 * const fit = fitLodging({ density: [24, 28, 32, 36, 40], lodged: [6, 9, 17, 26, 44], examined: [200, 200, 200, 200, 200] });
 * fit.coefficients.slope.toFixed(6); // => "0.141631"
 *
 * Source: McCullagh & Nelder (1989), Generalized Linear Models, sections 4.3-4.5; Firth (1993), Biometrika 80(1), 27-38;
 * Hughes & Madden (1993), Phytopathology 83, 759-763. Oracle: test/oracle/binomial_share.json.
 */
export function fitLodging(input: LodgingInput, options: FitLodgingOptions = {}): LodgingFit {
  const data = readLodging(input);
  const link = options.link ?? "logit";
  const bias = options.bias ?? "none";
  check(link === "logit" || link === "cloglog", "invalid-option", `link must be "logit" or "cloglog", got "${link}"`);
  check(bias === "none" || bias === "firth", "invalid-option", `bias must be "none" or "firth", got "${bias}"`);
  const model = lodgingModel(data, link);
  const n = data.density.length;
  const dofResidual = n - model.problem.columns;
  const notes: string[] = [];
  const dispersion = chooseDispersion(data, options.dispersion, bias, dofResidual, notes);

  const frame = { link, dispersionModel: dispersion, nobs: n, dofResidual: Math.max(0, dofResidual), data, notes };
  if (!slopeEstimable(model)) {
    notes.push("No block holds two densities, so a slope cannot be estimated.");
    return { ...emptyFit, ...frame, bias, status: "singular" };
  }
  const { problem, blockIndex, blocks } = model;
  const separation = findSeparation(data.density, problem.events, problem.trials, blockIndex, blocks.length);
  if (separation?.kind === "no-events" || separation?.kind === "all-events") {
    notes.push(
      separation.kind === "no-events"
        ? "No plant lodged: there is no curve to fit."
        : "Every plant lodged: there is no curve to fit.",
    );
    return {
      ...emptyFit,
      ...frame,
      bias,
      separation,
      status: separation.kind === "no-events" ? "none-lodged" : "all-lodged",
    };
  }
  let settings: LodgingSettings = { link, dispersion, penalised: bias === "firth" };
  if (separation) {
    notes.push(separationNote(separation, model));
    if (dispersion === "beta-binomial")
      notes.push("The beta-binomial likelihood has no maximum either; quasi-binomial variances are used.");
    settings = { link, dispersion: dispersion === "beta-binomial" ? "quasi" : dispersion, penalised: true };
  }
  const estimate = estimateLodging(model, settings);
  const solved = estimate.status === "converged" && estimate.vcov !== null;
  if (!solved)
    return {
      ...emptyFit,
      ...frame,
      bias,
      separation,
      status: estimate.status === "converged" ? "singular" : estimate.status,
    };
  return { ...frame, ...describe(model, settings, estimate, separation, frame.dofResidual, notes), separation };
}

const emptyFit = {
  schema: "standcurve/lodging-fit/1",
  separation: null,
  coefficients: { intercept: null, slope: null },
  standardErrors: { intercept: null, slope: null },
  vcov: null,
  blockEffects: [],
  dispersion: null,
  scale: 1,
  icc: null,
  deviance: null,
  pearson: null,
  logLikelihood: null,
  slopeTest: null,
  fitted: [],
  working: null,
} as const;

function chooseDispersion(
  data: LodgingData,
  asked: DispersionModel | undefined,
  bias: "none" | "firth",
  dofResidual: number,
  notes: string[],
): DispersionModel {
  check(
    asked === undefined || asked === "binomial" || asked === "quasi" || asked === "beta-binomial",
    "invalid-option",
    `dispersion must be "binomial", "quasi" or "beta-binomial", got "${asked}"`,
  );
  if (asked === "beta-binomial") {
    check(
      data.examined !== null,
      "not-offered",
      "beta-binomial needs counts; shares without counts are fitted by quasi-likelihood",
    );
    check(
      [...data.lodged, ...data.examined].every(Number.isInteger),
      "invalid-data",
      "beta-binomial needs whole numbers of plants",
    );
    check(bias === "none", "not-offered", "bias-reduced estimates are offered for binomial and quasi dispersion only");
  }
  if (data.examined === null) {
    check(asked !== "binomial", "not-offered", "shares without counts have no binomial variance; use quasi");
    notes.push("Shares without counts: every plot has the same weight and the spread is estimated from the plots.");
    return "quasi";
  }
  const replicated = new Set(data.density).size < data.density.length;
  const judged = dofResidual >= 1 && (replicated || dofResidual >= ENOUGH_DOF);
  const chosen = asked ?? (judged ? "quasi" : "binomial");
  if (chosen === "quasi" && dofResidual < 1) {
    notes.push(
      "No residual degree of freedom: the spread between plots cannot be estimated, so binomial variances are used.",
    );
    return "binomial";
  }
  if (chosen === "binomial" && asked === undefined) {
    notes.push(
      "One plot per density: the spread between plots cannot be judged, and binomial variances are usually too small.",
    );
  }
  return chosen;
}

function slopeEstimable({ problem: { design, columns }, blockIndex, blocks }: LodgingModel): boolean {
  const first = new Array<number | undefined>(blocks.length).fill(undefined);
  return blockIndex.some((b, i) => {
    const z = design[i * columns + columns - 1];
    first[b] ??= z;
    return first[b] !== z;
  });
}

function separationNote(separation: Separation, { blocks }: LodgingModel): string {
  const remedy = "so the ordinary estimate does not exist and the bias-reduced (Firth) fit is given.";
  if (separation.kind === "block") {
    return `Block ${separation.blocks.map((b) => blocks[b]).join(", ")} has either no lodged plant or nothing else, ${remedy}`;
  }
  const gap = separation.gap;
  const [standing, lodging] = separation.direction === "rising" ? ["below", "above"] : ["above", "below"];
  const where = gap ? ` (no lodging ${standing} ${gap[1]}, no standing plant ${lodging} ${gap[0]})` : "";
  return `Density separates lodged from standing plants${where}, ${remedy}`;
}

function describe(
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
      if (variance > 0) sum += (events[i] - mean) ** 2 / variance;
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
