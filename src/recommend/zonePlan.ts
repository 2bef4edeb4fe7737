import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import type { AreaUnit } from "../trial/units.ts";
import type { LimitName } from "./densityLimit.ts";
import type { Figure } from "./figure.ts";

/** Rate of one zone with what it needs and brings. */
export interface PlannedZone {
  readonly id: string;
  readonly hybrid: string;
  /** In the plan's area unit. */
  readonly area: number;
  readonly rate: number;
  readonly bindingLimit: LimitName;
  /** Lowest cap on the rate. */
  readonly cap: number;
  /** Seeds for the zone. */
  readonly seeds: number;
  /** Units of seed; null when the size of a unit is not known. */
  readonly units: number | null;
  readonly seedCost: number;
  /** Yield per area, the yield unit's. */
  readonly yield: Figure;
  /** Money per area, after seed. */
  readonly return: Figure;
  /** Money of the whole zone, after seed. */
  readonly totalReturn: number;
  /** Chance that more than the tolerated share lodges; null without lodging counts. */
  readonly lodgingProbability: number | null;
}

/** One rate for all zones. */
export interface UniformPlan {
  readonly rate: number;
  readonly seeds: number;
  readonly units: number | null;
  readonly seedCost: number;
  /** Money of the whole field, after seed. */
  readonly return: Figure;
}

/** Rates by zone against one rate for the field: plain data, JSON-safe. */
export interface ZonePlan {
  readonly schema: "standcurve/zone-plan/1";
  readonly rateUnit: DensityUnit;
  readonly yieldUnit: YieldUnit;
  readonly areaUnit: AreaUnit;
  readonly moneyArea: "ac" | "ha" | "m2";
  readonly currency: string;
  readonly seedsPerUnit: number | null;
  readonly zones: readonly PlannedZone[];
  readonly total: {
    readonly area: number;
    readonly seeds: number;
    readonly units: number | null;
    readonly seedCost: number;
    readonly return: Figure;
  };
  /** Best single rate by return; null when the zones share no tested rate. */
  readonly uniform: UniformPlan | null;
  /** Best single rate that respects the caps of every zone; null when none does. */
  readonly uniformWithinLimits: UniformPlan | null;
  /** Varying against `uniform`, whole field; null without one. */
  readonly value: {
    readonly total: Figure;
    readonly perArea: number;
    /** Charged for varying the rate, whole field. */
    readonly cost: number;
    /** Chance that varying pays at all, its cost included; null when all zones get the uniform rate. */
    readonly probability: number | null;
    /** Zones whose uniform rate would be above their cap. */
    readonly aboveCap: readonly string[];
  } | null;
  readonly notes: readonly string[];
  readonly cautions: readonly string[];
  readonly summary: string;
}
