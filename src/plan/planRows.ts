import { checkShape } from "../core/checkShape.ts";
import type { DensityChoice, JudgedDensities } from "./chooseDensities.ts";
import type { LayoutPlan } from "./layoutPlan.ts";
import type { PowerResult } from "./trialPower.ts";
import type { WhatNext } from "./whatNext.ts";

/** One row of a tidy table: a figure or a word for every column, null where there is none. */
export type PlanRow = Readonly<Record<string, string | number | boolean | null>>;

/**
 * One row a plot, in planting order.
 *
 * @example
 * const plan = layoutTrial({ hybrids: ["Amber 12"], rates: [20, 30, 40], densityUnit: "1000 plants/ac", blocks: 2 });
 * layoutRows(plan).length; // => 6
 */
export function layoutRows(plan: LayoutPlan): PlanRow[] {
  checkShape(plan, "plan", "standcurve/layout-plan/1");
  return plan.plots.map(({ environment, plot, kind, block, mainPlot, row, column, order, hybrid, seedingRate }) => ({
    environment,
    plot,
    kind,
    block,
    mainPlot,
    row,
    column,
    order,
    hybrid,
    seedingRate,
    unit: plan.densityUnit,
  }));
}

/**
 * One row a set of densities: the recommended one, the best for each criterion, the even spread, those compared.
 *
 * @example
 * const prior = { optimum: [30, 36], lossBelow: { distance: 10, loss: 8 }, bestYield: 200 };
 * const steps = { from: 16, to: 46, step: 6 };
 * densityRows(chooseDensities({ prior, steps, count: 4, sigma: 5, simulations: 100 })).length > 1; // => true
 */
export function densityRows(choice: DensityChoice): PlanRow[] {
  checkShape(choice, "choice", "standcurve/density-choice/1");
  const row = (role: string, set: JudgedDensities): PlanRow => ({
    role,
    densities: set.densities.join(" "),
    count: set.densities.length,
    plots: set.plots,
    boundedChance: set.bounded.value,
    boundedError: set.bounded.error,
    remainingSd: set.remainingSd,
    standardError: set.standardError,
    familyChance: set.familyFound.value,
    familyError: set.familyFound.error,
    hasTooHigh: set.hasTooHigh,
    unit: choice.densityUnit,
  });
  return [
    row("recommended", choice.recommended),
    ...(["bounded", "precision", "discrimination"] as const).map((name) => row(`best for ${name}`, choice.best[name])),
    row("evenly spread", choice.even),
    ...choice.compared.map((set, i) => row(`compared ${i + 1}`, set)),
  ];
}

/**
 * One row a design: the points of every power curve, with Monte-Carlo errors.
 *
 * @example
 * const prior = { optimum: [30, 36], lossBelow: { distance: 10, loss: 8 }, bestYield: 200 };
 * const power = trialPower({ densities: [18, 26, 34, 42], blocks: [4, 8], prior, sigma: 5, simulations: 50 });
 * powerRows(power).length; // => 2
 */
export function powerRows(result: PowerResult): PlanRow[] {
  checkShape(result, "result", "standcurve/trial-power/1");
  return result.points.map(({ densities, blocks, sites, years, plots, optimum, flex, lodging, budget }, i) => ({
    densities: densities.join(" "),
    blocks,
    sites,
    years,
    plots,
    simulations: optimum.simulations,
    failed: optimum.failed.count,
    failedReason: optimum.failed.reason,
    boundedChance: optimum.bounded.value,
    boundedError: optimum.bounded.error,
    lowerBoundedChance: optimum.lowerBounded.value,
    upperBoundedChance: optimum.upperBounded.value,
    flatNotExcludedChance: optimum.flatNotExcluded.value,
    coverage: optimum.covered.value,
    coverageError: optimum.covered.error,
    meanWidth: optimum.width.value,
    meanWidthError: optimum.width.error,
    medianWidth: optimum.width.median,
    withinChance: optimum.within?.value ?? null,
    withinError: optimum.within?.error ?? null,
    gain: optimum.gain?.gain ?? null,
    gainSeenChance: optimum.gain?.seen.value ?? null,
    gainSeenError: optimum.gain?.seen.error ?? null,
    twoDensitiesPower: optimum.gain?.twoDensities ?? null,
    linearTrendPower: optimum.linearTrend,
    regret: optimum.regret.value,
    regretError: optimum.regret.error,
    flexToldChance: flex?.told.value ?? null,
    flexToldError: flex?.told.error ?? null,
    flexFailed: flex?.failed ?? null,
    lodgingBoundedChance: lodging?.bounded.value ?? null,
    lodgingBoundedError: lodging?.bounded.error ?? null,
    area: budget?.area.value ?? null,
    areaUnit: budget?.area.unit ?? null,
    seeds: budget?.seeds ?? null,
    seedUnits: budget?.seedUnits ?? null,
    cost: budget?.cost ?? null,
    smallest: result.smallest === i,
    densityUnit: result.densityUnit,
    yieldUnit: result.yieldUnit,
  }));
}

/**
 * One row an addition.
 *
 * @example
 * const next = whatNext(analysis, { hybrid: "Amber 12", blocks: [4], sites: [], densities: [], simulations: 20 });
 * nextRows(next).length; // => 1
 */
export function nextRows(next: WhatNext): PlanRow[] {
  checkShape(next, "next", "standcurve/what-next/1");
  return next.additions.map((one, i) => ({
    hybrid: next.hybrid,
    kind: one.kind,
    label: one.label,
    blocks: one.blocks,
    sites: one.sites,
    density: one.density,
    plots: one.plots,
    boundedChance: one.bounded.value,
    boundedError: one.bounded.error,
    meanWidth: one.width.value,
    regret: one.regret.value,
    saved: one.saved.value,
    savedError: one.saved.error,
    savedPerPlot: one.saved.value === null ? null : one.saved.value / one.plots,
    buysMost: next.recommended === i,
    densityUnit: next.densityUnit,
    yieldUnit: next.yieldUnit,
  }));
}
