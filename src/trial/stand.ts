import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import { type AreaUnit, type LengthUnit, type Measure, metresPer, squareMetresPer } from "./units.ts";

/**
 * Length of one row that covers an area: what to walk when plants are counted in 1/1000 of an acre or hectare.
 *
 * length = area / row width.
 *
 * @param area - ground to cover, for example `{ value: 0.001, unit: "ac" }`
 * @param rowWidth - distance between rows, for example `{ value: 30, unit: "in" }`
 * @param unit - unit of the answer
 * @throws AnalysisError `invalid-data` when the area or the width is not above zero
 * @example
 * rowLengthForArea({ value: 0.001, unit: "ac" }, { value: 30, unit: "in" }, "ft"); // => 17.424
 *
 * Source: exact units; extension tables print 17 ft 5 in for 30-inch rows.
 */
export function rowLengthForArea(area: Measure<AreaUnit>, rowWidth: Measure<LengthUnit>, unit: LengthUnit): number {
  checkShape(area, "area", { value: "number", unit: "text" });
  checkShape(rowWidth, "rowWidth", { value: "number", unit: "text" });
  checkShape(unit, "unit", "text", "invalid-option");
  check(
    area.value > 0 && rowWidth.value > 0,
    "invalid-data",
    `area and row width must be above zero; got ${area.value} and ${rowWidth.value}`,
  );
  const known = Object.hasOwn(squareMetresPer, area.unit) && Object.hasOwn(metresPer, rowWidth.unit);
  check(
    known && Object.hasOwn(metresPer, unit),
    "invalid-option",
    `units must be of area (${Object.keys(squareMetresPer).join(", ")}) and length (${Object.keys(metresPer).join(", ")}); got ${shown([area.unit, rowWidth.unit, unit])}`,
  );
  return (area.value * squareMetresPer[area.unit]) / (rowWidth.value * metresPer[rowWidth.unit]) / metresPer[unit];
}

/**
 * Seeds to drop so that a target stand grows.
 *
 * rate = target / (germination x survival), both as shares of 1.
 *
 * @param target - plants wanted per area, any unit
 * @param germination - share of seeds that germinate (the tag gives percent: 95 % is 0.95), 0 < g <= 1
 * @param survival - share of germinated seeds that grow to harvest, 0 < s <= 1
 * @returns seeds per area, the unit of `target`
 * @throws AnalysisError `invalid-data` when a share is outside (0, 1] or the target is not above zero
 * @example
 * seedingRateFor(32000, 0.95, 0.95); // => 35457.06371191136
 *
 * Source: formula of an extension newsletter; 32,000 / (.95 x .95) = 35,457.
 */
export function seedingRateFor(target: number, germination: number, survival: number): number {
  checkShape(target, "target", "number", "invalid-option");
  checkShape(germination, "germination", "number", "invalid-option");
  checkShape(survival, "survival", "number", "invalid-option");
  check(target > 0, "invalid-data", `target stand must be above zero; got ${target}`);
  for (const share of [germination, survival]) {
    check(
      share > 0 && share <= 1,
      "invalid-data",
      `germination and survival are shares above 0 and up to 1 (95 % is 0.95); got ${share}`,
    );
  }
  return target / (germination * survival);
}
