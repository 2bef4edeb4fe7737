import type { Economics } from "../core/economics.ts";
import { AnalysisError } from "../core/errors.ts";
import { isInner } from "../curves/family.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import {
  type HarvestableInput,
  type HarvestableOptions,
  harvestableOptimum,
} from "../standability/harvestableOptimum.ts";
import { type HarvestScenario, harvestScenarios } from "../standability/harvestScenarios.ts";
import type { Plot } from "../trial/trial.ts";
import { deriveSeed } from "./deriveSeed.ts";
import { type LodgingOutcome, lodgingResamples } from "./lodgingReports.ts";
import type { AnalyzeSettings } from "./options.ts";
import type { OnAxes } from "./result.ts";
import type { HarvestReport } from "./standability.ts";

/** Refits of yield and lodging together are dearer than those of lodging alone. */
const MOST_JOINT_RESAMPLES = 299;

/** The yield response that lodging is set against. */
export interface GrossYield {
  readonly fit: CurveFit;
  readonly economics: Required<Economics> | null;
}

/**
 * The harvestable optimum, with joint intervals when `joint` and the last counts are whole plants.
 *
 * @param plots - those of the round the outcome was counted in, in the same order
 */
export function harvestReport(
  gross: GrossYield,
  { counts, fit: lodging }: LodgingOutcome,
  plots: readonly Plot[],
  settings: AnalyzeSettings,
  seed: number,
  joint: boolean,
  axes: (density: number | null) => OnAxes,
): HarvestReport {
  const rows = counts.plot.flatMap((index, i) => (plots[index].yield === null ? [] : [{ plot: plots[index], i }]));
  const { examined } = counts;
  const resamples = Math.min(lodgingResamples(settings, joint), MOST_JOINT_RESAMPLES);
  const together: Pick<HarvestableInput, "plots"> =
    joint && resamples > 0 && examined !== null
      ? {
          plots: {
            density: rows.map(({ i }) => counts.density[i]),
            yield: rows.map(({ plot }) => plot.yield as number),
            lodged: rows.map(({ i }) => counts.lodged[i]),
            examined: rows.map(({ i }) => examined[i]),
            block: rows.map(({ i }) => counts.block[i]),
          },
        }
      : {};
  const options = { ...harvestOptions(gross, settings), resamples, seed: deriveSeed(seed, "harvest", null) };
  try {
    const optimum = harvestableOptimum({ gross: gross.fit, lodging, ...together }, options);
    const { agronomic, economic } = optimum.harvestable;
    return {
      kind: "estimated",
      optimum,
      axes: { agronomic: axes(agronomic.density), economic: economic && axes(economic.density) },
    };
  } catch (error) {
    if (error instanceof AnalysisError && error.code === "not-estimable")
      return { kind: "not-estimable", reason: error.message };
    throw error;
  }
}

/** The harvestable optimum for each round of counting, the earliest first; rounds without a fit are left out. */
export function harvestByRound(
  gross: GrossYield,
  rounds: readonly LodgingOutcome[],
  settings: AnalyzeSettings,
): HarvestScenario[] {
  return rounds.flatMap(({ report: { time }, fit: lodging }, i) => {
    const days = time.daysAfterMaturity;
    const named = days === null ? null : `${days[0] === days[1] ? days[0] : days.join(" to ")} days after maturity`;
    const date = time.date ?? named ?? `round ${i + 1}`;
    try {
      return harvestScenarios(gross.fit, [{ date, lodging }], harvestOptions(gross, settings));
    } catch (error) {
      if (error instanceof AnalysisError && error.code === "not-estimable") return [];
      throw error;
    }
  });
}

function harvestOptions({ economics }: GrossYield, settings: AnalyzeSettings): HarvestableOptions {
  return {
    lossShare: settings.lossShare,
    level: settings.level,
    nearBestShare: settings.nearBestShare,
    families: settings.families.filter(isInner),
    ...(economics === null ? {} : { economics }),
  };
}
