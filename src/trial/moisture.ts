import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";

/**
 * Weight (or yield) that the same dry matter has at the standard moisture.
 *
 * Y_std = Y_wet (100 - M) / (100 - M_std), with M and M_std in percent of wet weight. Removing the water and then adding
 * M_std percent of the dry matter is a known mistake and gives too little.
 *
 * @param wet - weight or yield as harvested, any unit
 * @param moisture - moisture as harvested, percent, 0 <= M < 100
 * @param standardMoisture - moisture to state it at, percent, 0 <= M_std < 100
 * @returns the same unit as `wet`
 * @throws AnalysisError `invalid-data` when a moisture is outside [0, 100)
 * @example
 * standardMoistureYield(10000, 20, 15.5); // => 9467.455621301775
 *
 * Source: dry matter is conserved; worked inputs of an extension sheet (10,000 lb at 20 % to 15.5 % = 9,467.456 lb).
 */
export function standardMoistureYield(wet: number, moisture: number, standardMoisture: number): number {
  checkShape(wet, "wet", "number");
  checkShape(moisture, "moisture", "number");
  checkShape(standardMoisture, "standardMoisture", "number");
  check(
    moisture >= 0 && moisture < 100,
    "invalid-data",
    `moisture must be a percentage from 0 to below 100; got ${moisture}`,
  );
  check(
    standardMoisture >= 0 && standardMoisture < 100,
    "invalid-data",
    `standard moisture must be a percentage from 0 to below 100; got ${standardMoisture}`,
  );
  return (wet * (100 - moisture)) / (100 - standardMoisture);
}
