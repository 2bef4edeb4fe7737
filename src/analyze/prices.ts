import type { Economics } from "../core/economics.ts";
import type { DensityUnit, Trial, YieldUnit } from "../trial/trial.ts";
import { convertDensity } from "../trial/units.ts";
import type { Prices } from "./options.ts";

const areaOfYield: Readonly<Record<YieldUnit, DensityUnit>> = {
  "bu/ac": "plants/ac",
  "lb/ac": "plants/ac",
  "t/ha": "plants/ha",
  "kg/ha": "plants/ha",
  "g/m2": "plants/m2",
};

/** Area that money per area refers to: that of the yield unit. */
export function moneyArea(yieldUnit: YieldUnit): "ac" | "ha" | "m2" {
  return areaOfYield[yieldUnit].slice("plants/".length) as "ac" | "ha" | "m2";
}

/** Plants that one density unit stands for on the area of the yield unit. */
export function plantsPerUnit(trial: Trial): number {
  return convertDensity(1, trial.densityUnit, areaOfYield[trial.yieldUnit]);
}

/** Prices per 1,000 seeds turned into the trial's density unit. */
export function inTrialUnits(prices: Prices, trial: Trial, establishment: number): Required<Economics> {
  return {
    grainPrice: prices.grainPrice,
    seedCost: (prices.seedCostPerThousand * plantsPerUnit(trial)) / 1000,
    establishment,
    yieldCost: prices.yieldCost ?? 0,
  };
}
