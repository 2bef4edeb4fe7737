export { type BootstrapChartOptions, bootstrapChart } from "./bootstrapChart.ts";
export type { Chart, ChartOptions } from "./chart.ts";
export { densitySetsChart } from "./densitySetsChart.ts";
export { type DisplayChartOptions, displayChart, pictureHtml } from "./displayChart.ts";
export { type EarComponentsView, earComponentsChart } from "./earComponentsChart.ts";
export { type FamiliesChartOptions, familiesChart } from "./familiesChart.ts";
export { type FieldMapChartOptions, fieldMapChart } from "./fieldMapChart.ts";
export { type FlexCurvesChartOptions, flexCurvesChart } from "./flexCurvesChart.ts";
export { type FlexScoresChartOptions, flexScoresChart } from "./flexScoresChart.ts";
export { jupyterDisplay, type MimeBundle, type SelfDisplaying } from "./jupyterDisplay.ts";
export { type LayoutChartOptions, layoutChart } from "./layoutChart.ts";
export { type LimitsChartOptions, type LimitsView, limitsChart } from "./limitsChart.ts";
export { type LodgingChartOptions, lodgingChart } from "./lodgingChart.ts";
export { type OptimaChartOptions, optimaChart } from "./optimaChart.ts";
export type { CurveChoice } from "./pickCurve.ts";
export { type PowerChartOptions, type PowerMeasure, powerChart } from "./powerChart.ts";
export { type ResidualChartOptions, residualChart } from "./residualChart.ts";
export { type ResponseChartOptions, responseChart } from "./responseChart.ts";
export { type ReturnChartOptions, returnChart } from "./returnChart.ts";
export { type StepPlanChartOptions, stepPlanChart } from "./stepPlanChart.ts";
export { svgAddress } from "./svgAddress.ts";
export { chartTextWidth, type MeasuredText } from "./textWidth.ts";
export { type TraitChartOptions, traitChart } from "./traitChart.ts";
export type { ChartSpec } from "./vegaLite.ts";
export { whatNextChart } from "./whatNextChart.ts";
export {
  type YieldGoalChartOptions,
  type YieldGoalOptimum,
  type YieldGoalView,
  yieldGoalChart,
} from "./yieldGoalChart.ts";
export { type ZonePlanView, type ZoneShapes, zoneMapChart } from "./zoneMapChart.ts";
