import type { Shape } from "../core/checkShape.ts";
import type { LodgingFit } from "../standability/lodgingFit.ts";
import type { Trial } from "../trial/trial.ts";
import type { Elsewhere } from "./elsewhere.ts";
import type { NitrogenSurface } from "./nitrogenSurface.ts";
import type { DrawnCurve } from "./responseDraws.ts";

/**
 * What "best" means. `expected`: highest expected return. `chance`: highest return that is missed with no more than this chance;
 * 0.25 plans for the lower quartile.
 */
export type Attitude = { readonly kind: "expected" } | { readonly kind: "chance"; readonly chance: number };

/** A curve for a stated yield goal, in the trial's units: family, coefficients and their covariance. */
export interface GoalCurve {
  readonly yieldGoal: number;
  readonly family: DrawnCurve["family"];
  readonly theta: readonly number[];
  /** Null: taken as exactly known. */
  readonly vcov: readonly (readonly number[])[] | null;
  /** Degrees of freedom of the t distribution of the coefficients; null: normal. */
  readonly dof: number | null;
  readonly notes?: readonly string[];
}

export interface RecommendOptions {
  /** The trial behind the analysis: curves are then refitted, lodging counts and a nitrogen factor are read from its plots. */
  readonly trial?: Trial;
  /** Lodging fits of this hybrid (one a kind of lodging) when they were made before. */
  readonly lodging?: LodgingFit | readonly LodgingFit[];
  /** Response of yield to density and nitrogen, when it was fitted before. */
  readonly nitrogen?: NitrogenSurface;
  /** Curve expected at a yield goal, or the reason why there is none. */
  readonly goalCurve?: (hybrid: string, yieldGoal: number) => GoalCurve | { readonly reason: string };
  /** Default: expected. */
  readonly attitude?: Attitude;
  /**
   * `average`: the curve of an average season. `seen`: seasons like those of the trial's environments, each as likely. Default:
   * `seen` for the chance attitude when several environments were analysed, else `average`.
   */
  readonly seasons?: "average" | "seen";
  /**
   * Knowledge from other trials that steadies small ones: `published` (default; maize only), `none`, or your own.
   */
  readonly elsewhere?: "published" | "none" | Elsewhere;
  /** Draws of the curve; default 1000. */
  readonly draws?: number;
  /** Level of the intervals; default that of the analysis. */
  readonly level?: number;
  /** Money per area that counts as nearly as good; default 1. */
  readonly nearBestLoss?: number;
  /** Resamples for the interval of the standability limit; default 499; 0: without bootstrap. */
  readonly resamples?: number;
}

/** What `RecommendOptions` must look like. */
export const recommendOptionsShape: { readonly [property: string]: Shape } = {
  trial: "standcurve/trial/1?",
  lodging: "any?",
  nitrogen: "standcurve/nitrogen-surface/1?",
  goalCurve: "function?",
  attitude: "any?",
  seasons: "text?",
  elsewhere: "any?",
  draws: "count?",
  level: "number?",
  nearBestLoss: "number?",
  resamples: "count?",
};
