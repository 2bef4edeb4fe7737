import { checkShape } from "../core/checkShape.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import {
  type HarvestableOptimum,
  type HarvestableOptions,
  harvestableOptimum,
  harvestableOptionsShape,
} from "./harvestableOptimum.ts";
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
 * @example
 * const gross = fitCurve("quadratic", { density: [20, 25, 30, 35, 40], yield: [150, 175, 190, 195, 190] });
 * const lodging = fitLodging({ density: [20, 25, 30, 35, 40], lodged: [1, 2, 6, 20, 45], examined: [100, 100, 100, 100, 100] });
 * harvestScenarios(gross, [{ date: "2031-10-02", lodging }]).length; // => 1
 */
export function harvestScenarios(
  gross: CurveFit,
  dates: readonly DatedLodging[],
  options: HarvestableOptions = {},
): HarvestScenario[] {
  checkShape(gross, "gross", "standcurve/curve-fit/1");
  checkShape(dates, "dates", "objects");
  checkShape(options, "options", harvestableOptionsShape, "invalid-option");
  return dates.map(({ date, lodging }) => ({ date, optimum: harvestableOptimum({ gross, lodging }, options) }));
}
