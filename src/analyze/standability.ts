import type { Interval } from "../core/interval.ts";
import type { CrowdingSlope } from "../standability/crowdingSlope.ts";
import type { BrokenLineFit } from "../standability/fitBrokenLine.ts";
import type { LodgingEnvironmentsFit } from "../standability/fitLodgingEnvironments.ts";
import type { RatingsFit } from "../standability/fitRatings.ts";
import type { HarvestableOptimum } from "../standability/harvestableOptimum.ts";
import type { HarvestScenario } from "../standability/harvestScenarios.ts";
import type { LodgingFit } from "../standability/lodgingFit.ts";
import type { LodgingInteraction } from "../standability/lodgingInteraction.ts";
import type { StandabilityFlags } from "../standability/standabilityFlags.ts";
import type { StandabilityLimit } from "../standability/standabilityLimit.ts";
import type { LodgingCount, StandMeasure } from "../trial/trial.ts";
import type { OnAxes } from "./result.ts";

/** One kind of lodging, or `all`: lodged in any way. Push and pinch tests are never part of `all`. */
export type LodgingKind = LodgingCount["kind"] | "all";

/** A lodging fit without the plots it came from. */
export type LodgingSummary = Omit<LodgingFit, "data" | "working" | "fitted" | "blockEffects">;

/** When the plants were looked at. Plots of one round of counting may have been visited on several days. */
export interface CountTime {
  /** The date, or "first to last"; null when the file gives none. */
  readonly date: string | null;
  /** Smallest and largest number of days from maturity; null when the file gives none. */
  readonly daysAfterMaturity: readonly [number, number] | null;
}

/** What one kind of lodging says, as counted in one round. */
export interface LodgingReport {
  readonly kind: LodgingKind;
  readonly time: CountTime;
  /** The last round: the nearest to harvest. */
  readonly last: boolean;
  readonly plots: number;
  /** Plants, over all plots; null when only shares are known. */
  readonly lodged: number | null;
  readonly examined: number | null;
  readonly fit: LodgingSummary;
  readonly limit: StandabilityLimit;
  readonly axes: OnAxes;
  readonly intervalAxes: { readonly lower: OnAxes; readonly upper: OnAxes };
  readonly flags: StandabilityFlags;
  readonly notes: readonly string[];
}

/**
 * How a trait changes with density, at the confidence level of the analysis: `break`: it falls beyond a density (broken line
 * better than straight, falling on its right and steeper there); `throughout`: it falls over the whole tested range; `rises`;
 * `none`: no change is shown; `untested`: too few plots or densities.
 */
export interface TraitDecline {
  readonly kind: "break" | "throughout" | "rises" | "none" | "untested";
  /** Where the decline begins; null unless `break`. */
  readonly density: number | null;
  readonly axes: OnAxes;
  readonly interval: Interval | null;
}

export interface TraitReport {
  readonly name: string;
  readonly measure: StandMeasure;
  readonly unit: string | null;
  readonly plots: number;
  readonly mean: number;
  readonly brokenLine: BrokenLineFit;
  /** Null when some value is 0, so that it has no logarithm. */
  readonly crowding: CrowdingSlope | null;
  readonly decline: TraitDecline;
}

export interface RatingReport {
  readonly name: string;
  readonly scale: readonly [lowest: number, highest: number];
  readonly worst: number;
  readonly plots: number;
  readonly fit: RatingsFit;
  /** Middle of the scale: a plot rated worse than this is called poor in the report. */
  readonly middle: number;
}

/** Yield that can be harvested beside the gross one, or why it cannot be had. */
export type HarvestReport =
  | {
      readonly kind: "estimated";
      readonly optimum: HarvestableOptimum;
      /** The harvestable optima on both axes. */
      readonly axes: { readonly agronomic: OnAxes; readonly economic: OnAxes | null };
    }
  | { readonly kind: "not-estimable"; readonly reason: string };

/** What decides the density: the yield response or standability. */
export interface Standing {
  /** Kind of lodging it rests on; null when nothing was counted. */
  readonly basis: LodgingKind | null;
  /** Which optimum of the yield response is compared: the economic one when there are prices. */
  readonly target: "economic" | "agronomic";
  readonly yieldOptimum: number | null;
  readonly limit: number | null;
  readonly limitKind: StandabilityLimit["kind"] | null;
  readonly binds: "standability" | "yield" | "undecided";
  /** The ranges of the two overlap, so that which one binds is not settled; null when either has no range. */
  readonly overlap: boolean | null;
  /** The lower of the two: as far as the yield response goes without giving up standability. Null when undecided. */
  readonly density: number | null;
  readonly axes: OnAxes;
  /** Fitted lodged share at the yield optimum. */
  readonly shareAtOptimum: number | null;
  /** The verdict in words, without figures. */
  readonly reason: string;
}

/** How one hybrid stands: lodging, stalks, ratings, and what that means for the density. */
export interface StandabilityReport {
  readonly tolerated: number;
  readonly standing: Standing;
  /** One entry per kind and round of counting, the last round first; in each round `all` first. */
  readonly lodging: readonly LodgingReport[];
  /**
   * Fit of the last count of lodged plants with the counts behind it, so that a limit for any tolerated share can be found from
   * the result alone; null when only tests were made or nothing was counted.
   */
  readonly lodgingFit: LodgingFit | null;
  /** With three environments or more: the limit for an environment not tested. */
  readonly newEnvironment: LodgingEnvironmentsFit | null;
  readonly harvest: HarvestReport;
  /** The harvestable optimum by round of counting, when there are several. */
  readonly scenarios: readonly HarvestScenario[];
  /** Does lodging respond to density alike in all rounds? The same plots are counted again, so this is a guide only. */
  readonly dateByDensity: LodgingInteraction | null;
  readonly traits: readonly TraitReport[];
  readonly ratings: readonly RatingReport[];
  readonly notes: readonly string[];
}
