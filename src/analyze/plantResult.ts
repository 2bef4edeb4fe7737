import type { Interval } from "../core/interval.ts";
import type { CrowdingReading, CrowdingResponse } from "../derive/crowdingResponse.ts";
import type { EarComponents } from "../derive/earComponents.ts";

/** Why yield responds to density as it does: what ears and plants do when they are crowded. */
export interface PlantResponse {
  /** Split of the flex score over ear components, by hybrid; null when the file has no such columns (`earsReason`). */
  readonly ears: EarComponents | null;
  /** Why there is no split, or null. */
  readonly earsReason: string | null;
  /** One entry for each trait column, in the order of the file. */
  readonly traits: readonly TraitCrowding[];
  /** Flex of yield and crowding response of every trait side by side, one row for each trait and hybrid. */
  readonly sideBySide: readonly SideBySide[];
  readonly notes: readonly string[];
}

export interface TraitCrowding {
  /** Name of the column. */
  readonly trait: string;
  readonly response: CrowdingResponse;
}

/** One hybrid's yield and one of its traits under crowding. */
export interface SideBySide {
  readonly hybrid: string;
  readonly trait: string;
  /** Plots with both. */
  readonly plots: number;
  /** Flex score of the fitted curve between the common densities; null when there is none. */
  readonly flexScore: number | null;
  /** d ln(yield) / d ln(density) on these plots; null when it cannot be told. */
  readonly yieldSlope: number | null;
  readonly yieldInterval: Interval | null;
  /** d ln(trait) / d ln(density). */
  readonly traitSlope: number | null;
  readonly traitInterval: Interval | null;
  /** Change of the trait, percent, for 10 % more plants. */
  readonly percentPerTenth: number | null;
  readonly reading: CrowdingReading | null;
}
