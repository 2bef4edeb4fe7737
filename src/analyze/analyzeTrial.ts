import type { Economics } from "../core/economics.ts";
import { log10 } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { Issue } from "../core/issue.ts";
import { checkTrial } from "../trial/checkTrial.ts";
import type { Plot, Trial } from "../trial/trial.ts";
import { version } from "../version.ts";
import { acrossEnvironments } from "./acrossEnvironments.ts";
import { analyzeCurve, type CurveOutcome } from "./analyzeCurve.ts";
import { cautionsFor } from "./cautions.ts";
import { compareHybridCurves } from "./compareHybrids.ts";
import type { AcrossEnvironments } from "./environmentsResult.ts";
import { establishmentOf, type Group, groupsOf, usablePlots } from "./groups.ts";
import { hybridsTogether } from "./hybridsTogether.ts";
import { lodgingByHybrid } from "./lodgingByHybrid.ts";
import { axesOf } from "./onAxes.ts";
import { type AnalyzeOptions, settle } from "./options.ts";
import { plantResponse } from "./plantResponse.ts";
import { inTrialUnits, moneyArea } from "./prices.ts";
import type { HybridAnalysis, TrialAnalysis } from "./result.ts";

/**
 * Analyses a density trial: for every hybrid, over all environments and in each, the response curves, the chosen one and why,
 * the agronomic and economic optimum with intervals and near-best range, and the flex score.
 *
 * @param trial - from `readTrial`
 * @param options - see `AnalyzeOptions`; `issues` from reading are carried into the result
 * @returns plain data that survives `JSON.stringify`; the same trial, options and seed give the same bytes on
 *   one engine (engines differ in the last bit of exp and log)
 * @throws AnalysisError `invalid-option` when an option is out of bounds
 * @example
 * const { trial } = readTrial("hybrid,block,stand_k_ac,yield_bu_ac\nA,1,20,170\nA,1,30,200\nA,2,20,175\nA,2,30,198\n");
 * analyzeTrial(trial).hybrids.length; // => 1
 */
export function analyzeTrial(
  trial: Trial,
  options: AnalyzeOptions & { readonly issues?: readonly Issue[] } = {},
): TrialAnalysis {
  check(
    typeof trial === "object" && trial !== null && trial.schema === "standcurve/trial/1",
    "invalid-data",
    "analyzeTrial needs a trial made by readTrial",
  );
  const settings = settle(trial, options);
  const usable = usablePlots(trial);
  const between = settings.between ?? commonRange(usable);
  const groups = groupsOf(trial, settings.byEnvironment);
  const outcomes: CurveOutcome[] = groups.map((group, i) => {
    const outcome = analyzeCurve(trial, group, settings, between);
    options.onProgress?.(
      i + 1,
      groups.length,
      group.environment ? `${group.hybrid}, ${group.environment}` : group.hybrid,
    );
    return outcome;
  });
  const checked = checkTrial(trial);
  const onStand = trial.densityAxis !== "seeding-rate";
  const mixedPrices = (establishment: number | null): Required<Economics> | null =>
    settings.prices === null ? null : inTrialUnits(settings.prices, trial, onStand ? (establishment ?? 1) : 1);
  const across = (group: Group): AcrossEnvironments => {
    const establishment = establishmentOf(group.plots) ?? trial.establishment;
    return acrossEnvironments({
      plots: group.plots,
      terms: checked.hybrids.find(({ hybrid }) => hybrid === group.hybrid)?.pooled.terms ?? 0,
      settings,
      between,
      prices: mixedPrices(establishment),
      axes: axesOf(establishment, onStand),
    });
  };
  const together = settings.mixedModels
    ? hybridsTogether({
        trial,
        check: checked,
        plots: usable,
        analysed: new Set(
          outcomes.flatMap(({ analysis }) =>
            analysis.kind === "analysed" && analysis.environment === null ? [analysis.hybrid] : [],
          ),
        ),
        settings,
        between,
        prices: mixedPrices(trial.establishment),
        axes: axesOf(trial.establishment, onStand),
      })
    : null;
  const pooledGroups = groups.filter(({ environment }) => environment === null);
  const pooled = outcomes.filter((_, i) => groups[i].environment === null);
  const hybrids = pooled.map(
    (outcome, i): HybridAnalysis => ({
      hybrid: outcome.analysis.hybrid,
      pooled: outcome.analysis,
      environments: outcomes
        .map((one) => one.analysis)
        .filter((one) => one.hybrid === outcome.analysis.hybrid && one.environment !== null),
      acrossEnvironments: settings.mixedModels ? across(pooledGroups[i]) : null,
    }),
  );
  const establishmentKnown = trial.establishment !== null;
  return {
    schema: "standcurve/trial-analysis/1",
    version,
    inputHash: trial.inputHash,
    settings,
    trial: {
      crop: trial.crop,
      densityUnit: trial.densityUnit,
      yieldUnit: trial.yieldUnit,
      densityAxis: trial.densityAxis,
      moneyArea: moneyArea(trial.yieldUnit),
      establishment: trial.establishment,
      environments: trial.environments,
      hybrids: trial.hybrids,
      plotsRead: trial.plots.length,
      plotsUsed: usable.length,
      excluded: trial.plots.flatMap(({ row, plot, excluded, yield: grain, density, lodging }) => {
        const counted = settings.standability && density !== null && lodging.length > 0;
        const grainless = counted ? "no yield; its lodging counts are used" : "no yield";
        const reason = excluded ?? (grain === null ? grainless : density === null ? "no density" : null);
        return reason === null ? [] : [{ row, plot, reason }];
      }),
    },
    check: checked,
    issues: options.issues ?? [],
    hybrids,
    comparison: compareHybridCurves(
      pooled,
      between,
      settings.level,
      settings.standability ? lodgingByHybrid(groups) : null,
    ),
    plantResponse: plantResponse(trial, usable, flexScoresOf(hybrids), settings.level),
    together,
    cautions: cautionsFor(
      trial,
      settings.prices !== null,
      establishmentKnown,
      pooled.some(({ analysis }) => (analysis.standability?.lodging.length ?? 0) > 0),
    ),
  };
}

/** Flex scores of the pooled curves that have one, by hybrid. */
function flexScoresOf(hybrids: readonly HybridAnalysis[]): Record<string, number> {
  return Object.fromEntries(
    hybrids.flatMap(({ hybrid, pooled }) =>
      pooled.kind === "analysed" && pooled.flex.flex.score !== null ? [[hybrid, pooled.flex.flex.score]] : [],
    ),
  );
}

/**
 * Densities tested for every hybrid in every environment, from the highest lowest to the lowest highest, rounded inwards to
 * three digits; over environments together when the single ones do not overlap.
 */
function commonRange(plots: readonly Plot[]): readonly [number, number] | null {
  return (
    overlap(plots, (plot) => JSON.stringify([plot.hybrid, plot.environment])) ?? overlap(plots, (plot) => plot.hybrid)
  );
}

function overlap(plots: readonly Plot[], key: (plot: Plot) => string): readonly [number, number] | null {
  const ranges = new Map<string, [number, number]>();
  for (const plot of plots) {
    const x = plot.density as number;
    const range = ranges.get(key(plot));
    ranges.set(key(plot), range ? [Math.min(range[0], x), Math.max(range[1], x)] : [x, x]);
  }
  let low = 0;
  let high = Number.POSITIVE_INFINITY;
  for (const [from, to] of ranges.values()) {
    low = Math.max(low, from);
    high = Math.min(high, to);
  }
  if (!(low > 0 && high > low && Number.isFinite(high))) return null;
  const digits = 2 - Math.floor(log10(low));
  const inwards = (x: number, round: (x: number) => number): number => {
    const rounded = Number(`${round(Number(`${x}e${digits}`))}e${-digits}`);
    return Number.isFinite(rounded) ? rounded : x;
  };
  const rounded: [number, number] = [inwards(low, Math.ceil), inwards(high, Math.floor)];
  return rounded[1] > rounded[0] ? rounded : [low, high];
}
