import type { Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Family } from "../curves/family.ts";
import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import { type AnalysedScatter, analysedScatterShape } from "./plotNoise.ts";

/** One fit of an analysis, as far as planning needs it; a `CurveFit` is one. */
export interface AnalysedFit {
  readonly family: Family;
  readonly status: string;
  readonly curve: { readonly family: Family; readonly theta: readonly number[] } | null;
  readonly vcov: readonly (readonly number[])[] | null;
  readonly sigma: number | null;
  readonly rss: number | null;
  readonly dofResidual: number;
}

/** An analysed curve, as far as planning needs it; a `CurveAnalysis` is one. */
export interface AnalysedCurve {
  readonly kind: "analysed";
  readonly hybrid: string;
  readonly environments: number;
  readonly blocks: number;
  readonly plots: number;
  readonly densities: readonly number[];
  readonly chosen: Family;
  readonly meanYield: number;
  readonly comparison: {
    readonly fits: readonly AnalysedFit[];
    readonly ranking: readonly { readonly family: Family; readonly weight: number }[];
  };
  readonly agronomic: {
    readonly interval: {
      readonly lower: number | null;
      readonly upper: number | null;
      readonly lowerOpen: boolean;
      readonly upperOpen: boolean;
      readonly level: number;
    };
    readonly optimum: { readonly kind: string; readonly density: number | null };
  };
}

/** The parts of a `TrialAnalysis` that planning needs; every `TrialAnalysis` is one. */
export interface AnalysedTrial extends AnalysedScatter {
  readonly schema: string;
  readonly trial: { readonly densityUnit: DensityUnit; readonly yieldUnit: YieldUnit };
  readonly hybrids: readonly {
    readonly hybrid: string;
    readonly pooled: AnalysedCurve | { readonly kind: "not-estimable"; readonly reason: string };
    readonly environments: readonly (AnalysedCurve | { readonly kind: "not-estimable"; readonly reason: string })[];
  }[];
}

/** What `AnalysedTrial` must look like. */
export const analysedTrialShape: { readonly [property: string]: Shape } = {
  ...analysedScatterShape,
  schema: "text",
  trial: "object",
  hybrids: "list",
};

/** The analysed curve of one hybrid: the named one, or the only one. */
export function analysedCurve(analysis: AnalysedTrial, hybrid?: string): AnalysedCurve {
  const names = analysis.hybrids.map((one) => one.hybrid);
  check(
    hybrid !== undefined || names.length === 1,
    "invalid-option",
    `the analysis has ${names.length} hybrids; say which with hybrid: ${names.slice(0, 8).join(", ")}`,
  );
  const found = analysis.hybrids.find((one) => hybrid === undefined || one.hybrid === hybrid);
  check(found !== undefined, "invalid-option", `hybrid "${hybrid}" is not among ${names.slice(0, 8).join(", ")}`);
  const { pooled } = found;
  check(
    pooled.kind === "analysed",
    "not-estimable",
    `${found.hybrid} could not be analysed: ${pooled.kind === "analysed" ? "" : pooled.reason}`,
  );
  return pooled;
}
