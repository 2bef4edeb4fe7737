import type { NearBest } from "../derive/nearBest.ts";
import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import type { DensityLimit, LimitName } from "./densityLimit.ts";
import type { FieldLimits } from "./densityLimits.ts";
import type { NutrientBalance } from "./feedingSide.ts";
import type { Figure } from "./figure.ts";
import type { Attitude } from "./recommendOptions.ts";

/** A change of rate in yield and money. */
export interface Gain {
  /** Rate compared with. */
  readonly against: number;
  readonly yield: Figure;
  /** Money per area spent on more seed (negative: saved). */
  readonly seedCost: number;
  readonly return: Figure;
  /** Share of the draws in which the new rate returns more; equal ones count half. Null when the rates are the same. */
  readonly probability: number | null;
  /** Yield that would just pay for the seed. */
  readonly breakEvenYield: number;
}

/** A rate for one hybrid in one field, with everything behind it: plain data, JSON-safe. */
export interface Recommendation {
  readonly schema: "standcurve/recommendation/1";
  readonly hybrid: string;
  readonly field: string | null;
  readonly rateUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
  readonly moneyArea: "ac" | "ha" | "m2";
  readonly currency: string;
  /** Seeds to plant next season, a multiple of the planter's step. */
  readonly rate: number;
  /** Plants to expect, rate unit; null when establishment is not known. */
  readonly stand: number | null;
  /** Seeds on the area of the money. */
  readonly seedsPerArea: number;
  /** Rate to move to over the seasons; `rate` is on the way when the grower accepts smaller steps. */
  readonly target: number;
  readonly bindingLimit: LimitName;
  readonly limits: FieldLimits & { readonly acceptedStep: DensityLimit };
  /** Rates whose return is within `loss` of the best, not above a cap. */
  readonly nearBest: NearBest;
  readonly expected: {
    readonly yield: Figure;
    readonly seedCost: number;
    readonly return: Figure;
    /** Lodged share expected at the rate, and the chance that it is above the tolerated one; null without lodging counts. */
    readonly lodging: { readonly share: number; readonly tolerated: number; readonly probability: number } | null;
  };
  /** Against the present rate; null without one or when it lies outside the tested range (`gainReason`). */
  readonly gain: Gain | null;
  readonly gainReason: string | null;
  readonly attitude: Attitude;
  readonly evidence: {
    readonly curves: "all environments" | "one environment" | "seasons seen" | "yield goal";
    readonly basis: "refitted plots" | "fits of the analysis" | "curve at the yield goal";
    readonly environment: string | null;
    readonly plots: number;
    readonly draws: number;
    readonly seed: number;
    /** Knowledge from other trials that went in; null when none did. */
    readonly elsewhere: {
      readonly source: string;
      readonly rateWithout: number;
      readonly targetWithout: number;
    } | null;
  };
  readonly balances: readonly NutrientBalance[];
  readonly assumptions: readonly string[];
  readonly cautions: readonly string[];
  readonly notes: readonly string[];
  /** One paragraph in plain language. */
  readonly summary: string;
}
