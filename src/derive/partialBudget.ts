import { checkShape, type Shape } from "../core/checkShape.ts";
import { netPrice } from "../core/economics.ts";
import { check } from "../core/errors.ts";

export interface BudgetChange {
  /** Seeds added per area (negative: saved), in the unit of `seedCost`. */
  readonly addedSeed: number;
  /** Money per unit of seed (per 1,000 seeds when `addedSeed` is in thousands). */
  readonly seedCost: number;
  /** Yield added per area. */
  readonly addedYield: number;
  /** Money per yield unit. */
  readonly grainPrice: number;
  /** Costs that grow with yield (drying, hauling), money per yield unit; default 0. */
  readonly yieldCost?: number;
}

/** What `BudgetChange` must look like. */
export const budgetChangeShape: { readonly [property: string]: Shape } = {
  addedSeed: "number",
  seedCost: "number",
  addedYield: "number",
  grainPrice: "number",
  yieldCost: "number?",
};

/**
 * What a change of seeding rate costs and brings: cost = seed, value = yield x net price, net = value - cost, and the yield
 * that would just pay for the seed.
 *
 * @throws AnalysisError `invalid-option` when the net price is not > 0 or a figure is not finite
 * @example
 * partialBudget({ addedSeed: 5, seedCost: 3.75, addedYield: 0.9, grainPrice: 5 }).net; // => -14.25
 *
 * Source: partial budgeting; worked figures of Iowa strip trials 2009-13 in the tests.
 */
export function partialBudget(input: BudgetChange): {
  readonly cost: number;
  readonly value: number;
  readonly net: number;
  readonly breakEvenYield: number;
} {
  checkShape(input, "input", budgetChangeShape);
  const { addedSeed, seedCost, addedYield, grainPrice, yieldCost = 0 } = input;
  const price = netPrice({ grainPrice, yieldCost });
  check(
    [addedSeed, seedCost, addedYield].every(Number.isFinite),
    "invalid-option",
    "seed, cost and yield must be finite numbers",
  );
  const cost = addedSeed * seedCost;
  const value = addedYield * price;
  return { cost, value, net: value - cost, breakEvenYield: cost / price };
}
