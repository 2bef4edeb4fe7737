import { checkShape, type Shape } from "../core/checkShape.ts";
import { type Economics, priceRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import type { Trial } from "../trial/trial.ts";
import type { EffectTest } from "./effectTests.ts";
import { describeMixed } from "./fitMixedResponse.ts";
import { differences } from "./hybridDifferences.ts";
import { drawRanks } from "./hybridDraws.ts";
import { fixedTests, randomTests } from "./hybridTests.ts";
import { kenwardRoger } from "./kenwardRoger.ts";
import { mixedDataOf } from "./mixedData.ts";
import { type MixedOptimum, mixedOptimum } from "./mixedOptimum.ts";
import type { MixedData, MixedOptions, MixedResponseFit } from "./mixedResponse.ts";
import { remlStatus } from "./remlFit.ts";
import { satterthwaite } from "./satterthwaite.ts";
import { solveMixedResponse } from "./solveMixedResponse.ts";

export interface CompareOptions {
  /** Default "quadratic". */
  readonly curve?: "linear" | "quadratic";
  /** Prices; with them hybrids are ranked by return over seed cost at their economic optimum, else by yield. */
  readonly prices?: Economics;
  /** Reference densities of the flex score, density units, inside the range of all hybrids; default: none. */
  readonly between?: readonly [number, number];
  /** Confidence level, default 0.95. */
  readonly level?: number;
  /** Which pairs are listed: all (default), or each hybrid with the one most likely to be best; p-values always allow for all. */
  readonly pairs?: "all" | "with-best";
  /** Draws for ranks and differences of optima; default 4000. */
  readonly draws?: number;
  /** Seed of the draws; default 1. */
  readonly seed?: number;
}

/** What the options must look like. */
const compareHybridsOptionsShape: { readonly [property: string]: Shape } = {
  curve: "text?",
  prices: "object?",
  between: "numbers?",
  level: "number?",
  pairs: "text?",
  draws: "count?",
  seed: "number?",
};

/** One hybrid in the comparison. */
export interface ComparedHybrid extends MixedOptimum {
  readonly hybrid: string;
  readonly nobs: number;
  /** Share of draws in which this hybrid is the best of all. */
  readonly probabilityBest: number;
  /** Expected rank, 1 the best. */
  readonly meanRank: number;
}

/** Difference a - b of two hybrids in one quantity. */
export interface HybridDifference {
  readonly a: string;
  readonly b: string;
  readonly difference: number;
  /** Delta-method error; null where the quantity sits on an end of the tested range. */
  readonly standardError: number | null;
  readonly interval: Interval | null;
  readonly p: number | null;
  /** p among all pairs of hybrids (studentised range). */
  readonly adjustedP: number | null;
}

export interface HybridComparison {
  readonly schema: "standcurve/hybrid-comparison/1";
  readonly hybrids: readonly ComparedHybrid[];
  /** Tests of density x hybrid, hybrid, density x environment and hybrid x environment. */
  readonly tests: readonly EffectTest[];
  /** Yield at the optimum of each. */
  readonly yieldDifferences: readonly HybridDifference[];
  readonly optimumDifferences: readonly HybridDifference[];
  /** Empty without reference densities. */
  readonly flexDifferences: readonly HybridDifference[];
  readonly rankedBy: "return" | "yield";
  readonly fit: MixedResponseFit;
  readonly draws: number;
  readonly seed: number;
  readonly level: number;
  readonly notes: readonly string[];
}

/**
 * Compares hybrids fairly: one model for all, each hybrid a curve of its own, environments and blocks random, and the level
 * and slope of a hybrid free to vary from environment to environment, so that hybrids grown in different places are judged
 * on the same footing.
 *
 * Differences of optimum, flex score and yield at the optimum carry delta-method errors, and p-values among all pairs by
 * the studentised range. The probability of being best comes from draws of all curves from their joint distribution
 * (multivariate t with the degrees of freedom of the slowest contrast), each hybrid at its own optimum inside the tested range.
 *
 * @throws AnalysisError `not-estimable` with fewer than two hybrids; as `fitMixedResponse` otherwise
 * @example
 * const density = [18, 23, 28, 33, 38];
 * const hybrids = ["A", "B"];
 * const rows = [1, 2, 3, 4].flatMap((block) => hybrids.flatMap((hybrid) => density.map((x) => ({ block, hybrid, x }))));
 * const comparison = compareHybrids(
 *   {
 *     density: rows.map(({ x }) => x),
 *     yield: rows.map(({ x, hybrid, block }) => 200 - 0.05 * (x - (hybrid === "A" ? 28 : 33)) ** 2 + ((x * block) % 7)),
 *     hybrid: rows.map(({ hybrid }) => hybrid),
 *     environment: rows.map(({ block }) => block),
 *   },
 *   { draws: 200 },
 * );
 * comparison.hybrids.length; // => 2
 */
export function compareHybrids(data: MixedData | Trial, options: CompareOptions = {}): HybridComparison {
  checkShape(data, "data", "object");
  checkShape(options, "options", compareHybridsOptionsShape, "invalid-option");
  const { curve = "quadratic", level = 0.95, draws = 4000, seed = 1 } = options;
  check(
    curve === "linear" || curve === "quadratic",
    "not-offered",
    `hybrids are compared on linear or quadratic curves, not "${curve}"`,
  );
  check(Number.isInteger(draws) && draws >= 100, "invalid-option", `draws must be a whole number >= 100, got ${draws}`);
  const plots = mixedDataOf(data);
  const names = new Set(Array.from(plots.hybrid ?? [], String));
  check(names.size >= 2, "not-estimable", `a comparison needs at least 2 hybrids, got ${names.size}`);
  const repeated = repeatsWithinEnvironments(plots);
  const model: MixedOptions = {
    curve,
    hybrids: "curves",
    hybridByEnvironment: repeated ? ["intercept", "slope"] : [],
  };
  const solution = solveMixedResponse(plots, model);
  const { status, message } = remlStatus(solution.model);
  check(status !== "iteration-limit", "not-estimable", message);
  const small = kenwardRoger(solution.model) ?? satterthwaite(solution.model);
  const fit = describeMixed(solution, small.method);
  const ratio = options.prices === undefined ? 0 : priceRatio(options.prices);
  const optima = fit.curves.map(({ hybrid }) =>
    mixedOptimum(fit, {
      hybrid: hybrid as string,
      level,
      ...(options.prices === undefined ? {} : { prices: options.prices }),
      ...(options.between === undefined ? {} : { between: options.between }),
    }),
  );
  const ranks = drawRanks(fit, solution, small, ratio, draws, seed);
  const hybrids = optima.map((optimum, h) => ({
    ...optimum,
    hybrid: optimum.hybrid as string,
    nobs: fit.curves[h].nobs,
    probabilityBest: ranks.best[h] / draws,
    meanRank: ranks.rankSum[h] / draws,
  }));
  const notes = [...fit.notes];
  if (!repeated && fit.environments.length > 1) {
    notes.push(
      "each hybrid fills a place only once per environment: how hybrids vary between environments cannot be told from plot scatter",
    );
  }
  const top = options.pairs === "with-best" ? ranks.best.indexOf(Math.max(...ranks.best)) : null;
  const pairs = differences(fit, solution, small, options, level, ratio, ranks.optima, top);
  return {
    schema: "standcurve/hybrid-comparison/1",
    hybrids,
    tests: [...fixedTests(fit, solution, small), ...randomTests(solution, model)],
    ...pairs,
    rankedBy: options.prices === undefined ? "yield" : "return",
    fit,
    draws,
    seed,
    level,
    notes,
  };
}

function repeatsWithinEnvironments(plots: MixedData): boolean {
  const environments = new Set(Array.from(plots.environment, String)).size;
  const cells = new Set(Array.from(plots.environment, (e, i) => JSON.stringify([String(e), String(plots.hybrid?.[i])])))
    .size;
  return environments > 1 && cells * 3 <= plots.density.length;
}
