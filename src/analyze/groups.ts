import type { CurveData } from "../fit/fitData.ts";
import type { Plot, Trial } from "../trial/trial.ts";

/** The plots behind one curve. */
export interface Group {
  readonly hybrid: string;
  /** Null: all environments together. */
  readonly environment: string | null;
  readonly plots: readonly Plot[];
  /** All that are not excluded and have a density, with yield or without: lodging was perhaps counted there. */
  readonly standing: readonly Plot[];
}

/** Plots that can be fitted: not excluded, with a density and a yield. */
export function usablePlots(trial: Trial): Plot[] {
  return trial.plots.filter((plot) => plot.excluded === null && plot.density !== null && plot.yield !== null);
}

/** One group for each hybrid over all environments and, when there are several, one for each hybrid in each environment. */
export function groupsOf(trial: Trial, byEnvironment: boolean): Group[] {
  const groups = new Map<string, Plot[]>(trial.hybrids.map((hybrid) => [hybrid, []]));
  for (const plot of trial.plots) {
    if (plot.excluded === null && plot.density !== null) groups.get(plot.hybrid)?.push(plot);
  }
  return [...groups].flatMap(([hybrid, plots]) => {
    const environments = new Map<string, Plot[]>();
    for (const plot of plots) {
      const list = environments.get(plot.environment);
      if (list) list.push(plot);
      else environments.set(plot.environment, [plot]);
    }
    const group = (environment: string | null, standing: readonly Plot[]): Group => ({
      hybrid,
      environment,
      plots: standing.filter((plot) => plot.yield !== null),
      standing,
    });
    const pooled = group(null, plots);
    if (!byEnvironment || environments.size < 2) return [pooled];
    return [pooled, ...[...environments].map(([environment, own]) => group(environment, own))];
  });
}

/** Parallel arrays for the curves; a block is a block of one environment, so environments shift the curve as blocks do. */
export function curveData(plots: readonly Plot[]): CurveData {
  return {
    density: plots.map((plot) => plot.density as number),
    yield: plots.map((plot) => plot.yield as number),
    block: plots.map((plot) => JSON.stringify([plot.environment, plot.block])),
    weight: plots.map((plot) => plot.weight),
  };
}

/** Mean stand / mean seeding rate of the plots that have both; null when none has. */
export function establishmentOf(plots: readonly Plot[]): number | null {
  let rate = 0;
  let stand = 0;
  for (const plot of plots) {
    if (plot.seedingRate === null || plot.stand === null) continue;
    rate += plot.seedingRate;
    stand += plot.stand;
  }
  return rate > 0 && stand > 0 ? stand / rate : null;
}
