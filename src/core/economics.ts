import { checkShape, type Shape } from "./checkShape.ts";
import { check } from "./errors.ts";

/** Prices in the data's own units. */
export interface Economics {
  /** Money per yield unit. */
  readonly grainPrice: number;
  /** Money per density unit of seed (per seed, or per thousand seeds when densities are in thousands). */
  readonly seedCost: number;
  /** Stand / seeding rate, when densities are stands; seed is paid for per seed dropped. Default 1. */
  readonly establishment?: number;
  /** Costs that grow with yield (drying, hauling), money per yield unit, taken off the price. Default 0. */
  readonly yieldCost?: number;
}

/** What `Economics` must look like. */
export const economicsShape: { readonly [property: string]: Shape } = {
  grainPrice: "number",
  seedCost: "number",
  establishment: "number?",
  yieldCost: "number?",
};

/** A stand counted with error may exceed the seeds dropped a little; a share beyond this is a slip of units. */
const MOST_ESTABLISHMENT = 1.5;

/**
 * Yield that pays for one more plant: (seedCost / establishment) / (grainPrice - yieldCost).
 *
 * The one rule for prices, whatever asks for them: all finite; grainPrice > 0; seedCost >= 0; 0 < establishment <= 1.5; 0 <= yieldCost <
 * grainPrice, so that one more yield unit is always worth something.
 *
 * @returns yield units per density unit, >= 0
 * @throws AnalysisError `invalid-option` when a price breaks the rule
 * @example
 * priceRatio({ grainPrice: 4.5, seedCost: 3.75 }).toFixed(6); // => "0.833333"
 *
 * Source: marginal condition price x Y'(x) = cost, any text on production economics.
 */
export function priceRatio(input: Economics): number {
  checkShape(input, "input", economicsShape, "invalid-option");
  const { grainPrice, seedCost, establishment = 1, yieldCost = 0 } = input;
  const net = netPrice({ grainPrice, yieldCost });
  check(Number.isFinite(seedCost) && seedCost >= 0, "invalid-option", `seedCost must be >= 0, got ${seedCost}`);
  check(
    establishment > 0 && establishment <= MOST_ESTABLISHMENT,
    "invalid-option",
    `establishment must be a share in (0, ${MOST_ESTABLISHMENT}], got ${establishment}`,
  );
  return checkedRatio(seedCost / establishment / net);
}

/** Money for one more yield unit after what grows with yield: grainPrice - yieldCost, by the same rule. */
export function netPrice({ grainPrice, yieldCost = 0 }: Pick<Economics, "grainPrice" | "yieldCost">): number {
  check(Number.isFinite(grainPrice) && grainPrice > 0, "invalid-option", `grainPrice must be > 0, got ${grainPrice}`);
  check(
    yieldCost >= 0 && yieldCost < grainPrice,
    "invalid-option",
    `yieldCost must be >= 0 and below grainPrice, got ${yieldCost}`,
  );
  return grainPrice - yieldCost;
}

/** A price ratio given as such: finite and not negative. */
export function checkedRatio(ratio: number): number {
  check(ratio >= 0 && Number.isFinite(ratio), "invalid-option", `priceRatio must be >= 0, got ${ratio}`);
  return ratio;
}
