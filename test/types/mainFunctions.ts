/** Types of the main functions as a program sees them that installs the package; compiled by .config/typeVersions.mjs, never run. */
import {
  type AnalyzeOptions,
  type analyzeMany,
  analyzeTrial,
  type CurveComparison,
  type CurveData,
  type CurveFit,
  type checkTrial,
  compareCurves,
  type economicOptimum,
  type Family,
  type Field,
  fitCurve,
  type flexScore,
  type GroupResult,
  type Issue,
  type layoutTrial,
  optimumInterval,
  planZones,
  readAnalysis,
  type readField,
  readTrial,
  recommendRate,
  type StepPlan,
  type stepPlan,
  type Trial,
  type TrialAnalysis,
  type trialPower,
  whatNext,
} from "standcurve";
import { type Chart, responseChart } from "standcurve/plot";
import { holds, type Same } from "./same.js";

holds<Same<Parameters<typeof analyzeTrial>[0], Trial>>();
holds<AnalyzeOptions extends NonNullable<Parameters<typeof analyzeTrial>[1]> ? true : false>();
holds<Same<ReturnType<typeof analyzeTrial>, TrialAnalysis>>();
holds<Same<ReturnType<typeof readAnalysis>, TrialAnalysis>>();
holds<Same<Parameters<typeof readAnalysis>[0], unknown>>();
holds<Same<ReturnType<typeof readTrial>["trial"], Trial | null>>();
holds<Same<ReturnType<typeof readTrial>["issues"], readonly Issue[]>>();
holds<Same<ReturnType<typeof checkTrial>["plots"], number>>();
holds<Same<Parameters<typeof compareCurves>[0], CurveData>>();
holds<Same<ReturnType<typeof compareCurves>, CurveComparison>>();
holds<Same<ReturnType<typeof fitCurve>, CurveFit>>();
holds<Same<Parameters<typeof fitCurve>[0], Family>>();
holds<Same<ReturnType<typeof flexScore>["score"], number | null>>();
holds<Same<ReturnType<typeof optimumInterval>["lower"], number | null>>();
holds<Same<ReturnType<typeof economicOptimum>["return"], number>>();
holds<Same<ReturnType<typeof stepPlan>, StepPlan>>();
holds<Same<ReturnType<typeof readField>["field"], Field | null>>();
holds<Same<ReturnType<typeof layoutTrial>["schema"], "standcurve/layout-plan/1">>();
holds<Same<ReturnType<typeof trialPower>["schema"], "standcurve/trial-power/1">>();
holds<Same<ReturnType<typeof whatNext>["schema"], "standcurve/what-next/1">>();
holds<Same<ReturnType<typeof analyzeMany>, AsyncGenerator<GroupResult>>>();
holds<Same<ReturnType<typeof responseChart>, Chart>>();
holds<Same<TrialAnalysis["schema"], "standcurve/trial-analysis/1">>();
holds<Same<TrialAnalysis["version"], string>>();

/** A result goes straight on to what takes one, before and after a trip through JSON. */
export function goesOn(trial: Trial, field: Field, text: string): readonly number[] {
  const analysis = analyzeTrial(trial, { prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 }, between: [24, 36] });
  const rates = [recommendRate(analysis, field), recommendRate(readAnalysis(text), field)].map(({ rate }) => rate);
  planZones(analysis, [], { field });
  responseChart(analysis, { hybrid: "A" });
  whatNext(analysis, { hybrid: "A" });
  return rates;
}

/** Typed arrays and plain arrays serve alike, frozen ones too. */
export function takesArrays(): CurveFit {
  const density = Object.freeze([18, 23, 28]);
  compareCurves({ density, yield: Float64Array.of(1, 2, 3), block: ["a", "a", "b"] });
  return fitCurve("quadratic", { density: new Float32Array(3), yield: [1, 2, 3] });
}

export function refuses(trial: Trial, analysis: TrialAnalysis): void {
  // @ts-expect-error no such family
  fitCurve("cubic", { density: [1], yield: [1] });
  // @ts-expect-error no such option
  analyzeTrial(trial, { resample: 10 });
  // @ts-expect-error a reading is no trial: it may be null
  analyzeTrial(readTrial("").trial);
  // @ts-expect-error results are read-only
  analysis.version = "2";
  // @ts-expect-error to the last part
  analysis.hybrids[0].hybrid = "B";
  // @ts-expect-error lists too
  analysis.hybrids.push(analysis.hybrids[0]);
  // @ts-expect-error an end of an interval may be open
  optimumInterval({ density: [1], yield: [1] }).lower.toFixed(1);
  // @ts-expect-error prices need both
  analyzeTrial(trial, { prices: { grainPrice: 4.5 } });
}
