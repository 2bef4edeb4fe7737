import type { Interval } from "../core/interval.ts";
import type { Issue } from "../core/issue.ts";
import type { Family } from "../curves/family.ts";
import type { FlexScore } from "../derive/flexScore.ts";
import type { EconomicOptimum, Optimum } from "../derive/optimum.ts";
import type { SensitivityCell } from "../derive/sensitivity.ts";
import type { AveragedCurve, CurveComparison } from "../fit/compareCurves.ts";
import type { BootstrapDistribution } from "../interval/limits.ts";
import type { OptimumInterval } from "../interval/optimumInterval.ts";
import type { ScalarInterval } from "../interval/scalarInterval.ts";
import type { NitrogenSurface } from "../recommend/nitrogenSurface.ts";
import type { LodgingInteraction } from "../standability/lodgingInteraction.ts";
import type { TrialCheck } from "../trial/checkTrial.ts";
import type { Crop, DensityUnit, Trial, YieldUnit } from "../trial/trial.ts";
import type { AcrossEnvironments } from "./environmentsResult.ts";
import type { AnalyzeSettings } from "./options.ts";
import type { PlantResponse } from "./plantResult.ts";
import type { Scrutiny } from "./scrutinise.ts";
import type { StandabilityReport } from "./standability.ts";
import type { HybridsTogether } from "./togetherResult.ts";

/** One density on both axes; null where establishment is unknown. */
export interface OnAxes {
  readonly stand: number | null;
  readonly seedingRate: number | null;
}

/** An optimum of the chosen curve with everything that says how far to trust it. */
export interface OptimumReport<O extends Optimum> {
  readonly optimum: O;
  readonly axes: OnAxes;
  /** Headline: the envelope over all families. */
  readonly interval: OptimumInterval;
  /** Ends of the headline interval on both axes; null ends are open. */
  readonly intervalAxes: { readonly lower: OnAxes; readonly upper: OnAxes };
  /** Profile interval of the chosen family alone; too short after choosing, shown for comparison. */
  readonly chosenFamilyInterval: OptimumInterval | null;
  /** Headline width / chosen-family width; null when either is open. */
  readonly widthRatio: number | null;
  /** Selection-inclusive bootstrap of the same optimum; null without it. */
  readonly bootstrap: BootstrapDistribution | null;
  /** Optimum of the curve averaged over families with Akaike weights. */
  readonly averaged: AveragedCurve["optimum"] | null;
}

/** What one set of plots says about one hybrid. */
export interface CurveAnalysis {
  readonly kind: "analysed";
  readonly hybrid: string;
  /** Null: all environments together, each environment's blocks as blocks. */
  readonly environment: string | null;
  readonly plots: number;
  readonly environments: number;
  readonly blocks: number;
  readonly densities: readonly number[];
  readonly meanYield: number;
  /** Residual standard deviation of the chosen curve / mean yield, percent; null without residual degrees of freedom. */
  readonly cvPercent: number | null;
  readonly establishment: number | null;
  readonly comparison: CurveComparison;
  readonly chosen: Family;
  /** Why that family, in one sentence. */
  readonly reason: string;
  readonly agronomic: OptimumReport<Optimum>;
  /** Null without prices. */
  readonly economic: OptimumReport<EconomicOptimum> | null;
  readonly flex: FlexReport;
  /** Yield gained by 1,000 more plants per area of the yield unit, on the chosen curve. */
  readonly marginal: readonly { readonly density: number; readonly yieldPerThousand: number }[];
  readonly sensitivity: readonly SensitivityCell[];
  /** How the hybrid stands; null when nothing about it was recorded, or it was not wanted. */
  readonly standability: StandabilityReport | null;
  /** Yield over density and nitrogen; null unless the file has a nitrogen column with three rates or more. */
  readonly nitrogen: NitrogenSurface | null;
  /** What the decision hangs on; null in single environments, without residual degrees of freedom, or when not wanted. */
  readonly scrutiny: Scrutiny | null;
  /** Seed of this curve's random numbers, derived from the seed of the analysis and the names. */
  readonly seed: number;
}

/** An interval with the reason of an open end. */
export type FlexInterval = Omit<ScalarInterval, "family">;

export interface FlexReport {
  readonly flex: FlexScore;
  /** Envelope of the score: its values on all curves that fit within the cut-off; null without a score. */
  readonly interval: FlexInterval | null;
  /** Second opinion: the replicates behind the comparison of hybrids; their limits cover 91 to 94 % (bench/coverage.md). */
  readonly bootstrap: BootstrapDistribution | null;
  /** Our words for the score, by the thresholds in the documentation; null without a score. */
  readonly group: "needs plants" | "partly makes up" | "makes up" | "crowds" | null;
}

/** A curve that could not be analysed, and why. */
export interface NoAnalysis {
  readonly kind: "not-estimable";
  readonly hybrid: string;
  readonly environment: string | null;
  readonly plots: number;
  readonly reason: string;
  /** Lodging can be judged without a yield curve. */
  readonly standability: StandabilityReport | null;
}

export interface HybridAnalysis {
  readonly hybrid: string;
  readonly pooled: CurveAnalysis | NoAnalysis;
  /** By environment, when there are several. */
  readonly environments: readonly (CurveAnalysis | NoAnalysis)[];
  /** What they say together about environments to come; null when mixed models were not wanted. */
  readonly acrossEnvironments: AcrossEnvironments | null;
}

/** Difference of two hybrids' flex scores, from independent replicates. */
export interface FlexDifference {
  readonly first: string;
  readonly second: string;
  /** Score of first - score of second. */
  readonly difference: number;
  readonly interval: Interval;
  /** Share of replicates in which the first has the higher score; equal ones count half. */
  readonly probability: number;
}

/** Which of two hybrids has its agronomic optimum at the higher density, from independent replicates. */
export interface OptimumDifference {
  readonly first: string;
  readonly second: string;
  /** Optimum of first - optimum of second, density units; null when either is not inside the tested range. */
  readonly difference: number | null;
  /**
   * Share of replicates in which the first has the higher optimum. An optimum at or beyond an end counts as that end; equal ones,
   * and replicates without response, count half.
   */
  readonly probability: number;
}

export interface HybridComparison {
  /** Reference densities, the same for all; null when the tested ranges do not overlap. */
  readonly between: readonly [number, number] | null;
  /** Hybrids by falling flex score. */
  readonly byFlex: readonly string[];
  readonly differences: readonly FlexDifference[];
  /** Do the hybrids' lodging shares respond to density alike? Null when fewer than two were counted, or more than twelve. */
  readonly lodging: LodgingInteraction | null;
  /** The same pairs by agronomic optimum. */
  readonly optimumDifferences: readonly OptimumDifference[];
  readonly note: string | null;
}

/** The whole result: plain data, no NaN, no Infinity; open ends are null with a flag. */
export interface TrialAnalysis {
  readonly schema: "standcurve/trial-analysis/1";
  readonly version: string;
  readonly inputHash: string | null;
  readonly settings: AnalyzeSettings;
  readonly trial: {
    readonly crop: Crop;
    readonly densityUnit: DensityUnit;
    readonly yieldUnit: YieldUnit;
    readonly densityAxis: Trial["densityAxis"];
    readonly moneyArea: "ac" | "ha" | "m2";
    readonly establishment: number | null;
    readonly environments: readonly string[];
    readonly hybrids: readonly string[];
    readonly plotsRead: number;
    readonly plotsUsed: number;
    readonly excluded: readonly { readonly row: number; readonly plot: string | null; readonly reason: string }[];
  };
  readonly check: TrialCheck;
  readonly issues: readonly Issue[];
  readonly hybrids: readonly HybridAnalysis[];
  readonly comparison: HybridComparison;
  /** Ear components and crowding responses of plant traits; null when no such column was recorded. */
  readonly plantResponse: PlantResponse | null;
  /** All hybrids and environments in one model; null when mixed models were not wanted. */
  readonly together: HybridsTogether | null;
  readonly cautions: readonly string[];
}
