import type { Interval } from "../core/interval.ts";
import type { FlexAnswer } from "../mixed/curveAnswers.ts";
import type { EffectTest } from "../mixed/effectTests.ts";
import type { PolynomialContrast } from "../mixed/orthogonalPolynomial.ts";
import type { StabilitySlope } from "../mixed/stabilitySlopes.ts";
import type { VarianceDesign } from "../mixed/varianceTable.ts";
import type { MixedOptimumReport } from "./environmentsResult.ts";
import type { Withheld } from "./withheld.ts";

/** All hybrids and environments of the trial in one model. */
export interface HybridsTogether {
  /** Density, hybrids and environments: what interacts. */
  readonly tests: EffectTests | Withheld;
  /** Hybrids by optimum and flex score, adjusted for the number of comparisons. */
  readonly compared: HybridsCompared | Withheld;
  /** Each hybrid's curve drawn towards the mean curve as far as its data call for. */
  readonly shrunken: HybridsShrunken | Withheld;
  /** How each hybrid's yield follows the level of the environment. */
  readonly stability: HybridStability | Withheld;
  /** Optimum with and without allowance for the field, where plots have a position. */
  readonly fieldTrends: FieldTrends | Withheld;
}

export interface EffectTests {
  readonly kind: "tested";
  /** `analysis-of-variance` with the errors its layout calls for, or `mixed-model` where that table would be too large. */
  readonly method: "analysis-of-variance" | "mixed-model";
  /** The layout recognised; null for the mixed model. */
  readonly design: VarianceDesign | null;
  /** How it was recognised, or why the mixed model is used. */
  readonly evidence: string;
  readonly missingPlots: number;
  /** Residual standard deviation of the plots / mean yield, percent. */
  readonly cvPercent: number | null;
  readonly tests: readonly EffectTest[];
  /** Orthogonal polynomials over the density means; null without them. */
  readonly polynomial: readonly PolynomialContrast[] | null;
  readonly notes: readonly string[];
}

export interface HybridsCompared {
  readonly kind: "compared";
  readonly curve: "linear" | "quadratic";
  /** Which optimum the comparison is about: `economic` with prices. */
  readonly target: "agronomic" | "economic";
  readonly rankedBy: "yield" | "return";
  /** By falling probability of being best. */
  readonly hybrids: readonly {
    readonly hybrid: string;
    readonly nobs: number;
    readonly optimum: MixedOptimumReport;
    readonly flex: FlexAnswer | null;
    /** Share of draws in which it is the best of all. */
    readonly probabilityBest: number;
    readonly meanRank: number;
  }[];
  readonly optimumDifferences: readonly AdjustedDifference[];
  readonly flexDifferences: readonly AdjustedDifference[];
  /** Yield at each hybrid's own optimum. */
  readonly yieldDifferences: readonly AdjustedDifference[];
  readonly tests: readonly EffectTest[];
  readonly draws: number;
  readonly seed: number;
  readonly notes: readonly string[];
}

/** first - second. */
export interface AdjustedDifference {
  readonly first: string;
  readonly second: string;
  readonly difference: number;
  /** Null where the quantity sits on an end of the tested range. */
  readonly standardError: number | null;
  readonly interval: Interval | null;
  readonly p: number | null;
  /** Among all pairs of hybrids, by the studentised range. */
  readonly adjustedP: number | null;
}

export interface HybridsShrunken {
  readonly kind: "shrunken";
  readonly curve: "linear" | "quadratic";
  readonly target: "agronomic" | "economic";
  /** Standard deviation of each part of the curve between hybrids; 0 when it cannot be told from none. */
  readonly spread: ByPart;
  readonly hybrids: readonly {
    readonly hybrid: string;
    readonly nobs: number;
    readonly environments: number;
    /** Its own curve's optimum; null when its densities do not carry one. */
    readonly raw: MixedOptimumReport | null;
    readonly shrunken: MixedOptimumReport;
    /** Shrunken - raw optimum, density units. */
    readonly moved: number | null;
    /** How far each part of the curve was drawn to the mean, 0 (not at all) to 1 (all the way). */
    readonly shrinkage: ByPart;
  }[];
  readonly notes: readonly string[];
}

/** Parts of the curve at the centre of the tested range. */
export interface ByPart {
  readonly intercept: number;
  readonly slope: number;
  readonly curvature: number;
}

export interface HybridStability {
  readonly kind: "slopes";
  readonly slopes: readonly StabilitySlope[];
  readonly notes: readonly string[];
}

export interface FieldTrends {
  readonly kind: "trends";
  readonly trends: readonly FieldTrendReport[];
}

/** One hybrid in one environment. */
export interface FieldTrendReport {
  readonly hybrid: string;
  readonly environment: string;
  /** What the positions are: planting order, or columns along rows. */
  readonly along: "order" | "row" | "column" | "column within row";
  readonly target: "agronomic" | "economic";
  readonly outcome: TrendOutcome | Withheld;
}

export interface TrendOutcome {
  readonly kind: "adjusted";
  /** Without allowance for the field: blocks alone. */
  readonly naive: MixedOptimumReport;
  /** With a trend over positions and correlated neighbours. */
  readonly adjusted: MixedOptimumReport;
  /** Adjusted - naive optimum, density units. */
  readonly shift: number;
  /** Correlation of neighbours one step apart and its p; null when not fitted. */
  readonly correlation: { readonly rho: number; readonly nuggetShare: number; readonly p: number } | null;
  /** Share of the information about the response that the trend could take away. */
  readonly confounding: number;
  /** Lag-one correlation of the residuals without allowance. */
  readonly neighbourCorrelation: number | null;
  readonly notes: readonly string[];
}
