import { curveData, usablePlots } from "../analyze/groups.ts";
import type { CurveAnalysis, TrialAnalysis } from "../analyze/result.ts";
import { isInner } from "../curves/family.ts";
import { type CurveBand, curveBand } from "../derive/curveBand.ts";
import { type CurveRow, curveRows, type LevelMean } from "../derive/curveRows.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import type { Plot, Trial } from "../trial/trial.ts";

/** Numbers behind the picture of one curve: its plots, their means and the band. */
export interface CurvePicture {
  readonly rows: readonly (CurveRow & { readonly plot: Plot })[];
  readonly means: readonly LevelMean[];
  readonly band: CurveBand;
}

/** The chosen fit of a curve. */
export function chosenFit(curve: CurveAnalysis): CurveFit {
  return curve.comparison.fits.find((fit) => fit.family === curve.chosen) as CurveFit;
}

/** Collects what the derive layer says about the plots of one curve; nothing is computed here. */
export function curvePicture(
  trial: Trial,
  curve: CurveAnalysis,
  { families, level }: Pick<TrialAnalysis["settings"], "families" | "level">,
): CurvePicture {
  const plots = usablePlots(trial).filter(
    (plot) => plot.hybrid === curve.hybrid && (curve.environment === null || plot.environment === curve.environment),
  );
  const data = curveData(plots);
  const { rows, means } = curveRows(data, chosenFit(curve));
  const inner = families.filter(isInner);
  const band = curveBand(data, isInner(curve.chosen) ? { families: inner, level } : { family: curve.chosen, level });
  return { rows: rows.map((row) => ({ ...row, plot: plots[row.index] })), means, band };
}

/** A fitted curve as points close enough to look smooth, its corner among them. */
export function curveDensities(fit: CurveFit, points = 60): number[] {
  const [low, high] = fit.range;
  const corner = fit.coefficients["join"];
  const grid = Array.from({ length: points + 1 }, (_, i) => low + ((high - low) * i) / points);
  if (corner != null && corner > low && corner < high) grid.push(corner);
  return grid.sort((a, b) => a - b);
}
