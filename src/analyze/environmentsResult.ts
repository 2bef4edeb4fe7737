import type { Interval } from "../core/interval.ts";
import type { FlexAnswer } from "../mixed/curveAnswers.ts";
import type { MixedResponseFit } from "../mixed/mixedResponse.ts";
import type { VarianceComponent } from "../mixed/remlFit.ts";
import type { GoalLine } from "../recommend/goalCurve.ts";
import type { OnAxes } from "./result.ts";
import type { Withheld } from "./withheld.ts";

/** What a hybrid's environments say together about environments still to come. */
export interface AcrossEnvironments {
  readonly environments: number;
  /**
   * `random`: they are a sample, and the response may vary between them; `fixed`: too few for that, so the pooled curve
   * holds for them alone; `single`: one environment.
   */
  readonly treatment: "random" | "fixed" | "single";
  /** Why, in one sentence. */
  readonly reason: string;
  readonly response: EnvironmentResponse | Withheld;
  /** The response at the yield goal asked for; null when none was. */
  readonly yieldGoal: GoalAnswer | GoalRefusal | null;
  /** With a yield goal asked for: the response at round yield levels of the fields seen and at that goal, by rising level; else empty. */
  readonly goalLevels: readonly GoalLevel[];
}

/** The response in fields of one yield level, beside others. */
export interface GoalLevel {
  readonly yieldGoal: number;
  /** Outside the levels seen; only when that was asked for. */
  readonly extrapolated: boolean;
  /** Expected yield over the tested range. */
  readonly curve: readonly { readonly density: number; readonly yield: number }[];
  readonly agronomic: MixedOptimumReport;
  readonly economic: MixedOptimumReport | null;
}

/** The response expected in the average environment, and how it varies between environments. */
export interface EnvironmentResponse {
  readonly kind: "estimated";
  readonly curve: "linear" | "quadratic";
  readonly nobs: number;
  readonly status: MixedResponseFit["status"];
  /** The status in plain words. */
  readonly statusWords: string;
  /** From the model asked for to the one kept. */
  readonly path: readonly { readonly random: string; readonly logLikelihood: number; readonly outcome: string }[];
  /** Restricted log-likelihood, for density in the trial's unit. */
  readonly logLikelihood: number;
  readonly coefficients: readonly {
    readonly name: string;
    readonly estimate: number;
    readonly standardError: number;
    readonly dof: number | null;
  }[];
  /** Variances on the scale z = (density - centre) / scale. */
  readonly varianceComponents: readonly VarianceComponent[];
  readonly scaling: { readonly centre: number; readonly scale: number };
  readonly agronomic: MixedOptimumReport;
  /** Null without prices. */
  readonly economic: MixedOptimumReport | null;
  /** Null without reference densities. */
  readonly flex: FlexAnswer | null;
  /** Expected yield of an environment not yet seen, at the optima. */
  readonly newEnvironment: NewEnvironment | Withheld;
  /** Density at which yield levels are compared: the agronomic optimum. */
  readonly referenceDensity: number;
  /** Expected levels there of the environments seen, lowest and highest. */
  readonly observedLevels: readonly [number, number];
  readonly yieldClasses: YieldClasses | Withheld;
  /** The curves at all yield goals, so that the result alone answers for a field; null when levels do not vary. */
  readonly goalLine: GoalLine | null;
  readonly notes: readonly string[];
}

/** Best density of an expected curve, on both axes. */
export interface MixedOptimumReport {
  readonly kind: "interior" | "lower-edge" | "upper-edge";
  readonly density: number;
  readonly yield: number;
  readonly yieldStandardError: number;
  readonly axes: OnAxes;
  /** Null when its degrees of freedom cannot be worked out. */
  readonly interval: Interval | null;
  readonly intervalAxes: { readonly lower: OnAxes; readonly upper: OnAxes };
}

export interface NewEnvironment {
  readonly kind: "predicted";
  readonly yields: readonly {
    readonly at: "agronomic" | "economic";
    readonly density: number;
    readonly yield: number;
    readonly interval: Interval;
    readonly dof: number;
  }[];
}

export interface YieldClasses {
  readonly kind: "classes";
  /** By rising level. */
  readonly classes: readonly YieldClassReport[];
}

export interface YieldClassReport {
  readonly label: string;
  readonly environments: readonly string[];
  /** Mean expected yield of its environments at the reference density. */
  readonly meanLevel: number;
  readonly agronomic: MixedOptimumReport;
  readonly economic: MixedOptimumReport | null;
}

/** The response expected in fields of one yield level. */
export interface GoalAnswer {
  readonly kind: "estimated";
  readonly yieldGoal: number;
  readonly referenceDensity: number;
  /** The goal lies outside the levels seen; only when that was asked for. */
  readonly extrapolated: boolean;
  readonly observedLevels: readonly [number, number];
  /** Expected yield over the tested range. */
  readonly curve: readonly { readonly density: number; readonly yield: number; readonly standardError: number }[];
  /** Change of the slope at the reference density with one more unit of yield level; null when it does not vary. */
  readonly slopePerYield: number | null;
  readonly agronomic: MixedOptimumReport;
  readonly economic: MixedOptimumReport | null;
  readonly flex: FlexAnswer | null;
  readonly notes: readonly string[];
}

export interface GoalRefusal {
  readonly kind: "refused";
  readonly yieldGoal: number;
  readonly reason: string;
  /** Null when no level could be estimated. */
  readonly observedLevels: readonly [number, number] | null;
}
