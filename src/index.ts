export { analyzeTrial } from "./analyze/analyzeTrial.ts";
export type {
  AcrossEnvironments,
  EnvironmentResponse,
  GoalAnswer,
  GoalRefusal,
  MixedOptimumReport,
  NewEnvironment,
  YieldClasses,
  YieldClassReport,
} from "./analyze/environmentsResult.ts";
export type { AnalyzeOptions, AnalyzeSettings, Prices } from "./analyze/options.ts";
export type { PlantResponse, SideBySide, TraitCrowding } from "./analyze/plantResult.ts";
export { readAnalysis } from "./analyze/readAnalysis.ts";
export type {
  CurveAnalysis,
  FlexDifference,
  FlexInterval,
  FlexReport,
  HybridAnalysis,
  HybridComparison,
  NoAnalysis,
  OnAxes,
  OptimumDifference,
  OptimumReport,
  TrialAnalysis,
} from "./analyze/result.ts";
export { trialAnalysisSchema } from "./analyze/schema.ts";
export type {
  CountTime,
  HarvestReport,
  LodgingKind,
  LodgingReport,
  LodgingSummary,
  RatingReport,
  StandabilityReport,
  Standing,
  TraitDecline,
  TraitReport,
} from "./analyze/standability.ts";
export type {
  AdjustedDifference,
  EffectTests,
  FieldTrendReport,
  FieldTrends,
  HybridStability,
  HybridsCompared,
  HybridsShrunken,
  HybridsTogether,
  TrendOutcome,
} from "./analyze/togetherResult.ts";
export type { Withheld } from "./analyze/withheld.ts";
export { analyzeGroup, analyzeGroupText } from "./batch/analyzeGroup.ts";
export { type AnalyzeManyOptions, analyzeMany } from "./batch/analyzeMany.ts";
export { type GroupExecutor, serialExecutor, WorkerLost } from "./batch/executor.ts";
export { type GroupHead, groupHead } from "./batch/groupHead.ts";
export type { GroupBy, GroupInput, GroupOptions, GroupTable, PlotColumns } from "./batch/groupInput.ts";
export type { GroupResult } from "./batch/groupResult.ts";
export type { PlotRecord } from "./batch/rowSource.ts";
export { type BatchProgress, type GroupLine, type RunOptions, runGroups, type StopSignal } from "./batch/runGroups.ts";
export { serveGroups, type WorkerScope } from "./batch/serveGroups.ts";
export { shardOf } from "./batch/shardOf.ts";
export { type WebWorkerLike, webWorkers } from "./batch/webWorkers.ts";
export { type WorkerPort, workerPool } from "./batch/workerPool.ts";
export { type Economics, priceRatio } from "./core/economics.ts";
export { AnalysisError, type ErrorCode } from "./core/errors.ts";
export type { Interval, Piece } from "./core/interval.ts";
export type { Issue } from "./core/issue.ts";
export { type RandomStream, streamRandom } from "./core/random.ts";
export { allFamilies, type Family, type InnerFamily, innerFamilies } from "./curves/family.ts";
export {
  type CrowdingInput,
  type CrowdingOptions,
  type CrowdingResponse,
  crowdingResponse,
} from "./derive/crowdingResponse.ts";
export { type CurveBand, type CurveBandOptions, curveBand } from "./derive/curveBand.ts";
export { type CurveRow, curveRows, type LevelMean } from "./derive/curveRows.ts";
export { deltaInterval } from "./derive/deltaInterval.ts";
export { type DiagnoseData, type DiagnoseOptions, type Diagnosis, diagnose } from "./derive/diagnose.ts";
export type { Check, CheckEffect, CheckName } from "./derive/diagnoseCheck.ts";
export { type EarComponents, type EarComponentsOptions, earComponents } from "./derive/earComponents.ts";
export { type EarCount, earCountYield } from "./derive/earCountYield.ts";
export { compensationElasticity, type FlexOptions, type FlexScore, flexScore } from "./derive/flexScore.ts";
export { type Influence, type InfluenceOptions, influence, type LeftOut } from "./derive/influence.ts";
export type { NearBest } from "./derive/nearBest.ts";
export {
  type AgronomicOptions,
  agronomicOptimum,
  type CostOfMissing,
  type EconomicOptimum,
  type EconomicOptions,
  economicOptimum,
  type Optimum,
  type OptimumKind,
} from "./derive/optimum.ts";
export { type BudgetChange, partialBudget } from "./derive/partialBudget.ts";
export type { CurveQuantity, Quantity } from "./derive/quantity.ts";
export {
  type QuantityInterval,
  type QuantityIntervalOptions,
  type QuantityProbability,
  quantityInterval,
} from "./derive/quantityInterval.ts";
export { type ReturnCurve, returnCurve } from "./derive/returnCurve.ts";
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
export { marginalYield, predictCurve } from "./fit/fittedCurve.ts";
export type { LackOfFit } from "./fit/lackOfFit.ts";
export {
  type BootstrapOptions,
  type BootstrapPart,
  type BootstrapReplicates,
  type BootstrapResult,
  bootstrapCurves,
  bootstrapStreamCount,
  bootstrapStreams,
  mergeBootstrap,
} from "./interval/bootstrap.ts";
export { type FiellerSet, fiellerSet, type QuadraticEstimates } from "./interval/fieller.ts";
export type { IntervalData } from "./interval/intervalData.ts";
export { type JoinInterval, type JoinIntervalOptions, joinInterval } from "./interval/joinInterval.ts";
export type { BootstrapDistribution } from "./interval/limits.ts";
export {
  type Cutoff,
  type OptimumInterval,
  type OptimumIntervalOptions,
  optimumInterval,
} from "./interval/optimumInterval.ts";
export { analyseStrata, type Factor, type StrataInput, type Stratum, type VarianceRow } from "./mixed/analyseStrata.ts";
export { type CombinedEstimate, combineEstimates, type SummaryEstimate } from "./mixed/combineEstimates.ts";
export {
  type ComparedHybrid,
  type CompareOptions as CompareHybridsOptions,
  compareHybrids,
  type HybridComparison as ComparedHybrids,
  type HybridDifference,
} from "./mixed/compareHybrids.ts";
export type { EffectTest } from "./mixed/effectTests.ts";
export { type FieldTrend, type FieldTrendData, type FieldTrendOptions, fieldTrend } from "./mixed/fieldTrend.ts";
export { fitMixedResponse } from "./mixed/fitMixedResponse.ts";
export { type MixedOptimum, type MixedOptimumOptions, mixedOptimum } from "./mixed/mixedOptimum.ts";
export type {
  HybridEffect,
  MixedCurve,
  MixedData,
  MixedOptions,
  MixedResponseFit,
  RandomPart,
} from "./mixed/mixedResponse.ts";
export {
  orthogonalPolynomials,
  type PolynomialContrast,
  polynomialContrasts,
} from "./mixed/orthogonalPolynomial.ts";
export { type Predictions, type PredictOptions, predictResponse } from "./mixed/predictResponse.ts";
export type { RandomTerm } from "./mixed/randomTerm.ts";
export {
  type RemlFit,
  type RemlFitData,
  type RemlFitOptions,
  type RemlStatus,
  remlFit,
  type VarianceComponent,
} from "./mixed/remlFit.ts";
export {
  responseAtYieldGoal,
  responseByYieldClass,
  type YieldClass,
  type YieldGoalOptions,
  type YieldGoalResponse,
} from "./mixed/responseAtYieldGoal.ts";
export { type ShrinkOptions, type ShrunkenHybrids, shrinkHybridCurves } from "./mixed/shrinkHybridCurves.ts";
export {
  type StabilityData,
  type StabilitySlope,
  type StabilitySlopes,
  stabilitySlopes,
} from "./mixed/stabilitySlopes.ts";
export { type VarianceDesign, type VarianceOptions, type VarianceTable, varianceTable } from "./mixed/varianceTable.ts";
export { type CheckLayoutOptions, checkLayout, type LayoutCheck } from "./plan/checkLayout.ts";
export { type ChooseDensitiesOptions, chooseDensities, type DensityChoice } from "./plan/chooseDensities.ts";
export { type ContrastPowerOptions, contrastPower, linearContrast } from "./plan/contrastPower.ts";
export { fieldMap } from "./plan/fieldMap.ts";
export { type LayoutCsvOptions, layoutCsv } from "./plan/layoutCsv.ts";
export { type GeoJsonOptions, layoutGeoJson } from "./plan/layoutGeoJson.ts";
export type { LayoutPlan, PlanPlot } from "./plan/layoutPlan.ts";
export type { LayoutOptions } from "./plan/layoutSettings.ts";
export { layoutTrial } from "./plan/layoutTrial.ts";
export { optimumError, type PlannedCurve } from "./plan/optimumError.ts";
export { type BudgetOptions, type PlanBudget, planBudget } from "./plan/planBudget.ts";
export { densityRows, layoutRows, nextRows, type PlanRow, powerRows } from "./plan/planRows.ts";
export { type AnalysedScatter, type PlotNoise, plotNoise, type SigmaSource } from "./plan/plotNoise.ts";
export { type PowerResult, type TrialPowerOptions, trialPower } from "./plan/trialPower.ts";
export { type WhatNext, type WhatNextOptions, whatNext } from "./plan/whatNext.ts";
export type { DensityLimit, LimitName } from "./recommend/densityLimit.ts";
export { type DensityLimits, densityLimits, type FieldLimits } from "./recommend/densityLimits.ts";
export { type Elsewhere, maizeElsewhere } from "./recommend/elsewhere.ts";
export type { Estimate, EstimateRange } from "./recommend/estimate.ts";
export type { NutrientBalance } from "./recommend/feedingSide.ts";
export type { Field, FieldPrices, Nutrient, NutrientSupply, Supply } from "./recommend/field.ts";
export { fieldSchema } from "./recommend/fieldSchema.ts";
export type { Figure } from "./recommend/figure.ts";
export { type GoalCurves, type GoalLine, goalCurvesFrom, goalCurvesOf } from "./recommend/goalCurve.ts";
export {
  densityFedBy,
  fitNitrogenSurface,
  type NitrogenData,
  type NitrogenSurface,
} from "./recommend/nitrogenSurface.ts";
export { type RemovalEntry, removalTable, type UptakeEntry, uptakeTable } from "./recommend/nutrients.ts";
export { planZones } from "./recommend/planZones.ts";
export { type Position, polygonArea } from "./recommend/polygonArea.ts";
export { type FieldReading, readField } from "./recommend/readField.ts";
export { readZones } from "./recommend/readZones.ts";
export type { Gain, Recommendation } from "./recommend/recommendation.ts";
export type { Attitude, GoalCurve, RecommendOptions } from "./recommend/recommendOptions.ts";
export { recommendRate } from "./recommend/recommendRate.ts";
export { type Step, type StepPlan, stepPlan } from "./recommend/stepPlan.ts";
export { type StripDesign, stripsFor } from "./recommend/stripsFor.ts";
export type { GeoJsonCollection, Zone, ZoneReading, ZoneSource } from "./recommend/zone.ts";
export type { ZoneOptions } from "./recommend/zoneOptions.ts";
export { zonesCsv, zonesGeoJson } from "./recommend/zoneOutput.ts";
export type { PlannedZone, UniformPlan, ZonePlan } from "./recommend/zonePlan.ts";
export { zoneFileSchema, zoneSchema } from "./recommend/zoneSchema.ts";
export { type CheckTextOptions, checkText } from "./report/checkText.ts";
export { csvText, type TidyCell, type TidyRow } from "./report/csvText.ts";
export { type DisplayAnalysisOptions, displayAnalysis } from "./report/displayAnalysis.ts";
export { type HtmlPageOptions, htmlPage } from "./report/htmlPage.ts";
export { type IssueTextOptions, issueText } from "./report/issueText.ts";
export { type MarkdownPageOptions, type MarkdownPicture, markdownPage } from "./report/markdownPage.ts";
export { type PageChart, type PageCharts, type PageChartsOptions, pageCharts } from "./report/pageCharts.ts";
export {
  densitiesText,
  layoutCheckText,
  layoutText,
  type PlanTextOptions,
  powerText,
  whatNextText,
} from "./report/planText.ts";
export { type RecommendTextOptions, recommendText, stepPlanText, zonePlanText } from "./report/recommendText.ts";
export { type TidyTables, tidyColumns, tidyTables } from "./report/tidyTables.ts";
export { type TrialTextOptions, trialText } from "./report/trialText.ts";
export { type CrowdingSlope, crowdingSlope } from "./standability/crowdingSlope.ts";
export {
  type BrokenLineFit,
  type FitBrokenLineOptions,
  fitBrokenLine,
  type TraitInput,
} from "./standability/fitBrokenLine.ts";
export { type FitLodgingOptions, fitLodging } from "./standability/fitLodging.ts";
export {
  fitLodgingEnvironments,
  type LodgingEnvironmentsFit,
  type LodgingEnvironmentsInput,
  type LodgingEnvironmentsOptions,
} from "./standability/fitLodgingEnvironments.ts";
export { type FitRatingsOptions, fitRatings, type RatingsFit, type RatingsInput } from "./standability/fitRatings.ts";
export {
  type HarvestableInput,
  type HarvestableOptimum,
  type HarvestableOptions,
  type HarvestOptimum,
  harvestableOptimum,
} from "./standability/harvestableOptimum.ts";
export { type DatedLodging, type HarvestScenario, harvestScenarios } from "./standability/harvestScenarios.ts";
export { predictLodging } from "./standability/lodgedShare.ts";
export type { DispersionModel, LodgingData, LodgingFit } from "./standability/lodgingFit.ts";
export {
  type LodgingGroups,
  type LodgingInteraction,
  type LodgingInteractionOptions,
  lodgingInteraction,
} from "./standability/lodgingInteraction.ts";
export type { NoneLodged } from "./standability/noneLodged.ts";
export {
  clopperPearsonInterval,
  effectivePlants,
  type ShareInterval,
  upperBoundWhenNone,
  wilsonInterval,
} from "./standability/proportionInterval.ts";
export type { LodgingInput } from "./standability/readLodging.ts";
export {
  type StandabilityFlag,
  type StandabilityFlags,
  type StandabilityFlagsOptions,
  type StandabilityState,
  standabilityFlags,
} from "./standability/standabilityFlags.ts";
export {
  type StandabilityLimit,
  type StandabilityLimitOptions,
  standabilityLimit,
} from "./standability/standabilityLimit.ts";
export {
  type CurveCheck,
  checkTrial,
  type HybridCheck,
  type TrialCheck,
} from "./trial/checkTrial.ts";
export type { CheckWarning } from "./trial/checkWarnings.ts";
export { type CropEntry, cropTable, findCrop } from "./trial/crops.ts";
export type { Ability, FamilyAbility } from "./trial/estimable.ts";
export { standardMoistureYield } from "./trial/moisture.ts";
export { readTrial, type TrialReading } from "./trial/readTrial.ts";
export type { Role } from "./trial/roles.ts";
export type { RatingDeclaration, ReadSchema } from "./trial/schema.ts";
export { type ShrinkTerms, shrink, waterShrinkPerPoint } from "./trial/shrink.ts";
export { rowLengthForArea, seedingRateFor } from "./trial/stand.ts";
export type { StandabilityCheck } from "./trial/standabilityCheck.ts";
export type {
  Crop,
  DensityUnit,
  EnvironmentEstablishment,
  LodgingCount,
  Plot,
  RatingScale,
  StandMeasure,
  StandTrait,
  Trial,
  YieldUnit,
} from "./trial/trial.ts";
export {
  type AreaUnit,
  convertDensity,
  convertYield,
  type LengthUnit,
  type MassUnit,
  type Measure,
} from "./trial/units.ts";

export { version } from "./version.ts";
