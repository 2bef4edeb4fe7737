import { checkShape, type Shape } from "../core/checkShape.ts";
import { checkedRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import { checkCount } from "./chooseDensities.ts";
import type { EnvironmentSpread } from "./drawTrial.ts";
import { type FlexGoal, type FlexPower, flexPower } from "./flexPower.ts";
import { type LodgingGoal, type LodgingPower, lodgingPower } from "./lodgingPower.ts";
import { type BudgetOptions, type PlanBudget, planBudget } from "./planBudget.ts";
import { planCautions } from "./planCautions.ts";
import { checkPlanned, plannedDesign } from "./plannedDesign.ts";
import { type PlotNoise, plotNoise, type SigmaSource } from "./plotNoise.ts";
import { type OptimumPower, optimumPower, type PointSetting } from "./powerPoint.ts";
import { type PriorSource, priorOf } from "./priorOf.ts";
import type { Share } from "./share.ts";

/** What a trial is asked to do; `PowerResult.smallest` is the smallest design that does it. */
export type PowerGoal = "bounded" | "within" | "gain" | "flex" | "lodging";

export interface TrialPowerOptions {
  /** Densities of the trial, or several sets to compare. */
  readonly densities: readonly number[] | readonly (readonly number[])[];
  /** One figure or several to compare; defaults 4 blocks, 1 site, 1 year. */
  readonly blocks?: number | readonly number[];
  readonly sites?: number | readonly number[];
  readonly years?: number | readonly number[];
  /** What may be true about the response. */
  readonly prior: PriorSource;
  /** Standard deviation between plots of a block, or where to take it from. */
  readonly sigma: SigmaSource;
  /** How far the optimum moves between sites and years, standard deviations in density units; default none. */
  readonly spread?: Partial<EnvironmentSpread>;
  /** Level of the intervals; default 0.95. */
  readonly level?: number;
  /** Seed cost per density unit / grain price: the optimum is then the economic one. Default 0. */
  readonly priceRatio?: number;
  /** Asks how often the optimum is known to within this, density units. */
  readonly halfWidth?: number;
  /** Asks how often the trial shows that another rate beats this one. */
  readonly present?: number;
  /** Or: that the best rate beats one that yields so much less (the rate is found on each true curve, below its optimum). */
  readonly gain?: number;
  readonly flex?: FlexGoal;
  readonly lodging?: LodgingGoal;
  readonly budget?: BudgetOptions;
  /** What `smallest` is judged by; default "bounded". */
  readonly goal?: PowerGoal;
  /** Chance that is enough; default 0.8. */
  readonly enough?: number;
  /** Simulated trials for each design; default 2000. */
  readonly simulations?: number;
  /** Start of the random numbers; default 1. All designs meet the same true curves. */
  readonly seed?: number;
  readonly densityUnit?: DensityUnit;
  readonly yieldUnit?: YieldUnit;
  /** Called after each design with the number done and the number in all. */
  readonly onProgress?: (done: number, total: number) => void;
}

/** What `TrialPowerOptions` must look like. */
export const trialPowerOptionsShape: { readonly [property: string]: Shape } = {
  densities: "list",
  blocks: "any?",
  sites: "any?",
  years: "any?",
  prior: "any",
  sigma: "any",
  spread: "any?",
  level: "number?",
  priceRatio: "number?",
  halfWidth: "number?",
  present: "number?",
  gain: "number?",
  flex: "object?",
  lodging: "object?",
  budget: "object?",
  goal: "any?",
  enough: "number?",
  simulations: "count?",
  seed: "number?",
  densityUnit: "text?",
  yieldUnit: "text?",
  onProgress: "function?",
};

/** One design and what can be expected of it. */
export interface PowerPoint {
  readonly densities: readonly number[];
  readonly blocks: number;
  readonly sites: number;
  readonly years: number;
  readonly plots: number;
  readonly optimum: OptimumPower;
  readonly flex: FlexPower | null;
  readonly lodging: LodgingPower | null;
  readonly budget: PlanBudget | null;
}

export interface PowerResult {
  readonly schema: "standcurve/trial-power/1";
  readonly densityUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
  readonly level: number;
  readonly priceRatio: number;
  readonly noise: PlotNoise;
  readonly spread: EnvironmentSpread;
  readonly prior: { readonly source: string; readonly curves: number };
  readonly halfWidth: number | null;
  /** Every combination of densities, blocks, sites and years. */
  readonly points: readonly PowerPoint[];
  readonly goal: PowerGoal;
  readonly enough: number;
  /** Position in `points` of the design with the fewest plots that reaches the goal; null when none does. */
  readonly smallest: number | null;
  readonly simulations: number;
  readonly seed: number;
  readonly notes: readonly string[];
  readonly cautions: readonly string[];
}

const MOST_POINTS = 500;

/**
 * What trials of given designs can be expected to tell, by simulation with the exact fits and intervals of `analyzeTrial`.
 *
 * Every simulated trial takes a true curve from the prior, draws yields, chooses a family by AICc, and puts the envelope interval
 * on the optimum. Environments shift the true curve along the density axis; the analysis pools them with blocks as blocks, so
 * that shifts are error to it. `covered` shows what that does to the interval.
 *
 * @throws AnalysisError `invalid-option` when an option is out of bounds
 * @example
 * const power = trialPower({
 *   densities: [18, 23, 28, 33, 38, 43],
 *   blocks: [4, 8],
 *   prior: { optimum: [34, 34], lossBelow: { distance: 10, loss: 8 }, bestYield: 200, families: { quadratic: 1 } },
 *   sigma: 5,
 *   simulations: 200,
 * });
 * power.points[1].optimum.bounded.value > power.points[0].optimum.bounded.value; // => true
 *
 * Source: precision and power by simulation of the whole analysis; Monte-Carlo errors as in `shareOf`.
 */
export function trialPower(options: TrialPowerOptions): PowerResult {
  checkShape(options, "options", trialPowerOptionsShape, "invalid-option");
  const {
    level = 0.95,
    priceRatio = 0,
    halfWidth,
    present,
    gain,
    goal = "bounded",
    enough = 0.8,
    simulations = 2000,
    seed = 1,
    densityUnit = "1000 plants/ac",
    yieldUnit = "bu/ac",
  } = options;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(enough > 0 && enough < 1, "invalid-option", `enough must be between 0 and 1, got ${enough}`);
  checkedRatio(priceRatio);
  for (const [name, value] of [
    ["halfWidth", halfWidth],
    ["present", present],
    ["gain", gain],
  ] as const)
    check(value === undefined || value > 0, "invalid-option", `${name} must be > 0, got ${value}`);
  check(present === undefined || gain === undefined, "invalid-option", "give present or gain, not both");
  checkCount(simulations, seed);
  checkGoal(goal, options);
  const spread = { site: 0, year: 0, siteYear: 0, ...options.spread };
  for (const [name, value] of Object.entries(spread))
    check(value >= 0 && Number.isFinite(value), "invalid-option", `spread.${name} must be >= 0, got ${value}`);
  const noise = plotNoise(options.sigma, yieldUnit);
  const { curves, source } = priorOf(options.prior);
  const setting: PointSetting = {
    curves,
    sigma: noise.sigma,
    spread,
    level,
    priceRatio,
    halfWidth: halfWidth ?? null,
    present: present ?? null,
    gain: gain ?? null,
    simulations,
    seed,
  };

  const designs = designsOf(options);
  const points = designs.map(({ densities, blocks, sites, years }, i): PowerPoint => {
    const environments = sites * years;
    const planned = plannedDesign(densities, blocks, environments);
    const point: PowerPoint = {
      densities,
      blocks,
      sites,
      years,
      plots: planned.plots,
      optimum: optimumPower(densities, blocks, sites, years, setting),
      flex: options.flex ? flexPower(planned, sites, curves, noise.sigma, spread, level, options.flex, seed) : null,
      lodging: options.lodging ? lodgingPower(planned, level, options.lodging, seed) : null,
      budget: options.budget
        ? planBudget(densities, blocks * environments, environments, densityUnit, options.budget)
        : null,
    };
    options.onProgress?.(i + 1, designs.length);
    return point;
  });
  return {
    schema: "standcurve/trial-power/1",
    densityUnit,
    yieldUnit,
    level,
    priceRatio,
    noise,
    spread,
    prior: { source, curves: curves.length },
    halfWidth: halfWidth ?? null,
    points,
    goal,
    enough,
    smallest: smallestOf(points, goal, enough),
    simulations,
    seed,
    notes: notesOf(points, noise, options),
    cautions: planCautions,
  };
}

/** The chance that a design reaches a goal; null when that was not asked. */
export function goalShare({ optimum, flex, lodging }: PowerPoint, goal: PowerGoal): Share | null {
  switch (goal) {
    case "bounded":
      return optimum.bounded;
    case "within":
      return optimum.within;
    case "gain":
      return optimum.gain?.seen ?? null;
    case "flex":
      return flex?.told ?? null;
    default:
      return lodging?.bounded ?? null;
  }
}

function checkGoal(goal: PowerGoal, { halfWidth, present, gain, flex, lodging }: TrialPowerOptions): void {
  const needs: Readonly<Record<PowerGoal, string | null>> = {
    bounded: null,
    within: halfWidth === undefined ? "halfWidth" : null,
    gain: present === undefined && gain === undefined ? "present or gain" : null,
    flex: flex === undefined ? "flex" : null,
    lodging: lodging === undefined ? "lodging" : null,
  };
  check(goal in needs, "invalid-option", `goal must be one of ${Object.keys(needs).join(", ")}, got "${goal}"`);
  check(needs[goal] === null, "invalid-option", `goal "${goal}" needs the option ${needs[goal]}`);
}

function designsOf({ densities, blocks = 4, sites = 1, years = 1 }: TrialPowerOptions): {
  densities: readonly number[];
  blocks: number;
  sites: number;
  years: number;
}[] {
  check(densities.length > 0, "invalid-option", "densities is empty");
  const sets = (typeof densities[0] === "number" ? [densities] : densities) as readonly (readonly number[])[];
  const list = (value: number | readonly number[]): readonly number[] => {
    const values = typeof value === "number" ? [value] : value;
    checkShape(values, "blocks, sites and years", "numbers", "invalid-option");
    return values;
  };
  for (const set of sets) checkShape(set, "densities", "numbers", "invalid-option");
  const designs = sets.flatMap((set) =>
    list(years).flatMap((y) =>
      list(sites).flatMap((s) =>
        list(blocks).map((b) => ({ densities: [...set].sort((p, q) => p - q), blocks: b, sites: s, years: y })),
      ),
    ),
  );
  check(
    designs.length > 0 && designs.length <= MOST_POINTS,
    "invalid-option",
    `there must be 1 to ${MOST_POINTS} combinations of densities, blocks, sites and years; got ${designs.length}`,
  );
  for (const one of designs) {
    check(
      Number.isInteger(one.sites) && one.sites >= 1 && Number.isInteger(one.years) && one.years >= 1,
      "invalid-option",
      `sites and years must be integers >= 1, got ${one.sites} and ${one.years}`,
    );
    checkPlanned(one.densities, one.blocks, one.sites * one.years);
  }
  return designs;
}

function smallestOf(points: readonly PowerPoint[], goal: PowerGoal, enough: number): number | null {
  let smallest: number | null = null;
  points.forEach((point, i) => {
    const chance = goalShare(point, goal)?.value ?? null;
    if (chance === null || chance < enough) return;
    if (smallest === null || point.plots < points[smallest].plots) smallest = i;
  });
  return smallest;
}

function notesOf(
  points: readonly PowerPoint[],
  noise: PlotNoise,
  { spread, lodging, level = 0.95 }: TrialPowerOptions,
): string[] {
  const notes = [...noise.notes];
  const severalYears = points.some(({ years }) => years > 1);
  const severalSites = points.some(({ sites }) => sites > 1);
  if ((severalYears || severalSites) && spread === undefined)
    notes.push(
      "no spread of the optimum between sites and years was given, so a site counts like more blocks; in truth sites and years also say how far a result carries",
    );
  const least = Math.min(...points.map(({ optimum }) => optimum.covered.value ?? 1));
  if (least < level - 0.05)
    notes.push(
      `where the optimum moves between sites and years, the pooled interval is too short: it holds the optimum of all places in as few as ${Math.round(100 * least)} % of trials`,
    );
  if (points.some(({ densities }) => densities.length < 3))
    notes.push("with two densities only a straight line can be fitted: such a trial never bounds an optimum");
  if (lodging !== undefined)
    notes.push("lodging intervals are simulated without the bootstrap cut-off; the real ones are somewhat wider");
  return notes;
}
