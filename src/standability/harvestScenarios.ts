import type { CurveFit } from "../fit/curveFit.ts";
import { type HarvestableOptimum, type HarvestableOptions, harvestableOptimum } from "./harvestableOptimum.ts";
import type { LodgingFit } from "./lodgingFit.ts";

/** Lodging as counted on one date. */
export interface DatedLodging {
  /** Date of the count, or days after maturity, as in the data. */
  readonly date: string;
  readonly lodging: LodgingFit;
}

export interface HarvestScenario {
  readonly date: string;
  readonly optimum: HarvestableOptimum;
}

/**
 * Harvestable optimum for each date of count, in the order given: what waiting with the harvest does to the density.
 *
 * @throws AnalysisError as `harvestableOptimum`
 */
export function harvestScenarios(
  gross: CurveFit,
  dates: readonly DatedLodging[],
  options: HarvestableOptions = {},
): HarvestScenario[] {
  return dates.map(({ date, lodging }) => ({ date, optimum: harvestableOptimum({ gross, lodging }, options) }));
}
