import { type Economics, priceRatio } from "../core/economics.ts";
import { compareHybrids } from "../mixed/compareHybrids.ts";
import { shrinkHybridCurves } from "../mixed/shrinkHybridCurves.ts";
import { stabilitySlopes } from "../mixed/stabilitySlopes.ts";
import { varianceTable } from "../mixed/varianceTable.ts";
import type { TrialCheck } from "../trial/checkTrial.ts";
import type { Plot, Trial } from "../trial/trial.ts";
import { FEWEST_RANDOM_ENVIRONMENTS } from "./acrossEnvironments.ts";
import { deriveSeed } from "./deriveSeed.ts";
import { fieldTrends } from "./fieldTrends.ts";
import { mixedPlots } from "./mixedPlots.ts";
import { mixedReport } from "./mixedReport.ts";
import type { AnalyzeSettings } from "./options.ts";
import type { OnAxes } from "./result.ts";
import type {
  AdjustedDifference,
  EffectTests,
  HybridStability,
  HybridsCompared,
  HybridsShrunken,
  HybridsTogether,
} from "./togetherResult.ts";
import { unlessRefused, type Withheld, withheld } from "./withheld.ts";

/** From this many hybrids on, how they vary can be estimated, and each may borrow from the rest. */
export const FEWEST_SHRUNKEN_HYBRIDS = 5;

/** Up to this many hybrids every pair is listed; beyond, each with the one most likely to be best. */
const ALL_PAIRS = 12;

/** More hybrids than this are not compared pair by pair: the shrunken curves are their comparison. */
const MOST_COMPARED = 40;

/** Slopes on the level of the environment need this many of them for a hybrid. */
const FEWEST_FOR_STABILITY = 3;

/** Unbalanced tables of variance above this cost (plots x columns^2) are left to the mixed model. */
const LARGEST_TABLE = 1e8;

export interface TogetherInput {
  readonly trial: Trial;
  readonly check: TrialCheck;
  /** Plots with density and yield. */
  readonly plots: readonly Plot[];
  /** Hybrids that have a curve of their own; the others are left out of what compares curves. */
  readonly analysed: ReadonlySet<string>;
  readonly settings: AnalyzeSettings;
  readonly between: readonly [number, number] | null;
  readonly prices: Economics | null;
  readonly axes: (density: number | null) => OnAxes;
}

/** The hybrids of a trial in one model: what interacts, which is best, and what each gains by borrowing from the rest. */
export function hybridsTogether(input: TogetherInput): HybridsTogether {
  const compared = comparedOf(input);
  return {
    tests: testsOf(input, compared),
    compared,
    shrunken: shrunkenOf(input),
    stability: stabilityOf(input),
    fieldTrends: fieldTrends(input),
  };
}

/** The plots of hybrids whose densities carry the curve, the curve, and who was left out. */
function carried({ check, plots, analysed }: TogetherInput): {
  plots: Plot[];
  curve: "linear" | "quadratic";
  hybrids: number;
  leftOut: string[];
} {
  const terms = new Map(check.hybrids.map(({ hybrid, pooled }) => [hybrid, analysed.has(hybrid) ? pooled.terms : 0]));
  const having = (least: number): string[] => [...terms].flatMap(([hybrid, own]) => (own >= least ? [hybrid] : []));
  const curve = having(2).length >= 2 || having(1).length < 2 ? "quadratic" : "linear";
  const kept = new Set(having(curve === "quadratic" ? 2 : 1));
  return {
    plots: plots.filter(({ hybrid }) => kept.has(hybrid)),
    curve,
    hybrids: kept.size,
    leftOut: [...terms.keys()].filter((hybrid) => !kept.has(hybrid)),
  };
}

function leftOutNote(leftOut: readonly string[], curve: string): string[] {
  return leftOut.length === 0 ? [] : [`too few plots or densities for a ${curve} curve: ${leftOut.join(", ")}`];
}

function comparedOf(input: TogetherInput): HybridsCompared | Withheld {
  const { settings, between, prices, axes } = input;
  const { plots, curve, hybrids: count, leftOut } = carried(input);
  if (count < 2)
    return withheld(
      input.check.hybrids.length < 2 ? "there is one hybrid" : "fewer than two hybrids have plots enough for a curve",
    );
  if (count > MOST_COMPARED)
    return withheld(
      `${count} hybrids are too many to compare pair by pair (up to ${MOST_COMPARED}): read the shrunken curves`,
    );
  const seed = deriveSeed(settings.seed, "hybrids together", null);
  const result = unlessRefused(() =>
    compareHybrids(mixedPlots(plots), {
      curve,
      level: settings.level,
      seed,
      pairs: count > ALL_PAIRS ? "with-best" : "all",
      ...(prices === null ? {} : { prices }),
      ...(between === null ? {} : { between }),
    }),
  );
  if ("kind" in result) return result;
  const target = prices === null ? "agronomic" : "economic";
  const hybrids = [...result.hybrids]
    .sort((a, b) => b.probabilityBest - a.probabilityBest || a.meanRank - b.meanRank)
    .map(({ hybrid, nobs, agronomic, economic, flex, probabilityBest, meanRank }) => ({
      hybrid,
      nobs,
      optimum: mixedReport(economic ?? agronomic, axes),
      flex,
      probabilityBest,
      meanRank,
    }));
  const pairs = (all: typeof result.optimumDifferences): AdjustedDifference[] =>
    all.map(({ a, b, ...rest }) => ({ first: a, second: b, ...rest }));
  return {
    kind: "compared",
    curve,
    target,
    rankedBy: result.rankedBy,
    hybrids,
    optimumDifferences: pairs(result.optimumDifferences),
    flexDifferences: pairs(result.flexDifferences),
    yieldDifferences: pairs(result.yieldDifferences),
    tests: result.tests,
    draws: result.draws,
    seed,
    notes: [...result.notes, ...leftOutNote(leftOut, curve)],
  };
}

function testsOf(input: TogetherInput, compared: HybridsCompared | Withheld): EffectTests | Withheld {
  const { trial, settings } = input;
  const table = unlessRefused(() =>
    varianceTable(trial, { level: settings.level, means: false, largest: LARGEST_TABLE }),
  );
  if (!("kind" in table)) {
    const { design, evidence, missingPlots, cvPercent, tests, polynomial, notes } = table;
    return {
      kind: "tested",
      method: "analysis-of-variance",
      design,
      evidence,
      missingPlots,
      cvPercent: cvPercent.plots,
      tests,
      polynomial,
      notes,
    };
  }
  if (compared.kind === "withheld") return table;
  return {
    kind: "tested",
    method: "mixed-model",
    design: null,
    evidence: "the trial is too large and uneven for a table of variance: the tests are those of the mixed model",
    missingPlots: 0,
    cvPercent: null,
    tests: compared.tests,
    polynomial: null,
    notes: [],
  };
}

function shrunkenOf(input: TogetherInput): HybridsShrunken | Withheld {
  const { settings, prices, axes } = input;
  const { plots, curve, hybrids, leftOut } = carried(input);
  if (hybrids < FEWEST_SHRUNKEN_HYBRIDS) {
    return withheld(
      `${hybrids} ${hybrids === 1 ? "hybrid is" : "hybrids are"} too few to see how hybrids vary (${FEWEST_SHRUNKEN_HYBRIDS} are needed)`,
    );
  }
  const result = unlessRefused(() =>
    shrinkHybridCurves(mixedPlots(plots), {
      curve,
      level: settings.level,
      ...(prices === null ? {} : { priceRatio: priceRatio(prices) }),
    }),
  );
  if ("kind" in result) return result;
  if (result.fit.status === "iteration-limit") return withheld(result.fit.message);
  return {
    kind: "shrunken",
    curve,
    target: prices === null ? "agronomic" : "economic",
    spread: result.spread,
    hybrids: result.hybrids.map(({ hybrid, nobs, environments, raw, shrunken, shrinkage }) => ({
      hybrid,
      nobs,
      environments,
      raw: raw === null ? null : mixedReport(raw.optimum, axes),
      shrunken: mixedReport(shrunken.optimum, axes),
      moved: raw === null ? null : shrunken.optimum.density - raw.optimum.density,
      shrinkage,
    })),
    notes: [...result.notes, ...leftOutNote(leftOut, curve)],
  };
}

function stabilityOf({ trial, plots }: TogetherInput): HybridStability | Withheld {
  const grown = new Map<string, Set<string>>();
  for (const { hybrid, environment } of plots) grown.set(hybrid, (grown.get(hybrid) ?? new Set()).add(environment));
  const kept = [...grown].flatMap(([hybrid, places]) => (places.size >= FEWEST_FOR_STABILITY ? [hybrid] : []));
  const own = plots.filter(({ hybrid }) => kept.includes(hybrid));
  const environments = new Set(own.map(({ environment }) => environment)).size;
  if (environments < FEWEST_RANDOM_ENVIRONMENTS)
    return withheld(
      `${environments} environments with such hybrids are too few to see how yields follow the level of the place (${FEWEST_RANDOM_ENVIRONMENTS} are needed)`,
    );
  const result = unlessRefused(() =>
    stabilitySlopes({
      yield: own.map((plot) => plot.yield as number),
      hybrid: own.map(({ hybrid }) => hybrid),
      environment: own.map(({ environment }) => environment),
    }),
  );
  if ("kind" in result) return result;
  const left = trial.hybrids.filter((hybrid) => !kept.includes(hybrid));
  return {
    kind: "slopes",
    slopes: result.slopes,
    notes: [
      ...result.notes,
      ...(left.length === 0 ? [] : [`grown in fewer than ${FEWEST_FOR_STABILITY} environments: ${left.join(", ")}`]),
    ],
  };
}
