import type { MixedData } from "../mixed/mixedResponse.ts";
import type { Plot } from "../trial/trial.ts";

/** Plots that have a density and a yield, as the mixed models take them. */
export function mixedPlots(plots: readonly Plot[]): Required<Omit<MixedData, "mainPlot">> {
  return {
    density: plots.map((plot) => plot.density as number),
    yield: plots.map((plot) => plot.yield as number),
    environment: plots.map((plot) => plot.environment),
    block: plots.map((plot) => plot.block),
    hybrid: plots.map((plot) => plot.hybrid),
    weight: plots.map((plot) => plot.weight),
  };
}
