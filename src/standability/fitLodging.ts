import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { separation as findSeparation, type Separation } from "../fit/fitBinomialSeparation.ts";
import { describeLodging } from "./describeLodging.ts";
import { chooseDispersion } from "./lodgingDispersion.ts";
import type { DispersionModel, LodgingFit } from "./lodgingFit.ts";
import { estimateLodging, type LodgingModel, type LodgingSettings, lodgingModel } from "./lodgingModel.ts";
import { type LodgingInput, lodgingInputShape, readLodging } from "./readLodging.ts";

export interface FitLodgingOptions {
  /** Default "logit". */
  readonly link?: "logit" | "cloglog";
  /** Default "quasi" where the spread between plots can be judged (see `fitLodging`), else "binomial". */
  readonly dispersion?: DispersionModel;
  /** "firth": bias-reduced estimates. Default "none"; separation switches to "firth" by itself and says so. */
  readonly bias?: "none" | "firth";
}

/** What `FitLodgingOptions` must look like. */
export const fitLodgingOptionsShape: { readonly [property: string]: Shape } = {
  link: "text?",
  dispersion: "text?",
  bias: "text?",
};

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
  checkShape(input, "input", lodgingInputShape);
  checkShape(options, "options", fitLodgingOptionsShape, "invalid-option");
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
  return { ...frame, ...describeLodging(model, settings, estimate, separation, frame.dofResidual, notes), separation };
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
