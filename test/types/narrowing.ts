/** Tagged values narrow by their tag, as the texts promise; compiled by .config/typeVersions.mjs, never run. */
import {
  AnalysisError,
  type CurveAnalysis,
  type ErrorCode,
  type HarvestReport,
  type HybridAnalysis,
  type LackOfFit,
  type NoAnalysis,
  type OptimumKind,
  type TrialAnalysis,
} from "standcurve";
import { holds, type Same } from "./same.js";

export function curve({ pooled }: HybridAnalysis): number {
  if (pooled.kind === "analysed") {
    holds<Same<typeof pooled, CurveAnalysis>>();
    return pooled.agronomic.optimum.yield;
  }
  holds<Same<typeof pooled, NoAnalysis>>();
  // @ts-expect-error a curve that was not analysed has no optimum
  void pooled.agronomic;
  return pooled.reason.length;
}

export function unnarrowed({ pooled }: HybridAnalysis): void {
  // @ts-expect-error look at kind first
  void pooled.agronomic;
}

export function everyKind(kind: OptimumKind): string {
  switch (kind) {
    case "interior":
    case "lower-edge":
    case "upper-edge":
    case "none":
      return kind;
    default:
      holds<Same<typeof kind, never>>();
      return kind;
  }
}

export function lackOfFit(test: LackOfFit): number | string {
  return test.kind === "tested" ? test.p : test.reason;
}

export function harvest(report: HarvestReport): string {
  return report.kind === "estimated" ? report.optimum.schema : report.reason;
}

export function across({ acrossEnvironments }: HybridAnalysis): number | string {
  if (acrossEnvironments === null) return "not wanted";
  const { response, yieldGoal } = acrossEnvironments;
  if (yieldGoal !== null) void yieldGoal.kind;
  return response.kind === "withheld" ? response.reason : response.referenceDensity;
}

export function together(analysis: TrialAnalysis): string {
  // @ts-expect-error null when mixed models were not wanted
  void analysis.together.schema;
  // @ts-expect-error null without prices
  void (analysis.hybrids[0].pooled as CurveAnalysis).economic.optimum;
  return analysis.cautions.join("\n");
}

export function failure(error: unknown): string {
  if (!(error instanceof AnalysisError)) return "";
  holds<Same<typeof error.code, ErrorCode>>();
  return error.code === "newer-version" || error.code === "unreadable-source" ? error.message : error.code;
}
