import { checkShape, type Shape } from "../core/checkShape.ts";
import { checkedRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import type { Trial } from "../trial/trial.ts";
import { modeBlocks } from "./conditionalModes.ts";
import { type CurveEstimate, type CurveOptimumAnswer, curveOptimum } from "./curveAnswers.ts";
import { combinationDof } from "./curveInference.ts";
import { describeMixed, fitMixedResponse } from "./fitMixedResponse.ts";
import { mixedDataOf } from "./mixedData.ts";
import type { MixedData, MixedOptions, MixedResponseFit, RandomPart } from "./mixedResponse.ts";
import { HYBRID } from "./mixedStructure.ts";
import { residualDof } from "./predictResponse.ts";
import { solveMixedResponse } from "./solveMixedResponse.ts";

export interface ShrinkOptions extends Pick<MixedOptions, "covariance" | "hybridByEnvironment" | "scaling"> {
  /** Default "quadratic". */
  readonly curve?: "linear" | "quadratic";
  /** Yield units per density unit that must pay for the seed; default 0 (agronomic optimum). */
  readonly priceRatio?: number;
  /** Confidence level, default 0.95. */
  readonly level?: number;
}

/** What `ShrinkOptions` must look like. */
export const shrinkOptionsShape: { readonly [property: string]: Shape } = {
  covariance: "text?",
  hybridByEnvironment: "list?",
  scaling: "object?",
  curve: "text?",
  priceRatio: "number?",
  level: "number?",
};

/** A hybrid's curve before and after borrowing from the rest. */
export interface ShrunkenHybrid {
  readonly hybrid: string;
  readonly nobs: number;
  readonly environments: number;
  /** Its own curve when every hybrid has one of its own; null when its densities do not carry one. */
  readonly raw: HybridCurve | null;
  /** Its curve as the mean curve plus its predicted deviation. */
  readonly shrunken: HybridCurve;
  /**
   * How far each part was drawn to the mean: Var(u^ - u) / Var(u), 0 for none, 1 for all the way; parts that do not vary
   * between hybrids are drawn in fully.
   */
  readonly shrinkage: Readonly<Record<RandomPart, number>>;
}

export interface HybridCurve {
  /** Coefficients of 1, z, z^2. */
  readonly coefficients: readonly number[];
  /** Standard errors: of the estimate (raw), of the prediction (shrunken). */
  readonly standardErrors: readonly number[];
  readonly optimum: CurveOptimumAnswer;
}

export interface ShrunkenHybrids {
  readonly schema: "standcurve/shrunken-hybrids/1";
  readonly hybrids: readonly ShrunkenHybrid[];
  /** The model with random hybrid curves. */
  readonly fit: MixedResponseFit;
  /** Standard deviation of each part between hybrids; 0 when it cannot be told from none. */
  readonly spread: Readonly<Record<RandomPart, number>>;
  readonly notes: readonly string[];
}

const PARTS: readonly RandomPart[] = ["intercept", "slope", "curvature"];

/**
 * Hybrid curves drawn towards the mean curve as far as the data of each hybrid call for.
 *
 * A hybrid's coefficients are beta + v, v ~ N(0, H); the prediction beta^ + v^ is the best linear unbiased one. Hybrids with
 * few plots are drawn in most. The raw curves come from the same model with a fixed curve per hybrid.
 *
 * @throws AnalysisError `not-estimable` with fewer than 3 hybrids; as `fitMixedResponse` otherwise
 * @example
 * const rows = ["A", "B", "C", "D"].flatMap((hybrid, h) =>
 *   [1, 2, 3].flatMap((environment) => [18, 24, 30, 36, 42].map((x) => ({ hybrid, environment, x, best: 28 + 2 * h }))),
 * );
 * const shrunken = shrinkHybridCurves({
 *   density: rows.map(({ x }) => x),
 *   yield: rows.map(({ x, best, environment }) => 200 - 0.05 * (x - best) ** 2 + 4 * environment + ((7 * x + 5 * environment) % 4)),
 *   hybrid: rows.map(({ hybrid }) => hybrid),
 *   environment: rows.map(({ environment }) => environment),
 * });
 * shrunken.hybrids.length; // => 4
 *
 * Source: Robinson (1991), Statistical Science 6, 15-32.
 */
export function shrinkHybridCurves(data: MixedData | Trial, options: ShrinkOptions = {}): ShrunkenHybrids {
  checkShape(options, "options", shrinkOptionsShape, "invalid-option");
  const { curve = "quadratic", priceRatio = 0, level = 0.95, ...rest } = options;
  checkedRatio(priceRatio);
  const plots = mixedDataOf(data);
  const labels = Array.from(plots.hybrid ?? [], String);
  const names = [...new Set(labels)];
  check(
    names.length >= 3,
    "not-estimable",
    `how hybrids vary cannot be seen from ${names.length} of them; 3 are needed`,
  );
  const solution = solveMixedResponse(plots, { ...rest, curve, hybrids: "random" });
  const fit = describeMixed(solution, "satterthwaite");
  const notes = [...fit.notes];
  const raw = rawCurves(plots, { ...rest, curve, scaling: fit.scaling }, notes);
  const { model } = solution;
  const at = model.data.terms.findIndex(({ name }) => name === HYBRID);
  const mean = fit.curves[0];
  const w = mean.coefficients.length;
  const parts = at < 0 ? [] : model.data.terms[at].columnNames.map((name) => PARTS.indexOf(name as RandomPart));
  const variance = new Array<number>(3).fill(0);
  parts.forEach((power, a) => {
    variance[power] = model.sigma2 * model.optimum.point.gamma[at][a * (parts.length + 1)];
  });
  const blocks = at < 0 ? [] : modeBlocks(model).filter(({ term }) => term === at);
  if (at < 0) notes.push("hybrids cannot be told apart beyond the scatter of the plots: all get the mean curve");
  const dof = residualDof(fit);
  const hybrids = names.map((hybrid): ShrunkenHybrid => {
    const rows = labels.flatMap((label, i) => (label === hybrid ? [i] : []));
    const coefficients = [...mean.coefficients];
    const vcov = mean.vcov.map((row) => [...row]);
    const shrinkage = [1, 1, 1];
    const block = blocks.find(({ level: own }) => String(model.data.terms[at].levels[own]) === hybrid);
    if (block !== undefined) {
      parts.forEach((i, a) => {
        coefficients[i] += block.values[a];
        if (variance[i] > 0)
          shrinkage[i] = Math.min(1, Math.max(0, block.variance[a * (parts.length + 1)] / variance[i]));
        parts.forEach((j, b) => {
          vcov[i][j] += block.variance[a * parts.length + b];
        });
        for (let r = 0; r < w; r++) {
          vcov[r][i] += block.withFixed[r * parts.length + a];
          vcov[i][r] += block.withFixed[r * parts.length + a];
        }
      });
    }
    const estimate: CurveEstimate = { coefficients, vcov, dof: () => dof };
    return {
      hybrid,
      nobs: rows.length,
      environments: new Set(rows.map((i) => String(plots.environment[i]))).size,
      raw: raw === null ? null : hybridCurve(raw, rawEstimate(raw, hybrid), priceRatio, level),
      shrunken: hybridCurve(fit, estimate, priceRatio, level) as HybridCurve,
      shrinkage: byPart(shrinkage),
    };
  });
  return { schema: "standcurve/shrunken-hybrids/1", hybrids, fit, spread: byPart(variance.map(Math.sqrt)), notes };
}

function byPart(values: readonly number[]): Record<RandomPart, number> {
  return { intercept: values[0], slope: values[1], curvature: values[2] };
}

/** Fixed curves of all hybrids; null when some hybrid's densities do not carry one. */
function rawCurves(data: MixedData, options: MixedOptions, notes: string[]): MixedResponseFit | null {
  try {
    return fitMixedResponse(data, { ...options, hybrids: "curves" });
  } catch {
    notes.push("some hybrids have too few densities for a curve of their own: raw curves are not shown");
    return null;
  }
}

function rawEstimate(raw: MixedResponseFit, hybrid: string): CurveEstimate | null {
  const curve = raw.curves.find((one) => one.hybrid === hybrid);
  return curve === undefined
    ? null
    : { coefficients: curve.coefficients, vcov: curve.vcov, dof: (c) => combinationDof(raw, curve, c) };
}

function hybridCurve(
  fit: MixedResponseFit,
  estimate: CurveEstimate | null,
  r: number,
  level: number,
): HybridCurve | null {
  if (estimate === null) return null;
  return {
    coefficients: estimate.coefficients,
    standardErrors: estimate.vcov.map((row, i) => Math.sqrt(Math.max(0, row[i]))),
    optimum: curveOptimum(fit, estimate, r, level),
  };
}
