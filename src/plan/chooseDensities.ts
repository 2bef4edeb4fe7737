import { checkShape, type Shape } from "../core/checkShape.ts";
import { checkedRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import { planCautions } from "./planCautions.ts";
import { checkPlanned } from "./plannedDesign.ts";
import { type PlotNoise, plotNoise, type SigmaSource } from "./plotNoise.ts";
import { type PriorSource, priorOf } from "./priorOf.ts";
import {
  type DensityScore,
  type DensityTrial,
  priorSpread,
  type ScoreSetting,
  scoreDensities,
  simulateDensities,
} from "./scoreDensities.ts";
import type { Share } from "./share.ts";
import { type TruthCurve, trueOptimum } from "./truthCurves.ts";

/** What a set of densities can be chosen for. */
export type DensityCriterion = "bounded" | "precision" | "discrimination";

export interface ChooseDensitiesOptions {
  /** What may be true about the response. */
  readonly prior: PriorSource;
  /** Rates the planter can drop: lowest, highest and step; or a list. */
  readonly steps: { readonly from: number; readonly to: number; readonly step: number } | readonly number[];
  /** How many different densities to grow; default 6. */
  readonly count?: number;
  /** Blocks, each with every density once; default 4. */
  readonly blocks?: number;
  /** Sites x years with as many blocks each; default 1. */
  readonly environments?: number;
  /** Standard deviation between plots of a block, or where to take it from. */
  readonly sigma: SigmaSource;
  /** Which criterion the recommended set is best for; default "bounded". */
  readonly criterion?: DensityCriterion;
  /** Sets to compare with, such as last year's. */
  readonly compareWith?: readonly (readonly number[])[];
  /** Insist on a density that is clearly too high (default true); false refuses it and says so. */
  readonly tooHigh?: boolean;
  /** Seed cost per density unit / grain price: precision is then that of the economic optimum. Default 0. */
  readonly priceRatio?: number;
  /** Level of the interval; default 0.95. */
  readonly level?: number;
  /** Simulated trials for each set that reaches the final; default 4000. */
  readonly simulations?: number;
  /** Start of the random numbers; default 1. */
  readonly seed?: number;
  readonly densityUnit?: DensityUnit;
  readonly yieldUnit?: YieldUnit;
}

/** What `ChooseDensitiesOptions` must look like. */
export const chooseDensitiesOptionsShape: { readonly [property: string]: Shape } = {
  prior: "any",
  steps: "any",
  count: "count?",
  blocks: "count?",
  environments: "number?",
  sigma: "any",
  criterion: "text?",
  compareWith: "list?",
  tooHigh: "flag?",
  priceRatio: "number?",
  level: "number?",
  simulations: "count?",
  seed: "number?",
  densityUnit: "text?",
  yieldUnit: "text?",
};

/** A set of densities with everything it was judged by. */
export interface JudgedDensities extends DensityScore, DensityTrial {
  readonly densities: readonly number[];
  readonly plots: number;
  /** Its highest density is clearly too high: see `highestNeeded`. */
  readonly hasTooHigh: boolean;
}

export interface DensityChoice {
  readonly schema: "standcurve/density-choice/1";
  readonly criterion: DensityCriterion;
  readonly densityUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
  readonly steps: readonly number[];
  readonly count: number;
  readonly blocks: number;
  readonly environments: number;
  readonly noise: PlotNoise;
  readonly prior: {
    readonly source: string;
    readonly curves: number;
    readonly optimum: readonly [number, number] | null;
  };
  readonly level: number;
  readonly priceRatio: number;
  /** A density counts as clearly too high from here on; null when that was refused or no curve has an optimum. */
  readonly highestNeeded: number | null;
  /** Sets looked at, all of them. */
  readonly searched: number;
  /** Best for the criterion; sets whose chance is within the noise of the best are told apart by precision. */
  readonly recommended: JudgedDensities;
  readonly best: Readonly<Record<DensityCriterion, JudgedDensities>>;
  /** Evenly spread over all steps, for comparison. */
  readonly even: JudgedDensities;
  readonly compared: readonly JudgedDensities[];
  readonly simulations: number;
  readonly seed: number;
  readonly notes: readonly string[];
  readonly cautions: readonly string[];
}

/** Sets that are simulated: the best so many of the approximation, and the winners of the other criteria. */
const FINALISTS = 80;
const MOST_SETS = 500_000;
/** "Clearly too high" starts this share above the middle of the optima thought possible: our convention, after the spread of +-30 % that a quadratic needs. */
const TOO_HIGH = 1.25;

/**
 * Chooses the densities of a trial by looking at every set that a planter's steps allow.
 *
 * Three criteria, each averaged over the prior: the chance that the envelope interval of the optimum is bounded on both sides;
 * the standard deviation left on the optimum (c-optimality); and the chance that the true curve family is found (T-optimality for
 * one curve). All sets are scored without noise; the best by each criterion are then simulated with the exact fits.
 *
 * @returns the recommended set, the best set for every criterion, and the sets to compare with
 * @throws AnalysisError `invalid-option` when an option is out of bounds or the steps give too many sets
 * @throws AnalysisError `not-offered` when no step is clearly too high and this was not refused
 * @example
 * const choice = chooseDensities({
 *   prior: { optimum: [30, 36], lossBelow: { distance: 10, loss: [6, 10] }, bestYield: 200 },
 *   steps: { from: 16, to: 46, step: 5 },
 *   count: 5,
 *   sigma: 5,
 * });
 * choice.recommended.hasTooHigh; // => true
 *
 * Source: Atkinson, Donev & Tobias (2007), Optimum Experimental Designs, ch. 10, 18, 20.
 */
export function chooseDensities(options: ChooseDensitiesOptions): DensityChoice {
  checkShape(options, "options", chooseDensitiesOptionsShape, "invalid-option");
  const {
    count = 6,
    blocks = 4,
    environments = 1,
    criterion = "bounded",
    compareWith = [],
    tooHigh = true,
    priceRatio = 0,
    level = 0.95,
    simulations = 4000,
    seed = 1,
    densityUnit = "1000 plants/ac",
    yieldUnit = "bu/ac",
  } = options;
  const steps = stepsOf(options.steps);
  check(
    Number.isInteger(count) && count >= 3 && count <= steps.length,
    "invalid-option",
    `count must be an integer from 3 to the number of steps (${steps.length}), got ${count}`,
  );
  checkPlanned(steps, blocks, environments);
  check(
    ["bounded", "precision", "discrimination"].includes(criterion),
    "invalid-option",
    `criterion must be bounded, precision or discrimination, got "${criterion}"`,
  );
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  checkedRatio(priceRatio);
  checkCount(simulations, seed);
  const noise = plotNoise(options.sigma, yieldUnit);
  const { curves, source } = priorOf(options.prior);
  const optima = optimumRange(curves, priceRatio);
  const highestNeeded =
    tooHigh && optima !== null ? Math.max(optima[1], (TOO_HIGH * (optima[0] + optima[1])) / 2) : null;
  check(
    highestNeeded === null || steps[steps.length - 1] >= highestNeeded,
    "not-offered",
    `a trial needs a density that is clearly too high (${round(highestNeeded ?? 0)} or more), but the steps end at ${steps[steps.length - 1]}; add steps, or refuse it with tooHigh: false`,
  );
  const setting: ScoreSetting = {
    curves,
    blocks,
    environments,
    sigma: noise.sigma,
    level,
    priceRatio,
    priorSd: priorSpread(curves, priceRatio),
  };
  const judge = (
    densities: readonly number[],
    score = scoreDensities(densities, setting),
    calibrated = true,
  ): JudgedDensities => ({
    densities,
    plots: densities.length * blocks * environments,
    hasTooHigh: optima !== null && isTooHigh(densities[densities.length - 1], optima),
    ...score,
    ...simulateDensities(densities, setting, simulations, seed, calibrated),
  });

  const { searched, finalists } = search(steps, count, highestNeeded, setting);
  // Finalists are compared at the F cut-off; what is told of a winner is at the simulated one, as in an analysis.
  const judged = finalists.map(({ densities, score }) => judge(densities, score, false));
  const told = ({ densities }: JudgedDensities): JudgedDensities => judge(densities);
  const best = {
    bounded: told(mostLikely(judged, (one) => one.bounded)),
    precision: told(judged.reduce((least, one) => (one.remainingSd < least.remainingSd ? one : least))),
    discrimination: told(mostLikely(judged, (one) => one.familyFound)),
  };
  for (const set of compareWith) checkPlanned(set, blocks, environments);
  const notes = [...noise.notes];
  if (!tooHigh)
    notes.push("a density that is clearly too high was refused: the upper end of the optimum may stay open");
  if (optima === null) notes.push("no curve of the prior has an optimum, so nothing says which density is too high");
  return {
    schema: "standcurve/density-choice/1",
    criterion,
    densityUnit,
    yieldUnit,
    steps,
    count,
    blocks,
    environments,
    noise,
    prior: { source, curves: curves.length, optimum: optima },
    level,
    priceRatio,
    highestNeeded,
    searched,
    recommended: best[criterion],
    best,
    even: judge(evenSet(steps, count)),
    compared: compareWith.map((set) => judge([...set].sort((a, b) => a - b))),
    simulations,
    seed,
    notes,
    cautions: planCautions,
  };
}

interface Scored {
  readonly densities: readonly number[];
  readonly score: DensityScore;
}

/** Goes through all sets of `count` steps; the best of every criterion go on to be simulated. */
function search(
  steps: readonly number[],
  count: number,
  highestNeeded: number | null,
  setting: ScoreSetting,
): { searched: number; finalists: Scored[] } {
  const sets = combinations(steps.length, count);
  check(
    sets <= MOST_SETS,
    "invalid-option",
    `${steps.length} steps give ${sets} sets of ${count}, more than ${MOST_SETS}; use coarser steps or fewer densities`,
  );
  let searched = 0;
  const bounded = keepBest(FINALISTS, (one) => -one.score.boundedApproximation);
  const precise = keepBest(1, (one) => one.score.remainingSd);
  const telling = keepBest(FINALISTS / 2, (one) => -one.score.discrimination);
  const index = Int32Array.from({ length: count }, (_, i) => i);
  for (;;) {
    const densities = Array.from(index, (i) => steps[i]);
    if (highestNeeded === null || densities[count - 1] >= highestNeeded) {
      searched++;
      const one = { densities, score: scoreDensities(densities, setting) };
      for (const list of [bounded, precise, telling]) list.offer(one);
    }
    let i = count - 1;
    while (i >= 0 && index[i] === steps.length - count + i) i--;
    if (i < 0) break;
    index[i]++;
    for (let j = i + 1; j < count; j++) index[j] = index[j - 1] + 1;
  }
  return { searched, finalists: [...new Set([...bounded.list(), ...precise.list(), ...telling.list()])] };
}

/** Keeps the `size` sets with the smallest cost; of equal ones the first offered. */
function keepBest(size: number, cost: (one: Scored) => number): { offer(one: Scored): void; list(): Scored[] } {
  let kept: Scored[] = [];
  const trim = (): void => {
    kept = kept.sort((a, b) => cost(a) - cost(b)).slice(0, size);
  };
  return {
    offer(one) {
      kept.push(one);
      if (kept.length > 4 * size + 16) trim();
    },
    list() {
      trim();
      return kept;
    },
  };
}

/** The set with the highest simulated chance; of those within two Monte-Carlo errors of it, the most precise. */
function mostLikely(sets: readonly JudgedDensities[], chance: (one: JudgedDensities) => Share): JudgedDensities {
  const value = (one: JudgedDensities): number => chance(one).value ?? 0;
  const top = sets.reduce((best, one) => (value(one) > value(best) ? one : best));
  const floor = value(top) - 2 * (chance(top).error ?? 0);
  return sets
    .filter((one) => value(one) >= floor)
    .reduce((best, one) => (one.remainingSd < best.remainingSd ? one : best));
}

function stepsOf(steps: ChooseDensitiesOptions["steps"]): number[] {
  if ("from" in steps) {
    const { from, to, step } = steps;
    check(
      from > 0 && to > from && step > 0 && Number.isFinite(to),
      "invalid-option",
      `steps need 0 < from < to and step > 0, got ${from} to ${to} by ${step}`,
    );
    const last = Math.floor((to - from) / step + 1e-9);
    check(last <= 200, "invalid-option", `steps from ${from} to ${to} by ${step} are more than 200`);
    // Steps in decimal units (0.1) are rounded back to what a person would write.
    return Array.from({ length: last + 1 }, (_, i) => Number((from + i * step).toPrecision(12)));
  }
  checkShape(steps, "steps", "numbers", "invalid-option");
  return [...steps].sort((a, b) => a - b);
}

/** `count` steps as evenly spread as the steps allow. */
function evenSet(steps: readonly number[], count: number): number[] {
  return Array.from({ length: count }, (_, i) => steps[Math.round((i * (steps.length - 1)) / (count - 1))]);
}

/** Optima thought possible: from the 2 % to the 98 % point of their weights, so that far-away curves of a posterior do not rule. */
function optimumRange(curves: readonly TruthCurve[], r: number): [number, number] | null {
  const optima = curves.flatMap((curve) => {
    const { density } = trueOptimum(curve, r);
    return density === null ? [] : [{ density, weight: curve.weight }];
  });
  if (optima.length === 0) return null;
  optima.sort((a, b) => a.density - b.density);
  const total = optima.reduce((sum, { weight }) => sum + weight, 0);
  const at = (p: number): number => {
    let sum = 0;
    for (const { density, weight } of optima) {
      sum += weight;
      if (sum >= p * total) return density;
    }
    return optima[optima.length - 1].density;
  };
  return [at(0.02), at(0.98)];
}

function isTooHigh(density: number, [low, high]: readonly [number, number]): boolean {
  return density >= high && density >= (TOO_HIGH * (low + high)) / 2;
}

function combinations(n: number, k: number): number {
  let count = 1;
  for (let i = 1; i <= k; i++) count = (count * (n - k + i)) / i;
  return Math.round(count);
}

/** Guards shared by all simulations. */
export function checkCount(simulations: number, seed: number): void {
  check(
    Number.isInteger(simulations) && simulations >= 1 && simulations <= 10_000_000,
    "invalid-option",
    `simulations must be an integer from 1 to 10,000,000, got ${simulations}`,
  );
  check(Number.isSafeInteger(seed) && seed >= 0, "invalid-option", `seed must be an integer >= 0, got ${seed}`);
}

const round = (value: number): string => String(Number(value.toPrecision(3)));
