import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { DensityUnit } from "../trial/trial.ts";
import {
  type AreaUnit,
  convertDensity,
  type LengthUnit,
  type Measure,
  metresPer,
  squareMetresPer,
} from "../trial/units.ts";

export interface BudgetOptions {
  /** Size of one plot or strip as planted. */
  readonly plotLength: Measure<LengthUnit>;
  readonly plotWidth: Measure<LengthUnit>;
  /** Hybrids in the trial, each at every density in every block; default 1. */
  readonly hybrids?: number;
  /** Seeds in one bag or unit; default 80,000 (common practice, no source). */
  readonly seedsPerUnit?: number;
  /** Money per 1,000 seeds. */
  readonly seedCostPerThousand?: number;
  /** Money for each plot (planting, notes, harvest) and each site-year (visits, land). */
  readonly costPerPlot?: number;
  readonly costPerEnvironment?: number;
}

/** What `BudgetOptions` must look like. */
export const budgetOptionsShape: { readonly [property: string]: Shape } = {
  plotLength: "any",
  plotWidth: "any",
  hybrids: "number?",
  seedsPerUnit: "number?",
  seedCostPerThousand: "number?",
  costPerPlot: "number?",
  costPerEnvironment: "number?",
};

/** What a trial takes. */
export interface PlanBudget {
  readonly plots: number;
  /** Planted ground without borders and alleys. */
  readonly area: { readonly value: number; readonly unit: AreaUnit };
  readonly seeds: number;
  readonly seedUnits: number;
  /** Seed, plots and site-years together; null when no cost was given. */
  readonly cost: number | null;
}

/**
 * Plots, ground, seed and money for a trial.
 *
 * seeds = sum over densities of density x plot area x plots of that density.
 *
 * @param densities - seeding rates, shape [m]
 * @param replicates - plots of each density for one hybrid: blocks x sites x years
 * @param environments - site-years, for their own cost
 * @throws AnalysisError `invalid-option`
 * @example
 * const size = { plotLength: { value: 300, unit: "ft" }, plotWidth: { value: 20, unit: "ft" } } as const;
 * planBudget([20, 30, 40], 4, 1, "1000 plants/ac", size).plots; // => 12
 * Math.round(planBudget([20, 30, 40], 4, 1, "1000 plants/ac", size).seeds); // => 49587
 */
export function planBudget(
  densities: readonly number[],
  replicates: number,
  environments: number,
  densityUnit: DensityUnit,
  options: BudgetOptions,
): PlanBudget {
  checkShape(densities, "densities", "numbers");
  checkShape(replicates, "replicates", "number", "invalid-option");
  checkShape(environments, "environments", "number", "invalid-option");
  checkShape(densityUnit, "densityUnit", "text", "invalid-option");
  checkShape(options, "options", budgetOptionsShape, "invalid-option");
  const { hybrids = 1, seedsPerUnit = 80_000, seedCostPerThousand, costPerPlot, costPerEnvironment } = options;
  const metres = (measure: Measure<LengthUnit>, name: string): number => {
    check(
      measure?.value > 0 && Object.hasOwn(metresPer, measure.unit),
      "invalid-option",
      `budget.${name} must be a measure such as { value: 30, unit: "ft" }`,
    );
    return measure.value * metresPer[measure.unit];
  };
  check(Number.isInteger(hybrids) && hybrids >= 1, "invalid-option", `budget.hybrids must be >= 1, got ${hybrids}`);
  check(seedsPerUnit > 0, "invalid-option", `budget.seedsPerUnit must be > 0, got ${seedsPerUnit}`);
  const costs = [seedCostPerThousand, costPerPlot, costPerEnvironment];
  check(
    costs.every((cost) => cost === undefined || (cost >= 0 && Number.isFinite(cost))),
    "invalid-option",
    "costs of the budget must be >= 0",
  );
  const plotArea = metres(options.plotLength, "plotLength") * metres(options.plotWidth, "plotWidth");
  const plots = densities.length * replicates * hybrids;
  const perArea = densities.reduce((sum, x) => sum + convertDensity(x, densityUnit, "plants/m2"), 0);
  const seeds = perArea * plotArea * replicates * hybrids;
  const unit: AreaUnit = densityUnit.endsWith("/ac") || densityUnit.endsWith("/ft2") ? "ac" : "ha";
  const known = costs.some((cost) => cost !== undefined);
  return {
    plots,
    area: { value: (plots * plotArea) / squareMetresPer[unit], unit },
    seeds,
    seedUnits: seeds / seedsPerUnit,
    cost: known
      ? (seeds / 1000) * (seedCostPerThousand ?? 0) +
        plots * (costPerPlot ?? 0) +
        environments * (costPerEnvironment ?? 0)
      : null,
  };
}
