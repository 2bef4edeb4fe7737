import { diagnose } from "../derive/diagnose.ts";
import type { Check } from "../derive/diagnoseCheck.ts";
import { influence, type LeftOut } from "../derive/influence.ts";
import type { Plot, Trial } from "../trial/trial.ts";
import { curveData } from "./groups.ts";
import type { AnalyzeSettings } from "./options.ts";

/** What the decision hangs on: left-out plots, blocks, densities and environments, and checks of the chosen curve. */
export interface Scrutiny {
  readonly influence: {
    /** How many plots, blocks, densities and environments were left out in turn. */
    readonly leftOut: number;
    /** Those that move the optimum by more than 5 % of the tested range, the largest shift first; at most five of each kind. */
    readonly worst: readonly LeftOut[];
    readonly sentences: readonly string[];
  };
  readonly checks: readonly Check[];
  /** Findings of the checks that move the optimum, or that make its range too short, in words. */
  readonly alarms: readonly string[];
}

/** Simulated in bench/coverage.md: errors "unequal". */
const SHORT_RANGES =
  "weights would hardly move the optimum, but its 95 % range may hold it 91 to 94 % of the time only";

/**
 * Leaves plots, blocks, densities and environments out in turn, and checks the curve, each with its effect on the optimum.
 *
 * @param plots - those behind the chosen curve
 * @param options - price ratio (seed cost per stand unit / grain price) and reference densities, as the curve was analysed with
 * @throws AnalysisError `not-estimable` when no curve can be chosen or there are no residual degrees of freedom
 */
export function scrutinise(
  trial: Trial,
  plots: readonly Plot[],
  { families }: AnalyzeSettings,
  options: {
    readonly priceRatio: number | undefined;
    readonly between: readonly [number, number] | null;
    readonly seed: number;
  },
): Scrutiny {
  const several = new Set(plots.map((plot) => plot.environment)).size > 1;
  const orders = plots.map((plot) => plot.position.order);
  const data = {
    ...curveData(plots),
    block: blockNames(plots, several),
    environment: plots.map((plot) => plot.environment),
    ...(orders.every((order) => order !== null) ? { order: orders } : {}),
  };
  const asked = {
    families,
    ...(options.priceRatio === undefined ? {} : { priceRatio: options.priceRatio }),
    ...(options.between === null ? {} : { between: options.between }),
    plotLabels: plots.map(({ plot, row, environment }) =>
      plot === null ? `in row ${row}` : several ? `${plot} of ${environment}` : plot,
    ),
    densityUnit: trial.densityUnit.replace("1000 ", "thousand "),
  };
  const { leftOut, worst, sentences } = influence(data, asked);
  const { checks, alarms } = diagnose(data, { ...asked, seed: options.seed });
  const uneven = checks.filter(({ name, verdict }) => name === "spread-by-density" && verdict === "harmless");
  return {
    influence: { leftOut: leftOut.length, worst, sentences },
    checks,
    alarms: [...alarms, ...uneven.map(({ message }) => `${message}: ${SHORT_RANGES}`)],
  };
}

/** "3", or "3 of Hill Farm 2031" among several environments; told apart even where names run into one another. */
function blockNames(plots: readonly Plot[], several: boolean): string[] {
  const keys = plots.map(({ environment, block }) => JSON.stringify([environment, block]));
  const names = plots.map(({ environment, block }) => (several ? `${block} of ${environment}` : block));
  return new Set(keys).size === new Set(names).size ? names : keys;
}
