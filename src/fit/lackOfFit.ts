import { fUpper } from "../numeric/distributions.ts";
import { factorModel } from "../numeric/factorModel.ts";
import type { CurveFit } from "./curveFit.ts";
import type { PreparedData } from "./fitData.ts";

/** Whether a curve misses the density means by more than the plots' own scatter explains. */
export type LackOfFit =
  | { readonly kind: "tested"; readonly f: number; readonly dof: readonly [number, number]; readonly p: number }
  | { readonly kind: "untestable"; readonly reason: string };

/**
 * Residual of the density-as-factor model with the same blocks: the yardstick for every curve of one data set.
 */
export function pureError(data: PreparedData): { readonly ss: number; readonly dof: number } {
  return factorModel(data.design, data.y);
}

/**
 * F test of a curve against the density-as-factor model with the same blocks:
 * F = ((RSS - SS_pure) / (df - df_pure)) / (SS_pure / df_pure).
 *
 * Source: Draper & Smith (1998), Applied Regression Analysis, 3rd ed., ch. 2.
 */
export function lackOfFit(fit: CurveFit, pure: { readonly ss: number; readonly dof: number }): LackOfFit {
  if (fit.rss === null) return { kind: "untestable", reason: "the curve could not be fitted" };
  if (pure.dof <= 0) {
    return { kind: "untestable", reason: "no density is replicated within the layout, so there is no pure error" };
  }
  const dof = fit.dofResidual - pure.dof;
  if (dof <= 0) return { kind: "untestable", reason: "the curve has as many coefficients as there are densities" };
  if (pure.ss <= 0)
    return { kind: "untestable", reason: "plots of one density agree exactly, so the pure error is zero" };
  const f = Math.max((fit.rss - pure.ss) / dof, 0) / (pure.ss / pure.dof);
  return { kind: "tested", f, dof: [dof, pure.dof], p: fUpper(f, dof, pure.dof) };
}
