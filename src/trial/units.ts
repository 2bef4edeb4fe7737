import { checkShape } from "../core/checkShape.ts";
import { AnalysisError, check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import type { Crop, DensityUnit, YieldUnit } from "./trial.ts";

/** Exact by definition: the international avoirdupois pound (1959), kg. */
export const kilogramsPerPound = 0.45359237;
/** Exact by definition: the international acre, m2 (43,560 square feet of 0.3048 m). */
export const squareMetresPerAcre = 4046.8564224;
const squareMetresPerSquareFoot = 0.09290304; // 0.3048 m squared

/** Units of length that a strip, a counted piece of row or a row spacing may be declared in. */
export type LengthUnit = "ft" | "in" | "yd" | "m" | "cm" | "mm";
/** Units of harvested weight. */
export type MassUnit = "lb" | "kg" | "g" | "t" | "oz";
/** Units of harvested or counted ground. */
export type AreaUnit = "ac" | "ha" | "m2" | "ft2";
/** Units a yield column may come in: the trial's own units, and two that are brought to t/ha. */
export type YieldColumnUnit = YieldUnit | "dt/ha" | "cwt/ac";

/** A number with its unit. */
export interface Measure<Unit extends string> {
  readonly value: number;
  readonly unit: Unit;
}

/** Metres in one unit of length; exact (1 ft = 0.3048 m by definition). */
export const metresPer: Readonly<Record<LengthUnit, number>> = {
  ft: 0.3048,
  in: 0.0254,
  yd: 0.9144,
  m: 1,
  cm: 0.01,
  mm: 0.001,
};
/** Kilograms in one unit of mass; exact. */
export const kilogramsPer: Readonly<Record<MassUnit, number>> = {
  lb: kilogramsPerPound,
  kg: 1,
  g: 0.001,
  t: 1000,
  oz: kilogramsPerPound / 16,
};
/** Square metres in one unit of area; exact. */
export const squareMetresPer: Readonly<Record<AreaUnit, number>> = {
  ac: squareMetresPerAcre,
  ha: 10_000,
  m2: 1,
  ft2: squareMetresPerSquareFoot,
};

/** Plants that "1" stands for, and the ground it stands on, m2. Kept apart so that conversion rounds once. */
const densityParts: Readonly<Record<DensityUnit, readonly [count: number, area: number]>> = {
  "plants/ac": [1, squareMetresPerAcre],
  "1000 plants/ac": [1000, squareMetresPerAcre],
  "plants/ha": [1, 10_000],
  "1000 plants/ha": [1000, 10_000],
  "plants/m2": [1, 1],
  "plants/ft2": [1, squareMetresPerSquareFoot],
};

/** Kilograms that "1" stands for, and the ground it stands on, m2; bushels are filled in from the crop. */
const yieldParts: Readonly<Record<YieldColumnUnit, readonly [mass: number | null, area: number]>> = {
  "bu/ac": [null, squareMetresPerAcre],
  "lb/ac": [kilogramsPerPound, squareMetresPerAcre],
  "cwt/ac": [100 * kilogramsPerPound, squareMetresPerAcre],
  "t/ha": [1000, 10_000],
  "kg/ha": [1, 10_000],
  "dt/ha": [100, 10_000],
  "g/m2": [0.001, 1],
};

export const densityUnits: readonly DensityUnit[] = Object.keys(densityParts) as DensityUnit[];
export const yieldColumnUnits: readonly YieldColumnUnit[] = Object.keys(yieldParts) as YieldColumnUnit[];
export const yieldUnits: readonly YieldUnit[] = ["bu/ac", "lb/ac", "t/ha", "kg/ha", "g/m2"];

/**
 * Brings a density from one unit to another; exact but for one rounding (1 ac = 4046.8564224 m2).
 *
 * @param value - plants or seeds per area, in `from`
 * @throws AnalysisError `invalid-option` when a unit is not one of the listed ones
 * @example
 * convertDensity(1, "1000 plants/ac", "plants/m2"); // => 0.24710538146716535
 */
export function convertDensity(value: number, from: DensityUnit, to: DensityUnit): number {
  checkNumber(value);
  checkUnit("density", from, densityUnits);
  checkUnit("density", to, densityUnits);
  if (from === to) return value;
  const [count, area] = densityParts[from];
  const [toCount, toArea] = densityParts[to];
  return area === toArea ? (value * count) / toCount : (value * count * toArea) / (toCount * area);
}

/**
 * Brings a yield from one unit to another; bushels are weight, so they need the crop's pounds per bushel, whatever the
 * test weight. Moisture is not touched: see `standardMoistureYield`.
 *
 * @param value - grain per area, in `from`
 * @param crop - needed when one of the units is bu/ac
 * @throws AnalysisError `invalid-option` when a unit is not listed, or bushels are asked for a crop without a bushel weight
 * @example
 * convertYield(1, "bu/ac", "t/ha", { name: "maize", poundsPerBushel: 56, standardMoisture: 15.5 }); // => 0.06276766471
 *
 * Source: exact definitions of pound and acre; 1 bu/ac of 56 lb = 0.0627676647 Mg/ha.
 */
export function convertYield(value: number, from: YieldColumnUnit, to: YieldColumnUnit, crop?: Crop): number {
  checkNumber(value);
  checkUnit("yield", from, yieldColumnUnits);
  checkUnit("yield", to, yieldColumnUnits);
  if (from === to) return value;
  const [mass, area] = yieldParts[from];
  const [toMass, toArea] = yieldParts[to];
  const kilograms = value * (mass ?? bushel(crop));
  const toKilograms = toMass ?? bushel(crop);
  return area === toArea ? kilograms / toKilograms : (kilograms * toArea) / (toKilograms * area);
}

function checkNumber(value: number): void {
  if (typeof value !== "number" || !Number.isFinite(value))
    throw new AnalysisError("invalid-data", `a value to be converted must be a finite number; got ${shown(value)}`);
}

/** Conversions run once per cell of a file, so the message is put together only when it is needed. */
function checkUnit(what: string, unit: string, units: readonly string[]): void {
  if (units.includes(unit)) return;
  throw new AnalysisError("invalid-option", `${what} unit must be one of ${units.join(", ")}; got "${shown(unit)}"`);
}

function bushel(crop: Crop | undefined): number {
  if (crop !== undefined) checkShape(crop, "crop", { name: "text", poundsPerBushel: "number|null" }, "invalid-option");
  const pounds = crop?.poundsPerBushel ?? null;
  check(
    pounds !== null && pounds > 0,
    "invalid-option",
    `bu/ac needs a crop with a bushel weight; ${crop === undefined ? "no crop was given" : `"${crop.name}" has none`}`,
  );
  return pounds * kilogramsPerPound;
}
