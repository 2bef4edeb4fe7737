import { checkShape } from "../core/checkShape.ts";
import { type CheckWarning, checkWarnings } from "./checkWarnings.ts";
import {
  type Ability,
  blockAbility,
  type FamilyAbility,
  familyAbilities,
  intervalAbility,
  lackOfFitAbility,
  limited,
  no,
} from "./estimable.ts";
import { describeLayout, isUsable, type Layout, type UsablePlot } from "./layout.ts";
import { numberText } from "./numberText.ts";
import { type StandabilityCheck, standabilityChecks } from "./standabilityCheck.ts";
import type { DensityUnit, Trial } from "./trial.ts";

/** What the plots of one hybrid can carry, in one environment or over all. */
export interface CurveCheck extends Layout {
  /** Null: all environments together, their blocks kept apart. */
  readonly environment: string | null;
  readonly families: readonly FamilyAbility[];
  readonly lackOfFit: Ability;
  readonly blockEffect: Ability;
  /** An interval for the optimum. */
  readonly interval: Ability;
}

/** One hybrid: all its plots, each environment, and its lodging counts. */
export interface HybridCheck {
  readonly hybrid: string;
  /** One sentence that sums it up. */
  readonly summary: string;
  readonly pooled: CurveCheck;
  readonly environments: readonly CurveCheck[];
  readonly standability: readonly StandabilityCheck[];
}

/** What a trial can tell, judged from its design alone, before any fit. */
export interface TrialCheck {
  readonly schema: "standcurve/trial-check/1";
  readonly densityAxis: Trial["densityAxis"];
  readonly densityUnit: DensityUnit;
  readonly plots: number;
  readonly excludedPlots: number;
  readonly plotsWithoutYield: number;
  readonly hybrids: readonly HybridCheck[];
  /** Range of densities tested for every hybrid in every environment: where flex scores can be compared; null without one. */
  readonly commonRange: { readonly lowest: number; readonly highest: number } | null;
  /** Do hybrids respond differently to density? */
  readonly hybridByDensity: Ability;
  /** Does the response differ between environments? */
  readonly environmentByDensity: Ability;
  readonly warnings: readonly CheckWarning[];
}

/**
 * Says before any fit what a trial can tell: plots, blocks, densities and balance per hybrid and environment, which curve
 * families, tests and intervals the design can carry, why it cannot carry the others, and what to be careful about.
 *
 * Only the design is looked at, never the yields (but whether a plot has one). Excluded plots do not count.
 *
 * @returns plain data that survives JSON, `schema` "standcurve/trial-check/1"
 * @example
 * checkTrial(trial).hybrids[0].pooled.families.filter((one) => one.possible === "no");
 */
export function checkTrial(trial: Trial): TrialCheck {
  checkShape(trial, "trial", "standcurve/trial/1");
  const used = trial.plots.filter((plot) => plot.excluded === null);
  const usable = used.filter(isUsable);
  const byHybrid = groupBy(usable, (plot) => plot.hybrid);
  const hybrids = trial.hybrids.map((hybrid): HybridCheck => {
    const plots = byHybrid.get(hybrid) ?? [];
    const pooled = curveCheck(null, plots);
    const environments = [...groupBy(plots, (plot) => plot.environment)].map(([environment, part]) =>
      curveCheck(environment, part),
    );
    const lodged = used.filter((plot) => plot.hybrid === hybrid);
    return {
      hybrid,
      summary: summary(hybrid, pooled, environments.length, trial),
      pooled,
      environments,
      standability: standabilityChecks(lodged),
    };
  });
  return {
    schema: "standcurve/trial-check/1",
    densityAxis: trial.densityAxis,
    densityUnit: trial.densityUnit,
    plots: used.length,
    excludedPlots: trial.plots.length - used.length,
    plotsWithoutYield: used.filter((plot) => plot.yield === null).length,
    hybrids,
    commonRange: commonRange(hybrids),
    hybridByDensity: hybridByDensity(hybrids, usable),
    environmentByDensity: environmentByDensity(hybrids),
    warnings: checkWarnings(hybrids, usable, trial),
  };
}

function curveCheck(environment: string | null, plots: readonly UsablePlot[]): CurveCheck {
  const layout = describeLayout(plots);
  return {
    environment,
    ...layout,
    families: familyAbilities(layout),
    lackOfFit: lackOfFitAbility(layout),
    blockEffect: blockAbility(layout),
    interval: intervalAbility(layout),
  };
}

function summary(hybrid: string, pooled: CurveCheck, environments: number, trial: Trial): string {
  if (pooled.plots === 0) return `${hybrid}: no plot has both a density and a yield.`;
  const range = `${shown(pooled.lowest)} to ${shown(pooled.highest)} ${trial.densityUnit.replace("1000 ", "thousand ")}`;
  const bent = pooled.families.find((one) => one.family === "quadratic-plateau");
  const curve =
    bent?.possible === "yes"
      ? "all curves can be fitted"
      : bent?.possible === "limited"
        ? `bent curves only with care (${bent.reason})`
        : `no bent curve can be fitted (${bent?.reason})`;
  const fit = pooled.lackOfFit.possible === "no" ? "lack of fit cannot be tested" : "lack of fit can be tested";
  return `${hybrid}: ${count(pooled.plots, "plot")} in ${count(pooled.blocks, "block")} of ${count(environments, "environment")}, ${count(pooled.densities, "density", "densities")} from ${range}; ${curve}, ${fit}.`;
}

/** Over every hybrid in every environment; over hybrids alone when environments do not overlap. */
function commonRange(hybrids: readonly HybridCheck[]): TrialCheck["commonRange"] {
  return overlap(hybrids.flatMap(({ environments }) => environments)) ?? overlap(hybrids.map(({ pooled }) => pooled));
}

function overlap(checks: readonly CurveCheck[]): TrialCheck["commonRange"] {
  let lowest = Number.NEGATIVE_INFINITY;
  let highest = Number.POSITIVE_INFINITY;
  for (const check of checks) {
    if (check.lowest === null || check.highest === null) continue;
    lowest = Math.max(lowest, check.lowest);
    highest = Math.min(highest, check.highest);
  }
  return Number.isFinite(lowest) && lowest < highest ? { lowest, highest } : null;
}

function hybridByDensity(hybrids: readonly HybridCheck[], usable: readonly UsablePlot[]): Ability {
  const bent = hybrids.filter(({ pooled }) => pooled.terms >= 1);
  if (hybrids.length < 2) return no("there is one hybrid");
  if (bent.length < 2) return no("fewer than two hybrids were grown at several densities");
  const dof = usable.length - hybrids.reduce((sum, { pooled }) => sum + pooled.blocks + Math.min(pooled.terms, 2), 0);
  if (dof < 1) return no("no plots are left to judge the error");
  if (commonRange(bent) === null)
    return limited(
      "the hybrids were grown at densities that do not overlap, so a difference in response may be one of range",
      dof,
    );
  return { possible: "yes", reason: null, dof };
}

function environmentByDensity(hybrids: readonly HybridCheck[]): Ability {
  const several = hybrids.filter(({ environments }) => environments.filter((one) => one.terms >= 1).length >= 2);
  if (several.length === 0) {
    const most = hybrids.reduce((most, { environments }) => Math.max(most, environments.length), 0);
    return no(
      most < 2
        ? "every hybrid was grown in one environment only"
        : "no hybrid was grown at several densities in two environments",
    );
  }
  const dof = several.reduce(
    (sum, { environments }) =>
      sum + environments.reduce((inner, one) => inner + one.plots - one.blocks - Math.min(one.terms, 2), 0),
    0,
  );
  if (dof < 1) return no("no plots are left to judge the error");
  return { possible: "yes", reason: null, dof };
}

function groupBy(plots: readonly UsablePlot[], key: (plot: UsablePlot) => string): Map<string, UsablePlot[]> {
  const groups = new Map<string, UsablePlot[]>();
  for (const plot of plots) {
    const group = groups.get(key(plot));
    if (group === undefined) groups.set(key(plot), [plot]);
    else group.push(plot);
  }
  return groups;
}

const shown = (value: number | null): string => (value === null ? "?" : numberText(value, 4));
const count = (n: number, one: string, many = `${one}s`): string => `${numberText(n)} ${n === 1 ? one : many}`;
