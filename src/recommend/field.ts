import type { Shape } from "../core/checkShape.ts";
import type { DensityUnit } from "../trial/trial.ts";
import type { Estimate } from "./estimate.ts";

/** One field and what its grower accepts. Yields and money are in the units of the trial; rates in `rateUnit`. */
export interface Field {
  /** Hybrid to be planted; one of the trial's. */
  readonly hybrid: string;
  /** Name of the field, for the text. */
  readonly name?: string;
  /** Environment of the trial whose curve is used; default: all environments together. */
  readonly environment?: string;
  /** Yield expected of the field at its best density, in the trial's yield unit. */
  readonly yieldGoal?: number;
  /** Unit of the seeding rates here and in the answer; default: the trial's density unit. */
  readonly rateUnit?: DensityUnit;
  /** Seeds per area planted so far. */
  readonly presentRate?: number;
  /** Largest change of rate that the grower accepts in one season; default: no bound. */
  readonly acceptedStep?: number;
  /** Rates are multiples of this; default 500 seeds per acre, or 1,000 per hectare with metric units (common practice). */
  readonly planterStep?: number;
  /** Plants at harvest / seeds planted, 0 < share <= 1; default: the trial's, give or take 0.04. */
  readonly establishment?: Estimate;
  readonly prices?: FieldPrices;
  /** Sign or word for money in texts. */
  readonly currency?: string;
  /** Share of lodged plants that is still accepted; default 0.10. */
  readonly toleratedLodging?: number;
  /** Share of its grain that a lodged plant loses; default 0: yields are taken as harvested. */
  readonly lossPerLodgedPlant?: number;
  /** What the field can feed a crop with. */
  readonly supply?: Supply;
  /** Nitrogen planned, in the unit of the trial's nitrogen column; used only when the trial varied nitrogen. */
  readonly nitrogenRate?: number;
}

/** What `Field` must look like. */
export const fieldShape: { readonly [property: string]: Shape } = {
  hybrid: "text",
  name: "text?",
  environment: "text?",
  yieldGoal: "number?",
  rateUnit: "text?",
  presentRate: "number?",
  acceptedStep: "number?",
  planterStep: "number?",
  establishment: "any?",
  prices: "object?",
  currency: "text?",
  toleratedLodging: "number?",
  lossPerLodgedPlant: "number?",
  supply: "object?",
  nitrogenRate: "number?",
};

/** Prices as the trade quotes them. */
export interface FieldPrices {
  /** Money per yield unit of the trial. */
  readonly grainPrice: Estimate;
  readonly seedCostPerThousand: Estimate;
  /** Drying and hauling, money per yield unit; default 0. */
  readonly yieldCost?: Estimate;
}

export type Nutrient = "N" | "P2O5" | "K2O" | "S";

/** Nutrients available to one crop. */
export interface Supply {
  readonly unit: "lb/ac" | "kg/ha";
  readonly N?: NutrientSupply;
  readonly P2O5?: NutrientSupply;
  readonly K2O?: NutrientSupply;
  readonly S?: NutrientSupply;
  /** Factor on what roots take from the soil, for a hybrid known to root better or worse; the user's own figure, default 1. */
  readonly rootingFactor?: number;
  /** Uptake of the whole crop per unit of grain, where the defaults do not fit. */
  readonly uptake?: {
    readonly unit: "lb/bu" | "kg/t";
    readonly N?: Estimate;
    readonly P2O5?: Estimate;
    readonly K2O?: Estimate;
    readonly S?: Estimate;
  };
}

/** One nutrient: amounts per area and the share of each that the crop takes up. */
export interface NutrientSupply {
  readonly soil?: Estimate;
  /** Share of `soil` taken up; default 1: `soil` is what the crop can take. */
  readonly soilRecovery?: Estimate;
  readonly applied?: Estimate;
  /** Share of `applied` taken up; needed with `applied`. */
  readonly recovery?: Estimate;
}
