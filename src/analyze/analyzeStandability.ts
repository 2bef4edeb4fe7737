import { AnalysisError } from "../core/errors.ts";
import { fitLodgingEnvironments, type LodgingEnvironmentsFit } from "../standability/fitLodgingEnvironments.ts";
import { type LodgingInteraction, lodgingInteraction } from "../standability/lodgingInteraction.ts";
import type { Plot, Trial } from "../trial/trial.ts";
import { countRounds } from "./countRounds.ts";
import { deriveSeed } from "./deriveSeed.ts";
import { type GrossYield, harvestByRound, harvestReport } from "./harvestReport.ts";
import { type LodgingOutcome, lodgingReports } from "./lodgingReports.ts";
import type { AnalyzeSettings } from "./options.ts";
import type { OnAxes } from "./result.ts";
import type { HarvestReport, StandabilityReport } from "./standability.ts";
import { standingOf, type YieldOptimum } from "./standing.ts";
import { ratingReports, traitReports } from "./traitReports.ts";

/** Fewer do not show how environments differ. */
const FEWEST_ENVIRONMENTS = 3;

/** What the yield response says; null when it could not be analysed. */
export interface YieldSide {
  readonly gross: GrossYield;
  readonly optimum: YieldOptimum;
}

/**
 * How one hybrid stands, over all environments or in one: null when nothing about it was recorded or it is not wanted.
 *
 * A block is a block of one environment. The last round of counting, the nearest to harvest, is set against yield.
 *
 * @param plots - plots of the hybrid that are not excluded and have a density, with or without yield
 * @param pooled - all environments together: joint intervals and the limit for new environments are given here only
 */
export function analyzeStandability(
  trial: Trial,
  plots: readonly Plot[],
  settings: AnalyzeSettings,
  seed: number,
  axes: (density: number | null) => OnAxes,
  yieldSide: YieldSide | null,
  pooled: boolean,
): StandabilityReport | null {
  if (!settings.standability) return null;
  const own = deriveSeed(seed, "standability", null);
  const rounds = countRounds(plots);
  const byRound = rounds.map((round, i) => lodgingReports(round, { last: i === 0, pooled }, settings, own, axes));
  const traits = traitReports(trial, plots, settings.level, own, axes);
  const ratings = ratingReports(trial, plots, settings.level);
  const lodging = byRound.flat();
  if (lodging.length === 0 && traits.length === 0 && ratings.length === 0) return null;

  const head = byRound[0]?.[0] ?? null;
  const kind = head?.report.kind;
  const standing = kind !== "push" && kind !== "pinch";
  const rerounds = byRound.flatMap((reports) => reports.filter(({ report }) => report.kind === kind)).reverse();
  return {
    tolerated: settings.toleratedLodging,
    standing: standingOf(head, yieldSide?.optimum ?? null, axes),
    lodging: lodging.map(({ report }) => report),
    lodgingFit: head !== null && standing ? head.fit : null,
    newEnvironment: pooled && head !== null ? newEnvironment(head, settings) : null,
    harvest: harvest(head, standing, yieldSide, rounds[0]?.plots ?? [], settings, own, pooled, axes),
    scenarios:
      yieldSide !== null && standing && rerounds.length > 1 ? harvestByRound(yieldSide.gross, rerounds, settings) : [],
    dateByDensity: rerounds.length > 1 ? dateByDensity(rerounds) : null,
    traits,
    ratings,
    notes: [...new Set(head === null ? [] : [...head.report.notes, ...head.report.fit.notes])],
  };
}

function harvest(
  head: LodgingOutcome | null,
  standing: boolean,
  yieldSide: YieldSide | null,
  plots: readonly Plot[],
  settings: AnalyzeSettings,
  seed: number,
  joint: boolean,
  axes: (density: number | null) => OnAxes,
): HarvestReport {
  const reason =
    head === null
      ? "lodging was not counted"
      : !standing
        ? "stalks that fail a push or pinch test still stand"
        : yieldSide === null
          ? "the yield response could not be analysed"
          : null;
  if (head === null || yieldSide === null || reason !== null)
    return { kind: "not-estimable", reason: reason ?? "there is no yield response" };
  return harvestReport(yieldSide.gross, head, plots, settings, seed, joint, axes);
}

/** The limit where environments are a sample of others; null with too few, without counts, or without a fit. */
function newEnvironment(
  { counts, fit }: LodgingOutcome,
  { toleratedLodging: tolerated, level }: AnalyzeSettings,
): LodgingEnvironmentsFit | null {
  const usable = fit.status === "converged" && counts.examined !== null;
  if (!usable || new Set(counts.environment).size < FEWEST_ENVIRONMENTS) return null;
  try {
    const { density, lodged, examined, environment } = counts;
    const found = fitLodgingEnvironments({ density, lodged, examined, environment }, { tolerated, level });
    return found.limit === null ? null : found;
  } catch (error) {
    if (error instanceof AnalysisError) return null;
    throw error;
  }
}

function dateByDensity(rounds: readonly LodgingOutcome[]): LodgingInteraction | null {
  const all = rounds.flatMap(({ counts }, round) =>
    counts.density.map((density, i) => ({
      density,
      lodged: counts.lodged[i],
      examined: counts.examined === null ? null : counts.examined[i],
      block: counts.block[i],
      group: `round ${round + 1}`,
    })),
  );
  const shares = all.every(({ examined }) => examined === null);
  if (!shares && all.some(({ examined }) => examined === null)) return null;
  return lodgingInteraction({
    density: all.map(({ density }) => density),
    lodged: all.map(({ lodged }) => lodged),
    examined: shares ? null : all.map(({ examined }) => examined),
    block: all.map(({ block }) => block),
    group: all.map(({ group }) => group),
  });
}
