import { checkShape } from "../core/checkShape.ts";
import type { DensityUnit } from "../trial/trial.ts";
import type { AnalysisInput } from "./analysisInput.ts";
import { type Assessment, assess } from "./assess.ts";
import type { DensityLimit } from "./densityLimit.ts";
import type { NutrientBalance } from "./feedingSide.ts";
import { type Field, fieldShape } from "./field.ts";
import { checkedField } from "./readField.ts";
import { type RecommendOptions, recommendOptionsShape } from "./recommendOptions.ts";

/** Everything that bounds the density of one hybrid in one field, as seeding rates. */
export interface DensityLimits {
  readonly schema: "standcurve/density-limits/1";
  readonly hybrid: string;
  readonly rateUnit: DensityUnit;
  readonly limits: FieldLimits;
  readonly balances: readonly NutrientBalance[];
  readonly notes: readonly string[];
}

export interface FieldLimits {
  readonly economicOptimum: DensityLimit;
  readonly standability: DensityLimit;
  readonly feeding: DensityLimit;
  /** Read from a trial that varied nitrogen; `none` otherwise. */
  readonly nitrogenFromData: DensityLimit;
  readonly lowestTested: DensityLimit;
  readonly highestTested: DensityLimit;
}

/**
 * The limits of a field's density, each with its interval, on the seeding axis: what pays best, what stands, what the field can feed,
 * what was tested.
 *
 * Each is found on the trial's density axis and carried to seeds through the field's establishment, whose own doubt widens every
 * interval.
 *
 * @param analysis - result of `analyzeTrial`, also after a trip through JSON
 * @param field - see `Field`
 * @throws AnalysisError `invalid-data` when the field breaks a rule (all of them are listed); `invalid-option`;
 * `not-estimable` when the hybrid has no curve
 * @example
 * const field = { hybrid: "Amber 12", prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } };
 * densityLimits(analysis, field).limits.standability.kind; // => "none"
 *
 * Source: the order of limits and the feeding rule are stated in `recommendRate`.
 */
export function densityLimits(analysis: AnalysisInput, field: Field, options: RecommendOptions = {}): DensityLimits {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(field, "field", fieldShape);
  checkShape(options, "options", recommendOptionsShape, "invalid-option");
  const assessment = assess(analysis, checkedField(field), options);
  return {
    schema: "standcurve/density-limits/1",
    hybrid: field.hybrid,
    rateUnit: assessment.scene.rateUnit,
    limits: limitsOf(assessment),
    balances: assessment.feeding.balances,
    notes: notesOf(assessment),
  };
}

export function limitsOf({ economic, lodging, feeding, nitrogen, lowest, highest }: Assessment): FieldLimits {
  return {
    economicOptimum: economic,
    standability: lodging.limit,
    feeding: feeding.limit,
    nitrogenFromData: nitrogen.limit,
    lowestTested: lowest,
    highestTested: highest,
  };
}

export function notesOf({ scene, lodging, feeding, nitrogen }: Assessment): string[] {
  return [...scene.notes, ...lodging.notes, ...feeding.notes, ...nitrogen.notes];
}
