import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { binomialLinks } from "../fit/fitBinomialLinks.ts";
import { averageShare } from "./averageShare.ts";
import type { LodgingFit } from "./lodgingFit.ts";

/**
 * Fitted share of lodged plants, averaged over blocks, as a function of density: 0 when nothing lodged, 1 when everything
 * did.
 *
 * @throws AnalysisError `not-estimable` when the fit gave no estimate
 */
export function lodgedShareCurve(fit: LodgingFit): (density: number) => number {
  if (fit.status === "none-lodged") return () => 0;
  if (fit.status === "all-lodged") return () => 1;
  const { working } = fit;
  check(working !== null, "not-estimable", `the lodging fit cannot be used: ${fit.status}`);
  const link = binomialLinks[fit.link];
  return (x) => averageShare(working.theta, working.blocks.length, (x - working.centre) / working.spread, link);
}

/**
 * Fitted lodged shares at given densities, averaged over blocks.
 *
 * @param densities - in the unit of the fit; outside the tested range this is extrapolation
 * @throws AnalysisError `not-estimable` when the fit gave no estimate
 * @example
 * const fit = fitLodging({ density: [24, 28, 32, 36, 40], lodged: [6, 9, 17, 26, 44], examined: [200, 200, 200, 200, 200] });
 * predictLodging(fit, [40])[0].toFixed(4); // => "0.2166"
 */
export function predictLodging(fit: LodgingFit, densities: ArrayLike<number>): number[] {
  checkShape(fit, "fit", "standcurve/lodging-fit/1");
  checkShape(densities, "densities", "numbers");
  const share = lodgedShareCurve(fit);
  return Array.from(densities, share);
}
