import type { CurveFit } from "../fit/curveFit.ts";
import type { PreparedIntervalData } from "../interval/intervalData.ts";
import type { Decision } from "./influenceDecision.ts";

/** What the optimum would be if the finding were acted upon. */
export interface CheckEffect {
  /** How it was acted upon, in words. */
  readonly remedy: string;
  /** Null when the decision cannot be made that way. */
  readonly decision: Partial<Decision> | null;
  /** The optimum (economic when there are prices and the remedy has one) moves by more than 5 % of the tested range. */
  readonly matters: boolean;
  /** "the agronomic optimum falls from 33.1 to 30.4". */
  readonly sentence: string;
}

export type CheckName =
  | "mean-by-density"
  | "mean-by-fitted"
  | "spread-by-density"
  | "spread-by-fitted"
  | "normality"
  | "outliers"
  | "neighbours"
  | "position-trend";

/**
 * One check. `fine`: nothing found at the stated level. `harmless`: found, but acting on it hardly moves the optimum.
 * `matters`: found, and it moves the optimum. `not-tested`: the layout cannot show it.
 */
export interface Check {
  readonly name: CheckName;
  readonly verdict: "fine" | "harmless" | "matters" | "not-tested";
  /** Name and value of the statistic; null when not tested. */
  readonly statistic: { readonly name: string; readonly value: number; readonly dof: readonly number[] } | null;
  readonly p: number | null;
  /** The finding in one sentence. */
  readonly message: string;
  readonly effect: CheckEffect | null;
  /** Plots concerned, counted from 1. */
  readonly plots: readonly number[];
}

/** What every check is given. */
export interface CheckInput {
  readonly data: PreparedIntervalData;
  readonly fit: CurveFit;
  readonly curve: Float64Array;
  readonly fitted: Float64Array;
  readonly residuals: Float64Array;
  readonly leverage: Float64Array;
  /** Externally studentised residuals; NaN where they do not exist. */
  readonly studentised: Float64Array;
  readonly order: Float64Array | null;
  /** Names of the plots in sentences. */
  readonly labels: readonly string[];
  readonly alpha: number;
  readonly seed: number;
  readonly trendDegree: 1 | 2;
  /** Decision with other yields or weights in place of the trial's own. */
  readonly again: (change: {
    yield?: ArrayLike<number>;
    weight?: ArrayLike<number>;
    keep?: readonly number[];
  }) => Decision | null;
  /** The same with other weights, and the residuals of the curve chosen then. */
  readonly refit: (
    weight: ArrayLike<number>,
  ) => { readonly decision: Decision; readonly residuals: Float64Array } | null;
  /** Compares a decision with that of the trial as it is. */
  readonly effect: (remedy: string, decision: Partial<Decision> | null) => CheckEffect;
}

/** Puts a finished test and its effect together. */
export function finished(
  name: CheckName,
  statistic: Check["statistic"],
  p: number,
  alpha: number,
  message: string,
  effect: CheckEffect | null,
  plots: readonly number[] = [],
): Check {
  const verdict = p >= alpha ? "fine" : effect?.matters ? "matters" : "harmless";
  return { name, verdict, statistic, p, message, effect, plots };
}

/** A check that the layout cannot carry. */
export function notTested(name: CheckName, message: string): Check {
  return { name, verdict: "not-tested", statistic: null, p: null, message, effect: null, plots: [] };
}
