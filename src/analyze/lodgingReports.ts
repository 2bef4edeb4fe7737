import { fitLodging } from "../standability/fitLodging.ts";
import { type LodgingCounts, lodgingCounts } from "../standability/lodgingCounts.ts";
import type { LodgingFit } from "../standability/lodgingFit.ts";
import { standabilityFlags } from "../standability/standabilityFlags.ts";
import { standabilityLimit } from "../standability/standabilityLimit.ts";
import type { LodgingCount } from "../trial/trial.ts";
import type { CountRound } from "./countRounds.ts";
import { deriveSeed } from "./deriveSeed.ts";
import type { AnalyzeSettings } from "./options.ts";
import type { OnAxes } from "./result.ts";
import type { LodgingKind, LodgingReport, LodgingSummary } from "./standability.ts";

/** A report with the counts and the fit behind it, which do not go into the result. */
export interface LodgingOutcome {
  readonly report: LodgingReport;
  readonly counts: LodgingCounts;
  readonly fit: LodgingFit;
}

const natural: readonly LodgingCount["kind"][] = ["stalk", "root", "green-snap", "any"];
const tests: readonly LodgingCount["kind"][] = ["push", "pinch"];

/** Resamples of the limits and flags: enough for a 95 % cut-off, few enough for many hybrids. */
const MOST_RESAMPLES = 499;
/** The same for a single environment, of which there are many. */
const MOST_IN_ONE = 199;
/** The bootstrap refuses fewer. */
const LEAST_RESAMPLES = 99;

/** Resamples of a standability bootstrap; 0 leaves it out. */
export function lodgingResamples({ resamples }: AnalyzeSettings, pooled: boolean): number {
  const most = pooled ? MOST_RESAMPLES : MOST_IN_ONE;
  return resamples === 0 ? 0 : Math.min(Math.max(resamples, LEAST_RESAMPLES), most);
}

/** Kinds reported for some counts: with several natural kinds `all` stands for a count without a kind; tests come last. */
export function kindsOf(counts: readonly LodgingCount[]): LodgingKind[] {
  const found = new Set(counts.map(({ kind }) => kind));
  const lodged = natural.filter((kind) => found.has(kind));
  const named: LodgingKind[] = lodged.length > 1 ? ["all", ...lodged.filter((kind) => kind !== "any")] : lodged;
  return [...named, ...tests.filter((kind) => found.has(kind))];
}

/** Fit, limit and flags of every kind counted in one round. */
export function lodgingReports(
  { time, plots, missed }: CountRound,
  { last, pooled }: { readonly last: boolean; readonly pooled: boolean },
  settings: AnalyzeSettings,
  seed: number,
  axes: (density: number | null) => OnAxes,
): LodgingOutcome[] {
  return kindsOf(plots.flatMap(({ lodging }) => lodging)).flatMap((kind) => {
    const counts = lodgingCounts(plots, { kind });
    if (counts.density.length === 0) return [];
    const fit = fitLodging(counts);
    const resamples = lodgingResamples(settings, pooled);
    const { toleratedLodging: tolerated, level } = settings;
    const random = { resamples: Math.max(resamples, LEAST_RESAMPLES), seed: deriveSeed(seed, kind, time.date) };
    const quick = resamples === 0;
    const limit = standabilityLimit(fit, { tolerated, level, ...random, ...(quick ? { method: "profile" } : {}) });
    const flags = standabilityFlags(fit, { tolerated, level, ...random, ...(quick ? { method: "wald" } : {}) });
    const total = (values: readonly number[]): number => values.reduce((sum, value) => sum + value, 0);
    const left = missed > 0 ? [`${missed} plots counted at another time were not counted in this round.`] : [];
    const report: LodgingReport = {
      kind,
      time,
      last,
      plots: counts.density.length,
      lodged: counts.examined === null ? null : total(counts.lodged),
      examined: counts.examined === null ? null : total(counts.examined),
      fit: summary(fit),
      limit,
      axes: axes(limit.density),
      intervalAxes: { lower: axes(limit.interval?.lower ?? null), upper: axes(limit.interval?.upper ?? null) },
      flags,
      notes: [...counts.notes, ...left],
    };
    return [{ report, counts, fit }];
  });
}

function summary(fit: LodgingFit): LodgingSummary {
  const { data: _data, working: _working, fitted: _fitted, blockEffects: _blocks, ...rest } = fit;
  return rest;
}
