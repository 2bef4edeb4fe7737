import { check } from "../core/errors.ts";
import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import { convertDensity, convertYield, squareMetresPer } from "../trial/units.ts";
import type { AnalysisInput } from "./analysisInput.ts";
import { type Assessment, assess } from "./assess.ts";
import { type ChosenRate, chooseRate } from "./chooseRate.ts";
import type { Field } from "./field.ts";
import { checkedField } from "./readField.ts";
import type { SharedWork } from "./sharedWork.ts";
import type { Zone } from "./zone.ts";
import type { ZoneOptions } from "./zoneOptions.ts";

/** A zone as a field of its own. Not JSON; inside this folder. */
export interface Sited {
  readonly zone: Zone;
  readonly field: Field;
  readonly assessment: Assessment;
  /** In the area of the money. */
  readonly area: number;
  readonly chosen: ChosenRate;
  readonly rate: number;
}

/** The zone as a field of its own, assessed. */
export function site(
  analysis: AnalysisInput,
  zone: Zone,
  place: number,
  options: ZoneOptions,
  shared: SharedWork,
): Sited {
  const field = checkedField(fieldOf(analysis, zone, options.field ?? {}));
  const assessment = assess(analysis, field, options, undefined, place, shared);
  const area = (zone.area * squareMetresPer[zone.areaUnit]) / squareMetresPer[analysis.trial.moneyArea];
  const chosen = chooseRate(assessment);
  return { zone, field, assessment, area, chosen, rate: chosen.target };
}

function fieldOf(analysis: AnalysisInput, zone: Zone, shared: Partial<Field>): Field {
  const { acceptedStep: _, presentRate, ...rest } = shared;
  const only = analysis.hybrids.length === 1 ? analysis.hybrids[0].hybrid : undefined;
  const hybrid = zone.hybrid ?? shared.hybrid ?? only;
  check(
    hybrid !== undefined,
    "invalid-option",
    `zone ${zone.id} names no hybrid: give options.field.hybrid or a hybrid for every zone`,
  );
  const unit: DensityUnit = shared.rateUnit ?? analysis.trial.densityUnit;
  const present =
    zone.presentRate === undefined ? presentRate : convertDensity(zone.presentRate, zone.rateUnit ?? unit, unit);
  const { yieldUnit, crop } = analysis.trial;
  const from: YieldUnit = zone.yieldUnit ?? yieldUnit;
  const goal = zone.yieldGoal === undefined ? undefined : convertYield(zone.yieldGoal, from, yieldUnit, crop);
  return {
    ...rest,
    hybrid,
    ...(present === undefined ? {} : { presentRate: present }),
    ...(goal === undefined ? {} : { yieldGoal: goal }),
    ...given("environment", zone.environment),
    ...given("establishment", zone.establishment),
    ...given("toleratedLodging", zone.toleratedLodging),
    ...given("nitrogenRate", zone.nitrogenRate),
    ...given("supply", zone.supply),
  };
}

function given<K extends keyof Field>(name: K, value: Field[K] | undefined): Partial<Field> {
  return value === undefined ? {} : { [name]: value };
}
