import { checkShape, type Shape } from "../core/checkShape.ts";
import { checkedRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import { curveOf } from "../curves/catalogue.ts";
import { joinDesign } from "../numeric/joinDesign.ts";
import type { DensityUnit, Trial, YieldUnit } from "../trial/trial.ts";
import { type AnalysedCurve, type AnalysedTrial, analysedCurve, analysedTrialShape } from "./analysedTrial.ts";
import { chiSquareDraw } from "./chiSquareDraw.ts";
import { checkCount } from "./chooseDensities.ts";
import type { EnvironmentSpread } from "./drawTrial.ts";
import { envelopeCutoffs } from "./envelopeCutoffs.ts";
import { type LossState, leastLoss } from "./leastLoss.ts";
import { type PastPlots, pastFromAnalysis, pastFromTrial } from "./pastPlots.ts";
import { planCautions } from "./planCautions.ts";
import { plotNoise } from "./plotNoise.ts";
import { type PosteriorOptions, posteriorCurves, posteriorOptionsShape } from "./posteriorCurves.ts";
import { meanOf, type Share, type SimulatedMean, shareOf } from "./share.ts";
import { simulatedAnswer } from "./simulatedAnswer.ts";
import { bestWithin, curveSchedule, shiftCurve, type TruthCurve, trueOptimum } from "./truthCurves.ts";

export interface WhatNextOptions extends PosteriorOptions {
  /** Which hybrid; needed when the analysis has several. */
  readonly hybrid?: string;
  /** The trial behind the analysis: additions then join its own plots. Without it they are rebuilt from the chosen curve. */
  readonly trial?: Trial;
  /** Numbers of further blocks at the present place(s) to consider; default 2 and 4. */
  readonly blocks?: readonly number[];
  /** Numbers of further sites, with as many blocks each as now; default 1 and 2. */
  readonly sites?: readonly number[];
  /** Further densities to consider, one at a time, each in as many new blocks as now; default some beside the present ones. */
  readonly densities?: readonly number[];
  /** How far the optimum moves between sites and years, standard deviations in density units; default none. */
  readonly spread?: Partial<EnvironmentSpread>;
  /** Seed cost per density unit / grain price: the optimum is then the economic one. Default 0. */
  readonly priceRatio?: number;
  readonly level?: number;
  /** Simulated outcomes of each addition; default 500. */
  readonly simulations?: number;
  readonly seed?: number;
}

/** What `WhatNextOptions` must look like. */
export const whatNextOptionsShape: { readonly [property: string]: Shape } = {
  ...posteriorOptionsShape,
  hybrid: "text?",
  trial: "standcurve/trial/1?",
  blocks: "numbers?",
  sites: "numbers?",
  densities: "numbers?",
  spread: "any?",
  priceRatio: "number?",
  level: "number?",
  simulations: "count?",
  seed: "number?",
};

export interface Addition {
  readonly kind: "blocks" | "sites" | "density";
  /** In words, such as "4 more blocks". */
  readonly label: string;
  /** Densities of the new blocks. */
  readonly densities: readonly number[];
  /** New blocks in all, and new places among them. */
  readonly blocks: number;
  readonly sites: number;
  /** The further density; null for blocks and sites. */
  readonly density: number | null;
  readonly plots: number;
  /** Chance that the interval of the optimum is then bounded on both sides. */
  readonly bounded: Share;
  /** Width of the bounded intervals, density units. */
  readonly width: SimulatedMean;
  /** Yield still lost by planting the density of least expected loss then (net of seed at the price ratio). */
  readonly regret: SimulatedMean;
  /** By how much that is less than now, with its Monte-Carlo error. */
  readonly saved: SimulatedMean;
}

export interface WhatNext {
  readonly schema: "standcurve/what-next/1";
  readonly hybrid: string;
  readonly basis: PastPlots["basis"];
  readonly densityUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
  readonly level: number;
  readonly priceRatio: number;
  readonly sigma: number;
  readonly now: {
    readonly plots: number;
    readonly densities: readonly number[];
    readonly blocks: number;
    readonly environments: number;
    readonly bounded: boolean;
    readonly lower: number | null;
    readonly upper: number | null;
    /** Optimum of the curve that AICc chooses, and the yield expected to be lost by planting it. */
    readonly optimum: number;
    readonly optimumRegret: SimulatedMean;
    /** Tested density of least expected loss over the curves that the plots leave possible, and the yield it is expected to lose. */
    readonly rate: number;
    readonly regret: SimulatedMean;
  };
  readonly additions: readonly Addition[];
  /**
   * Positions in `additions`: which raises the chance of a bounded interval most, which saves most yield, and the same for each
   * added plot; null when nothing stands out of the simulation error.
   */
  readonly best: {
    readonly bounded: number | null;
    readonly saved: number | null;
    readonly boundedPerPlot: number | null;
    readonly savedPerPlot: number | null;
  };
  /**
   * The single addition that buys most. While the interval is open: the highest chance to bound it, of those that lose no yield
   * and reach a chance of 0.1. Otherwise: the most yield saved. Null when nothing stands out of the simulation error.
   */
  readonly recommended: number | null;
  readonly simulations: number;
  readonly seed: number;
  readonly notes: readonly string[];
  readonly cautions: readonly string[];
}

/** Above this many different densities (stands that differ between places) the new blocks get evenly spaced ones. */
const MANY_DENSITIES = 9;

/**
 * What one more piece of trial would add to an analysis.
 *
 * Yield saved is that of the decision of least expected loss (see `leastLoss`), now and after, on the same simulated truths.
 *
 * True curves are drawn from what the plots leave possible: see `posteriorCurves`. For every addition its yields are simulated, joined with the plots already grown, and analysed as `analyzeTrial` does. With a
 * `spread` the present places have a deviation of their own that only new places can average out.
 *
 * @param analysis - a `TrialAnalysis`
 * @throws AnalysisError `invalid-option` for an unknown hybrid or an option out of bounds; `not-estimable` when the hybrid could
 * not be analysed
 * @example
 * const next = whatNext(analysis, { hybrid: "Amber 12", blocks: [2, 4], sites: [], densities: [], simulations: 20 });
 * next.additions.map(({ blocks }) => blocks); // => [2, 4]
 *
 * Source: preposterior analysis, e.g. Raiffa & Schlaifer (1961), Applied Statistical Decision Theory, ch. 4.
 */
export function whatNext(analysis: AnalysedTrial, options: WhatNextOptions = {}): WhatNext {
  check(
    analysis?.schema === "standcurve/trial-analysis/1",
    "invalid-data",
    "whatNext needs the result of analyzeTrial",
  );
  checkShape(analysis, "analysis", analysedTrialShape);
  checkShape(options, "options", whatNextOptionsShape, "invalid-option");
  const { priceRatio = 0, simulations = 500, seed = 1 } = options;
  checkCount(simulations, seed);
  checkedRatio(priceRatio);
  const curve = analysedCurve(analysis, options.hybrid);
  const level = options.level ?? curve.agronomic.interval.level;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  const spread = { site: 0, year: 0, siteYear: 0, ...options.spread };
  const noise = plotNoise({ analysis, hybrid: curve.hybrid }, analysis.trial.yieldUnit);
  const past = options.trial ? pastFromTrial(options.trial, curve.hybrid) : pastFromAnalysis(curve);
  const curves = posteriorCurves(past, noise.sigma, curve.meanYield, options);
  const world: World = {
    past,
    curves,
    sigma: noise.sigma,
    spread,
    level,
    priceRatio,
    simulations,
    seed,
    places: curve.environments,
  };

  const now = standing(world, level === curve.agronomic.interval.level && priceRatio === 0 ? curve : null);
  const additions = proposals(curve, options).map((plan) => simulate(world, plan, now.rate));
  const bounded = now.bounded ? 1 : 0;
  const best = {
    bounded: top(additions, ({ bounded: b }) => [(b.value ?? 0) - bounded, b.error ?? 0]),
    saved: top(additions, ({ saved }) => [saved.value ?? 0, saved.error ?? 0]),
    boundedPerPlot: top(additions, ({ bounded: b, plots }) => [
      ((b.value ?? 0) - bounded) / plots,
      (b.error ?? 0) / plots,
    ]),
    savedPerPlot: top(additions, ({ saved, plots }) => [(saved.value ?? 0) / plots, (saved.error ?? 0) / plots]),
  };
  return {
    schema: "standcurve/what-next/1",
    hybrid: curve.hybrid,
    basis: past.basis,
    densityUnit: analysis.trial.densityUnit,
    yieldUnit: analysis.trial.yieldUnit,
    level,
    priceRatio,
    sigma: noise.sigma,
    now: {
      plots: past.plots,
      densities: curve.densities,
      blocks: curve.blocks,
      environments: curve.environments,
      ...now,
    },
    additions,
    best,
    recommended: recommend(additions, now.bounded, best.saved),
    simulations,
    seed,
    notes: notesOf(past, curve, options, noise.notes),
    cautions: planCautions,
  };
}

interface World {
  readonly past: PastPlots;
  readonly curves: readonly TruthCurve[];
  readonly sigma: number;
  readonly spread: EnvironmentSpread;
  readonly level: number;
  readonly priceRatio: number;
  readonly simulations: number;
  readonly seed: number;
  /** Places the past plots stand at. */
  readonly places: number;
}

type Plan = Pick<Addition, "kind" | "label" | "densities" | "blocks" | "sites" | "density" | "plots">;

/** Past rows with new ones behind them, as one design; `at` says which level each new density is. */
function joined(past: PastPlots, newDensities: readonly number[], newBlocks: readonly number[]) {
  const density = [...past.density];
  const block = [...past.block];
  const weight = [...past.weight];
  newBlocks.forEach((blocks, e) => {
    for (const x of newDensities) {
      density.push(x);
      block.push(past.rowBlocks + e);
      weight.push(blocks);
    }
  });
  const rows = past.rowBlocks + newBlocks.length;
  const design = joinDesign(Float64Array.from(density), Int32Array.from(block), rows, Float64Array.from(weight));
  const sums = Float64Array.from(design.levels, (x) => past.sums.get(x) ?? 0);
  const at = newDensities.map((x) => design.levels.indexOf(x));
  return { design, sums, at };
}

/** What the plots already grown say: the interval is that of the analysis when it was asked the same question. */
function standing(
  world: World,
  analysed: AnalysedCurve | null,
): {
  bounded: boolean;
  lower: number | null;
  upper: number | null;
  optimum: number;
  optimumRegret: SimulatedMean;
  rate: number;
  regret: SimulatedMean;
} {
  const { past, curves, sigma, level, priceRatio, simulations, seed, spread, places } = world;
  const { design, sums } = joined(past, [], []);
  // The optimum does not hang on the cut-off; the interval does.
  const answer = simulatedAnswer(design, past.plots, past.blocks, level, priceRatio);
  const cut = { plots: past.plots, blocks: past.blocks, sigma, level, r: priceRatio };
  const { factor, flatFactor } = envelopeCutoffs(design, curves, cut, seed);
  const weight = curves.reduce((sum, one) => sum + one.weight, 0);
  answer.useCutoff(
    curves.reduce((sum, one, c) => sum + (one.weight / weight) * factor[c], 0),
    flatFactor,
  );
  answer.fit(sums, past.total);
  const { pieces, lowerOpen, upperOpen } = answer.envelope();
  const optimum = answer.optimum();
  const { low, span } = design;
  const truths = truthsOf(curves, low, low + span, priceRatio);
  const schedule = curveSchedule(curves, simulations);
  const rates = candidates(past, low, low + span);
  const rate = rates[leastLoss(lossStates(world, null, truths, rates)).now()];
  const lost = (planted: number): SimulatedMean =>
    meanOf(
      Float64Array.from(schedule, (c, i) =>
        truths[c].regret(planted, ownDeviation(spread, places, streamRandom(seed, i))),
      ),
    );
  const common = { optimum, optimumRegret: lost(optimum), rate, regret: lost(rate) };
  if (analysed !== null) {
    const { lower, upper } = analysed.agronomic.interval;
    return { bounded: lower !== null && upper !== null, lower, upper, ...common };
  }
  return {
    bounded: !lowerOpen && !upperOpen && pieces.length > 0,
    lower: lowerOpen || pieces.length === 0 ? null : low + span * pieces[0][0],
    upper: upperOpen || pieces.length === 0 ? null : low + span * pieces[pieces.length - 1][1],
    ...common,
  };
}

/** By how much the present places' own optimum lies above that of all places. */
function ownDeviation(spread: EnvironmentSpread, places: number, random: ReturnType<typeof streamRandom>): number {
  const sd = Math.sqrt(
    (spread.site * spread.site + spread.siteYear * spread.siteYear) / places + spread.year * spread.year,
  );
  return sd > 0 ? sd * random.normal() : 0;
}

/** Regret of a rate: against the best one on the true curve of all places, which is the drawn one moved down by `shift`. */
function truthsOf(curves: readonly TruthCurve[], low: number, high: number, r: number) {
  return curves.map((curve) => {
    const { mean } = curveOf(curve.family);
    const { density } = trueOptimum(curve, r);
    const inside = bestWithin(curve, low, high, r).value;
    const best = density !== null && density > 0 ? Math.max(inside, mean(density, curve.theta) - r * density) : inside;
    // A straight line has no best rate: only what the tested range offers counts.
    return {
      regret: (rate: number, shift: number): number => {
        const x = density === null ? rate : rate + shift;
        return best - (mean(x, curve.theta) - r * x);
      },
    };
  });
}

/** Candidates stand this many to the present range; a step then costs far less than the plots leave unknown. */
const STEPS = 80;

/** Tested densities to decide between. Those of a wider range hold the present ones, so that it offers nothing less. */
function candidates(past: PastPlots, low: number, high: number): number[] {
  const from = Math.min(...past.density);
  const step = (Math.max(...past.density) - from) / STEPS;
  const first = Math.ceil((low - from) / step - 1e-9);
  const last = Math.floor((high - from) / step + 1e-9);
  const inside = Array.from({ length: last - first + 1 }, (_, i) => from + (first + i) * step);
  return [low, ...inside.filter((x) => x > low && x < high), high];
}

/** States drawn where places deviate; their streams are apart from those of the simulated truths. */
const STATES = 3000;
const STATE_STREAMS = 1_000_000;

/** What may be true, given the plots so far: the curves, each with the deviations of the present and the new places where there are any. */
function lossStates(
  { curves, spread, seed, places }: World,
  plan: Plan | null,
  truths: readonly { readonly regret: (rate: number, shift: number) => number }[],
  rates: readonly number[],
): LossState[] {
  const atNewPlaces = plan?.kind === "sites";
  const newPlaces = plan === null ? 0 : atNewPlaces ? plan.sites : 1;
  const moves = spread.site > 0 || spread.year > 0 || spread.siteYear > 0;
  const state = (c: number, weight: number, own: number, shifts: readonly number[]): LossState => ({
    weight,
    expected: shifts.map((shift) => centred(curves[c], plan?.densities ?? [], shift)),
    loss: Float64Array.from(rates, (rate) => truths[c].regret(rate, own)),
  });
  if (!moves) return curves.map(({ weight }, c) => state(c, weight, 0, new Array<number>(newPlaces).fill(0)));
  return Array.from(curveSchedule(curves, STATES), (c, i) => {
    const random = streamRandom(seed, STATE_STREAMS + i);
    const own = ownDeviation(spread, places, random);
    const yearShift = atNewPlaces ? spread.year * random.normal() : 0;
    const shifts = Array.from({ length: newPlaces }, () =>
      atNewPlaces ? placeShift(spread, yearShift, own, random) : 0,
    );
    return state(c, 1, own, shifts);
  });
}

/** Yield at the densities less its average there. */
function centred(curve: TruthCurve, densities: readonly number[], shift: number): Float64Array {
  const { mean } = curveOf(curve.family);
  const theta = shiftCurve(curve, shift);
  const values = Float64Array.from(densities, (x) => mean(x, theta));
  const average = values.reduce((sum, value) => sum + value, 0) / values.length;
  return values.map((value) => value - average);
}

/** The drawn curve is that of the present places; a new place moves from the average of all places. */
function placeShift(
  spread: EnvironmentSpread,
  yearShift: number,
  own: number,
  random: ReturnType<typeof streamRandom>,
): number {
  return yearShift - own + Math.sqrt(spread.site * spread.site + spread.siteYear * spread.siteYear) * random.normal();
}

function simulate(world: World, plan: Plan, before: number): Addition {
  const { past, curves, sigma, spread, level, priceRatio, simulations, seed, places } = world;
  const atNewPlaces = plan.kind === "sites";
  const perPlace = atNewPlaces ? plan.blocks / plan.sites : plan.blocks;
  const newBlocks = new Array<number>(atNewPlaces ? plan.sites : 1).fill(perPlace);
  const { design, sums: base, at } = joined(past, plan.densities, newBlocks);
  const answer = simulatedAnswer(design, past.plots + plan.plots, past.blocks + plan.blocks, level, priceRatio);
  const { low, span } = design;
  const k = plan.densities.length;
  const truths = truthsOf(curves, low, low + span, priceRatio);
  const cut = {
    plots: past.plots + plan.plots,
    blocks: past.blocks + plan.blocks,
    sigma,
    level,
    r: priceRatio,
  };
  const { factor, flatFactor } = envelopeCutoffs(design, curves, cut, seed);
  const schedule = curveSchedule(curves, simulations);
  const rates = candidates(past, low, low + span);
  const rule = leastLoss(lossStates(world, plan, truths, rates));
  const deviations = newBlocks.map(() => new Float64Array(k));
  const sums = new Float64Array(base.length);
  const values = new Float64Array(k);
  const regrets = new Float64Array(simulations);
  const saved = new Float64Array(simulations);
  const widths: number[] = [];
  let bounded = 0;
  for (let i = 0; i < simulations; i++) {
    // One stream for each outcome: the first number is the deviation of the present places, the same for every addition.
    const random = streamRandom(seed, i);
    const own = ownDeviation(spread, places, random);
    const yearShift = atNewPlaces ? spread.year * random.normal() : 0;
    const curve = curves[schedule[i]];
    const { mean } = curveOf(curve.family);
    sums.set(base);
    let total = past.total;
    newBlocks.forEach((blocks, e) => {
      const shift = atNewPlaces ? placeShift(spread, yearShift, own, random) : 0;
      const theta = shiftCurve(curve, shift);
      let average = 0;
      for (let j = 0; j < k; j++) {
        values[j] = mean(plan.densities[j], theta) + (sigma / Math.sqrt(blocks)) * random.normal();
        average += values[j] / k;
      }
      for (let j = 0; j < k; j++) {
        const deviation = values[j] - average;
        deviations[e][j] = deviation;
        sums[at[j]] += blocks * deviation;
        total += blocks * deviation * deviation;
      }
      total += sigma * sigma * chiSquareDraw((blocks - 1) * (k - 1), random);
    });
    answer.useCutoff(factor[schedule[i]], flatFactor);
    answer.fit(sums, total);
    const { pieces, lowerOpen, upperOpen } = answer.envelope();
    if (!lowerOpen && !upperOpen && pieces.length > 0) {
      bounded++;
      widths.push(span * (pieces[pieces.length - 1][1] - pieces[0][0]));
    }
    const truth = truths[schedule[i]];
    regrets[i] = truth.regret(rates[rule.after(deviations, newBlocks, sigma)], own);
    saved[i] = truth.regret(before, own) - regrets[i];
  }
  return {
    ...plan,
    bounded: shareOf(bounded, simulations),
    width: meanOf(widths),
    regret: meanOf(regrets),
    saved: meanOf(saved),
  };
}

/** The additions to look at. */
function proposals(curve: AnalysedCurve, options: WhatNextOptions): Plan[] {
  const own = ownDensities(curve);
  const perPlace = Math.max(1, Math.round(curve.blocks / curve.environments));
  const { blocks = [2, 4], sites = [1, 2], densities = furtherDensities(own) } = options;
  for (const n of [...blocks, ...sites])
    check(
      Number.isInteger(n) && n >= 1 && n <= 100,
      "invalid-option",
      `blocks and sites must be integers from 1 to 100, got ${n}`,
    );
  for (const x of densities) check(x > 0 && Number.isFinite(x), "invalid-option", `densities must be > 0, got ${x}`);
  const plural = (n: number, word: string): string => `${n} more ${word}${n === 1 ? "" : "s"}`;
  return [
    ...blocks.map(
      (n): Plan => ({
        kind: "blocks",
        label: `${plural(n, "block")} at the present place${curve.environments > 1 ? "s" : ""}`,
        densities: own,
        blocks: n,
        sites: 0,
        density: null,
        plots: n * own.length,
      }),
    ),
    ...sites.map(
      (n): Plan => ({
        kind: "sites",
        label: `${plural(n, "site")} with ${perPlace} block${perPlace === 1 ? "" : "s"}${n === 1 ? "" : " each"}`,
        densities: own,
        blocks: n * perPlace,
        sites: n,
        density: null,
        plots: n * perPlace * own.length,
      }),
    ),
    ...densities
      .filter((x) => !own.includes(x))
      .map(
        (x): Plan => ({
          kind: "density",
          label: `${perPlace} more block${perPlace === 1 ? "" : "s"} with ${grouped(x)} as a further density`,
          densities: [...own, x].sort((a, b) => a - b),
          blocks: perPlace,
          sites: 0,
          density: x,
          plots: perPlace * (own.length + 1),
        }),
      ),
  ];
}

function ownDensities({ densities, environments }: AnalysedCurve): number[] {
  const sorted = [...densities].sort((a, b) => a - b);
  if (sorted.length <= MANY_DENSITIES) return sorted;
  const count = Math.min(Math.max(Math.round(sorted.length / environments), 3), MANY_DENSITIES);
  const low = sorted[0];
  const high = sorted[sorted.length - 1];
  return Array.from({ length: count }, (_, i) => low + ((high - low) * i) / (count - 1));
}

/** "45,600", "51.2": as it is said, four digits at the most. */
function grouped(x: number): string {
  return String(Number(x.toPrecision(4))).replace(/\B(?=(\d{3})+$)/g, x < 1000 ? "" : ",");
}

/** One and two mean steps above the highest, one below the lowest, and the middle of the widest gap; to three digits. */
function furtherDensities(own: readonly number[]): number[] {
  const low = own[0];
  const high = own[own.length - 1];
  const step = (high - low) / (own.length - 1);
  let gap = 0;
  for (let i = 1; i + 1 < own.length; i++) if (own[i + 1] - own[i] > own[gap + 1] - own[gap] + 1e-9) gap = i;
  return [low - step, (own[gap] + own[gap + 1]) / 2, high + step, high + 2 * step]
    .filter((x) => x > step / 4)
    .map((x) => Number(x.toPrecision(3)));
}

/** Position of the largest gain; null when no gain exceeds twice its Monte-Carlo error. */
function top(
  additions: readonly Addition[],
  gain: (one: Addition) => readonly [value: number, error: number],
): number | null {
  let best: number | null = null;
  additions.forEach((one, i) => {
    const [value, error] = gain(one);
    if (value <= 2 * error) return;
    if (best === null || value > gain(additions[best])[0]) best = i;
  });
  return best;
}

/** A smaller chance of a bounded interval is not worth a trial for its own sake: our convention. */
const WORTH = 0.1;

function recommend(additions: readonly Addition[], bounded: boolean, mostSaved: number | null): number | null {
  if (bounded) return mostSaved;
  const harmless = ({ saved }: Addition): boolean => (saved.value ?? 0) >= -2 * (saved.error ?? 0);
  const best = top(additions, (one) => (harmless(one) ? [one.bounded.value ?? 0, one.bounded.error ?? 0] : [0, 0]));
  return best !== null && (additions[best].bounded.value ?? 0) >= WORTH ? best : mostSaved;
}

function notesOf(
  past: PastPlots,
  curve: AnalysedCurve,
  { spread }: WhatNextOptions,
  noise: readonly string[],
): string[] {
  const notes = [...noise];
  if (past.basis === "fitted-curve")
    notes.push(
      "the plots already grown were rebuilt from the chosen curve; give the trial itself for figures that rest on its own plots",
    );
  if (spread === undefined)
    notes.push(
      "how far the optimum moves between places and years was not given: further blocks and further sites then count alike, though only sites and years say how far a result carries",
    );
  if (curve.densities.length > MANY_DENSITIES)
    notes.push("stands differ between places; the new blocks were given evenly spaced densities over the same range");
  return notes;
}
