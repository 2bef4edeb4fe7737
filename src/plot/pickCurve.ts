import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import type { Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";

/** Which curve of an analysis a chart shows. */
export interface CurveChoice {
  /** Default: the only hybrid, else it must be named. */
  readonly hybrid?: string;
  /** Default: all environments together. */
  readonly environment?: string;
}

/** What `CurveChoice` must look like. */
export const curveChoiceShape: { readonly [property: string]: Shape } = { hybrid: "text?", environment: "text?" };

/**
 * The curve named, which must have been analysed.
 *
 * @throws AnalysisError `invalid-option` for names that are not in the result; `not-estimable` with the curve's own reason
 */
export function pickCurve(analysis: TrialAnalysis, { hybrid, environment }: CurveChoice): CurveAnalysis {
  const names = analysis.hybrids.map((one) => one.hybrid);
  check(
    hybrid !== undefined || names.length === 1,
    "invalid-option",
    `hybrid must be one of ${names.slice(0, 10).join(", ")}`,
  );
  const found = hybrid === undefined ? analysis.hybrids[0] : analysis.hybrids.find((one) => one.hybrid === hybrid);
  check(found !== undefined, "invalid-option", `there is no hybrid "${hybrid}" in this result`);
  const curve =
    environment === undefined ? found.pooled : found.environments.find((one) => one.environment === environment);
  check(curve !== undefined, "invalid-option", `there is no environment "${environment}" for ${found.hybrid}`);
  check(
    curve.kind === "analysed",
    "not-estimable",
    `${found.hybrid} was not analysed${curve.kind === "analysed" ? "" : `: ${curve.reason}`}`,
  );
  return curve;
}
