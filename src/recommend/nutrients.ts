import type { Crop } from "../trial/trial.ts";
import type { EstimateRange } from "./estimate.ts";
import type { Nutrient } from "./field.ts";

/** Uptake of the whole crop by harvest, kg per tonne of dry grain. */
export interface UptakeEntry {
  readonly crop: string;
  readonly perTonneDryGrain: Readonly<Record<Nutrient, number>>;
  readonly source: string;
}

/**
 * Uptake by crop. Maize: 286 kg N, 114 kg P2O5, 202 kg K2O and 26 kg S per ha in crops of 12.0 t/ha grain, taken as dry: six
 * hybrids at two Illinois sites in 2010.
 */
export const uptakeTable: readonly UptakeEntry[] = Object.freeze([
  {
    crop: "maize",
    perTonneDryGrain: { N: 286 / 12, P2O5: 114 / 12, K2O: 202 / 12, S: 26 / 12 },
    source: "Bender et al. (2013), Agronomy Journal 105, 161-170",
  },
]);

/** Nutrients that leave with the grain, lb per bushel: for the balance over years, not for what a crop must take up. */
export interface RemovalEntry {
  readonly crop: string;
  readonly poundsPerBushel: { readonly P2O5: number; readonly K2O: number };
  readonly source: string;
}

/** Averages with a wide spread between fields. */
export const removalTable: readonly RemovalEntry[] = Object.freeze(
  [
    { crop: "maize", poundsPerBushel: { P2O5: 0.37, K2O: 0.23 } },
    { crop: "soybean", poundsPerBushel: { P2O5: 0.75, K2O: 1.18 } },
    { crop: "wheat", poundsPerBushel: { P2O5: 0.46, K2O: 0.28 } },
  ].map((entry) => ({
    ...entry,
    source:
      "Villamil, Nafziger & Behnke (2019), Crop, Forage & Turfgrass Management, Illinois samples 2014-16, 75th percentile",
  })),
);

/**
 * How far uptake per unit of grain may be off in one field, as a share: nutrient contents of grain varied with a coefficient of
 * variation of 17 % (K2O) to 24 % (P2O5) between 13 sites in five north-eastern US states; 0.4 either way is a triangle with 16 %.
 */
const UPTAKE_DOUBT = 0.4;

/** Uptake per tonne of grain at the crop's standard moisture, kg/t; null for a crop that is not in the table. */
export function uptakePerTonne(crop: Crop, nutrient: Nutrient): EstimateRange | null {
  const entry = uptakeTable.find((one) => one.crop === crop.name);
  if (entry === undefined) return null;
  const likely = entry.perTonneDryGrain[nutrient] * (1 - crop.standardMoisture / 100);
  return { lowest: likely * (1 - UPTAKE_DOUBT), likely, highest: likely * (1 + UPTAKE_DOUBT) };
}
