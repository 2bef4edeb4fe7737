import { checkShape } from "../core/checkShape.ts";
import type { Trial } from "../trial/trial.ts";
import { type MixedData, mixedDataShape } from "./mixedResponse.ts";

/** Plots of a trial as parallel arrays: those not excluded, with a density and a yield. Arrays pass through. */
export function mixedDataOf(data: MixedData | Trial): MixedData {
  checkShape(data, "data", "object");
  if (!("plots" in data)) {
    checkShape(data, "data", mixedDataShape);
    return data;
  }
  checkShape(data, "data", "standcurve/trial/1");
  const plots = data.plots.filter((plot) => plot.excluded === null && plot.density !== null && plot.yield !== null);
  return {
    density: plots.map((plot) => plot.density as number),
    yield: plots.map((plot) => plot.yield as number),
    environment: plots.map((plot) => plot.environment),
    block: plots.map((plot) => plot.block),
    hybrid: plots.map((plot) => plot.hybrid),
    weight: plots.map((plot) => plot.weight),
  };
}
