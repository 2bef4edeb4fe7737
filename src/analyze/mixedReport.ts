import type { CurveOptimumAnswer } from "../mixed/curveAnswers.ts";
import type { MixedOptimumReport } from "./environmentsResult.ts";
import type { OnAxes } from "./result.ts";

/** The optimum of an expected curve with both axes beside it. */
export function mixedReport(
  { kind, density, yield: grain, yieldStandardError, interval }: CurveOptimumAnswer,
  axes: (density: number | null) => OnAxes,
): MixedOptimumReport {
  return {
    kind,
    density,
    yield: grain,
    yieldStandardError,
    axes: axes(density),
    interval,
    intervalAxes: { lower: axes(interval?.lower ?? null), upper: axes(interval?.upper ?? null) },
  };
}
