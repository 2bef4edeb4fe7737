import type { EconomicOptimum } from "../derive/optimum.ts";
import type { CurveComparison } from "../fit/compareCurves.ts";
import type { OptimumInterval } from "../interval/optimumInterval.ts";
import type { Crop, DensityUnit, Trial, YieldUnit } from "../trial/trial.ts";

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
  readonly economic: { readonly optimum: EconomicOptimum; readonly interval: OptimumInterval } | null;
  readonly seed: number;
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
  }[];
}
