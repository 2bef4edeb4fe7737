export { analyzeTrial } from "./analyze/analyzeTrial.ts";
export type { AnalyzeOptions, AnalyzeSettings, Prices } from "./analyze/options.ts";
export type {
  CurveAnalysis,
  FlexDifference,
  FlexReport,
  HybridAnalysis,
  HybridComparison,
  NoAnalysis,
  OnAxes,
  OptimumDifference,
  OptimumReport,
  TrialAnalysis,
} from "./analyze/result.ts";
export { AnalysisError, type ErrorCode } from "./core/errors.ts";
export type { Interval, Piece } from "./core/interval.ts";
export type { Issue } from "./core/issue.ts";
export { type RandomStream, streamRandom } from "./core/random.ts";
export { allFamilies, type Family, type InnerFamily, innerFamilies } from "./curves/family.ts";
export { deltaInterval } from "./derive/deltaInterval.ts";
export { type EarCount, earCountYield } from "./derive/earCountYield.ts";
export { compensationElasticity, type FlexOptions, type FlexScore, flexScore } from "./derive/flexScore.ts";
export type { NearBest } from "./derive/nearBest.ts";
export {
  type AgronomicOptions,
  agronomicOptimum,
  type CostOfMissing,
  type EconomicOptimum,
  type EconomicOptions,
  type Economics,
  economicOptimum,
  type Optimum,
  type OptimumKind,
  priceRatio,
} from "./derive/optimum.ts";
export { type BudgetChange, partialBudget } from "./derive/partialBudget.ts";
export { priceSensitivity, type SensitivityCell } from "./derive/sensitivity.ts";
export {
  type AveragedCurve,
  type ChoiceWarning,
  type CompareOptions,
  type CurveComparison,
  type CurveRank,
  compareCurves,
} from "./fit/compareCurves.ts";
export type { CurveFit, FitLimit, FitStatus } from "./fit/curveFit.ts";
export { type FitCurveOptions, fitCurve } from "./fit/fitCurve.ts";
export type { CurveData } from "./fit/fitData.ts";
export { predictCurve } from "./fit/fittedCurve.ts";
export type { LackOfFit } from "./fit/lackOfFit.ts";
export {
  type BootstrapOptions,
  type BootstrapReplicates,
  type BootstrapResult,
  bootstrapCurves,
} from "./interval/bootstrap.ts";
export { type FiellerSet, fiellerSet, type QuadraticEstimates } from "./interval/fieller.ts";
export { type JoinInterval, type JoinIntervalOptions, joinInterval } from "./interval/joinInterval.ts";
export type { BootstrapDistribution } from "./interval/limits.ts";
export { type OptimumInterval, type OptimumIntervalOptions, optimumInterval } from "./interval/optimumInterval.ts";
export { type CropEntry, cropTable } from "./trial/crops.ts";
export { standardMoistureYield } from "./trial/moisture.ts";
export { readTrial, type TrialReading } from "./trial/readTrial.ts";
export { rowLengthForArea, seedingRateFor } from "./trial/stand.ts";
export type { Crop, DensityUnit, LodgingCount, Plot, Trial, YieldUnit } from "./trial/trial.ts";
export {
  type AreaUnit,
  convertDensity,
  convertYield,
  type LengthUnit,
  type MassUnit,
  type Measure,
} from "./trial/units.ts";

export { version } from "./version.ts";
