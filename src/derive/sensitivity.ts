import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { type EconomicOptimum, type EconomicOptions, economicOptimum } from "./optimum.ts";

/** One cell of a price table. */
export interface SensitivityCell {
  readonly seedCost: number;
  readonly grainPrice: number;
  readonly kind: EconomicOptimum["kind"];
  readonly density: number | null;
  readonly seedingRate: number | null;
  readonly return: number;
}

/**
 * Economic optimum for every combination of seed cost and grain price, seed cost varying slowest.
 *
 * @param seedCosts - money per density unit of seed; shape [p], p >= 1
 * @param grainPrices - money per yield unit; shape [q], q >= 1
 * @returns shape [p * q]
 * @throws AnalysisError `invalid-option` when a list is empty or a price out of bounds
 * @example
 * const fit = fitCurve("quadratic", { density: [20, 25, 30, 35, 40], yield: [150, 175, 190, 195, 190] });
 * priceSensitivity(fit, [3, 4], [4, 5]).length; // => 4
 */
export function priceSensitivity(
  fit: CurveFit,
  seedCosts: readonly number[],
  grainPrices: readonly number[],
  options: Omit<EconomicOptions, "seedCost" | "grainPrice"> = {},
): SensitivityCell[] {
  checkShape(fit, "fit", "standcurve/curve-fit/1");
  checkShape(seedCosts, "seedCosts", "numbers");
  checkShape(grainPrices, "grainPrices", "numbers");
  checkShape(
    options,
    "options",
    { establishment: "number?", yieldCost: "number?", nearBestLoss: "number?", step: "number?" },
    "invalid-option",
  );
  check(
    seedCosts.length > 0 && grainPrices.length > 0,
    "invalid-option",
    "give at least one seed cost and one grain price",
  );
  return seedCosts.flatMap((seedCost) =>
    grainPrices.map((grainPrice) => {
      const { kind, density, seedingRate, return: value } = economicOptimum(fit, { ...options, seedCost, grainPrice });
      return { seedCost, grainPrice, kind, density, seedingRate, return: value };
    }),
  );
}
