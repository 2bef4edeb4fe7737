import type { EconomicOptimum } from "../derive/optimum.ts";
import type { CurveComparison } from "../fit/compareCurves.ts";
import type { OptimumInterval } from "../interval/optimumInterval.ts";
import type { LodgingFit } from "../standability/lodgingFit.ts";
import type { StandabilityLimit } from "../standability/standabilityLimit.ts";
import type { Crop, DensityUnit, LodgingCount, Trial, YieldUnit } from "../trial/trial.ts";
import type { GoalLine } from "./goalCurve.ts";
import type { NitrogenSurface } from "./nitrogenSurface.ts";

/** What a recommendation reads of one curve's analysis. */
export interface CurveInput {
  readonly kind: "analysed";
  readonly hybrid: string;
  readonly environment: string | null;
  readonly plots: number;
  readonly meanYield: number;
  readonly establishment: number | null;
  readonly comparison: CurveComparison;
  readonly chosen: string;
  readonly agronomic?: { readonly interval: OptimumInterval };
  readonly economic: { readonly optimum: EconomicOptimum; readonly interval: OptimumInterval } | null;
  /** How the hybrid stands; null or absent when nothing was recorded, or the analysis left it out. */
  readonly standability?: StandingInput | null;
  /** Response to density and nitrogen; null or absent when the trial did not vary nitrogen. */
  readonly nitrogen?: NitrogenSurface | null;
  readonly seed: number;
}

/** What a recommendation reads of the standability of one curve. */
export interface StandingInput {
  readonly tolerated: number;
  /** The last round first; in each round all kinds of lodging together first, tests of stalks last. */
  readonly lodging: readonly {
    readonly kind: LodgingCount["kind"] | "all";
    readonly last: boolean;
    readonly limit: StandabilityLimit;
    readonly notes: readonly string[];
  }[];
  /** The last count of lodged plants, with the plots behind it; null when there was none. */
  readonly lodgingFit: LodgingFit | null;
}

/** A curve that could not be analysed. */
export interface NoCurveInput {
  readonly kind: "not-estimable";
  readonly hybrid: string;
  readonly environment: string | null;
  readonly reason: string;
}

/**
 * What a recommendation reads of a trial's analysis. A result of `analyzeTrial` fits, before or after a trip through JSON.
 */
export interface AnalysisInput {
  readonly schema: "standcurve/trial-analysis/1";
  readonly settings: {
    readonly level: number;
    readonly prices: {
      readonly grainPrice: number;
      readonly seedCostPerThousand: number;
      readonly yieldCost?: number;
    } | null;
  };
  readonly trial: {
    readonly crop: Crop;
    readonly densityUnit: DensityUnit;
    readonly yieldUnit: YieldUnit;
    readonly densityAxis: Trial["densityAxis"];
    readonly moneyArea: "ac" | "ha" | "m2";
    readonly establishment: number | null;
    readonly environments: readonly string[];
  };
  readonly hybrids: readonly {
    readonly hybrid: string;
    readonly pooled: CurveInput | NoCurveInput;
    readonly environments: readonly (CurveInput | NoCurveInput)[];
    /** What the environments say together; `goalLine` when they are enough to see how the response follows the yield level. */
    readonly acrossEnvironments?: {
      readonly response: { readonly kind: string; readonly goalLine?: GoalLine | null };
    } | null;
  }[];
}
