import type { DensityUnit } from "../trial/trial.ts";
import { convertDensity } from "../trial/units.ts";

/** Step of a planter's monitor when none is given: 500 seeds per acre, or 1,000 per hectare with metric units; common practice, no source. */
export function defaultPlanterStep(unit: DensityUnit): number {
  const metric = unit === "plants/ha" || unit === "1000 plants/ha" || unit === "plants/m2";
  return metric ? convertDensity(1000, "plants/ha", unit) : convertDensity(500, "plants/ac", unit);
}

/** Multiples of the step inside [low, high], ascending; rounding noise at the ends does not lose one. */
export function planterRates(low: number, high: number, step: number): number[] {
  const noise = 1e-9;
  const first = Math.max(1, Math.ceil(low / step - noise));
  const last = Math.floor(high / step + noise);
  return Array.from({ length: Math.max(0, last - first + 1) }, (_, i) => multiple(first + i, step));
}

/** k x step without the tail of binary digits (65 x 0.1 is 6.5). */
export function multiple(k: number, step: number): number {
  return Number((k * step).toPrecision(12));
}
