import { checkShape } from "../core/checkShape.ts";
import { AnalysisError, check } from "../core/errors.ts";
import type { AreaUnit } from "../trial/units.ts";
import type { AnalysisInput } from "./analysisInput.ts";
import { notesOf } from "./densityLimits.ts";
import { figureOf, meanOf } from "./figure.ts";
import { checkZones } from "./readZones.ts";
import { expectedAt } from "./recommendRate.ts";
import { sharedWork } from "./sharedWork.ts";
import type { Zone } from "./zone.ts";
import { type ZoneOptions, zoneOptionsShape } from "./zoneOptions.ts";
import type { PlannedZone, UniformPlan, ZonePlan } from "./zonePlan.ts";
import { type Sited, site } from "./zoneSite.ts";
import { cautionsFor, summaryFor } from "./zoneWords.ts";
import { bestUniform, moneyDraws, valueOfVarying } from "./zoneWorth.ts";

/**
 * A rate for every zone of a field, and what varying the rate is worth against the best uniform one.
 *
 * Each zone is a field of its own to `recommendRate` (without the accepted step). Curves and prices are drawn in common, the zones' own
 * figures independently. The uniform rate is the one with the highest return, so that varying is not flattered; caps that a zone
 * would break under it are named, and the best uniform rate that respects all of them stands beside it. Zones that share a curve and
 * differ only in level get the same rate: then varying brings nothing.
 *
 * @param zones - from `readZones`, or objects of that shape
 * @throws AnalysisError `invalid-data` when a zone or the field breaks a rule (all of them are listed); as `recommendRate`
 * @example
 * const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
 * const zones = [{ id: "hill", area: 22, areaUnit: "ac" }, { id: "slope", area: 30, areaUnit: "ac" }];
 * const options = { field: { hybrid: "Amber 12", prices } };
 * planZones(analysis, zones, options).zones.length; // => 2
 *
 * Source: value of varying a rate as the difference of expected returns; published values are small (12.53 per acre with perfect
 * knowledge of 93 Ohio trials, Ohio State extension newsletter 2019-09).
 */
export function planZones(analysis: AnalysisInput, zones: readonly Zone[], options: ZoneOptions = {}): ZonePlan {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(zones, "zones", "objects");
  checkShape(options, "options", zoneOptionsShape, "invalid-option");
  check(Array.isArray(zones) && zones.length > 0, "invalid-data", "planZones needs at least one zone");
  const issues = checkZones(zones);
  if (issues.length > 0) throw new AnalysisError("invalid-data", issues.map(({ message }) => message).join("\n"));
  const { costOfVarying = 0 } = options;
  check(costOfVarying >= 0, "invalid-option", `costOfVarying must be >= 0, got ${costOfVarying}`);
  const { trial } = analysis;
  const seedsPerUnit = options.seedsPerUnit ?? (trial.crop.name === "maize" ? 80_000 : null);
  check(seedsPerUnit === null || seedsPerUnit > 0, "invalid-option", `seedsPerUnit must be > 0, got ${seedsPerUnit}`);

  const shared = sharedWork();
  const sited = zones.map((zone, i) => site(analysis, zone, i, options, shared));
  const { scene } = sited[0].assessment;
  const areaUnit: AreaUnit = trial.moneyArea;
  const amounts = (one: Sited, rate: number): { seeds: number; seedCost: number } => ({
    seeds: rate * one.assessment.scene.seedsPerRateUnit * one.area,
    seedCost: meanOf(one.assessment.scene.seedCost) * rate * one.area,
  });
  const units = (seeds: number): number | null => (seedsPerUnit === null ? null : seeds / seedsPerUnit);
  const planned = sited.map((one): PlannedZone => {
    const expected = expectedAt(one.assessment, one.rate);
    const { seeds, seedCost } = amounts(one, one.rate);
    return {
      id: one.zone.id,
      hybrid: one.field.hybrid,
      area: one.area,
      rate: one.rate,
      bindingLimit: one.chosen.bindingLimit,
      cap: one.chosen.cap,
      seeds,
      units: units(seeds),
      seedCost,
      yield: expected.yield,
      return: expected.return,
      totalReturn: expected.return.mean * one.area,
      lodgingProbability: expected.lodging?.probability ?? null,
    };
  });

  const money = moneyDraws(sited);
  const varied = money((one) => one.rate, true);
  const uniformAt = (rate: number): UniformPlan => {
    const all = sited.map((one) => amounts(one, rate));
    const seeds = all.reduce((sum, one) => sum + one.seeds, 0);
    return {
      rate,
      seeds,
      units: units(seeds),
      seedCost: all.reduce((sum, one) => sum + one.seedCost, 0),
      return: figureOf(
        money(() => rate, true),
        scene.level,
      ),
    };
  };
  const best = bestUniform(sited, planned, money, false);
  const within = bestUniform(sited, planned, money, true);
  const area = sited.reduce((sum, one) => sum + one.area, 0);
  const value =
    best === null
      ? null
      : {
          ...valueOfVarying(
            varied,
            money(() => best, true),
            costOfVarying * area,
            area,
            scene.level,
          ),
          ...(planned.every(({ rate }) => rate === best) ? { probability: null } : {}),
          aboveCap: planned.filter(({ cap }) => best > cap * (1 + 1e-9)).map(({ id }) => id),
        };
  const seeds = planned.reduce((sum, one) => sum + one.seeds, 0);
  const plan: Omit<ZonePlan, "summary"> = {
    schema: "standcurve/zone-plan/1",
    rateUnit: scene.rateUnit,
    yieldUnit: scene.yieldUnit,
    areaUnit,
    moneyArea: scene.moneyArea,
    currency: scene.field.currency ?? "",
    seedsPerUnit,
    zones: planned,
    total: {
      area,
      seeds,
      units: units(seeds),
      seedCost: planned.reduce((sum, one) => sum + one.seedCost, 0),
      return: figureOf(varied, scene.level),
    },
    uniform: best === null ? null : uniformAt(best),
    uniformWithinLimits: within === null ? null : uniformAt(within),
    value,
    notes: [...new Set(sited.flatMap(({ assessment }) => notesOf(assessment)))],
    cautions: cautionsFor(sited),
  };
  return { ...plan, summary: summaryFor(plan) };
}
