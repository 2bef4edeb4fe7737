import { curveOf } from "../curves/catalogue.ts";
import { type CurveFit, fitStatistics } from "./curveFit.ts";
import type { PreparedData } from "./fitData.ts";
import { fitSmoothCurve } from "./fitSmoothCurve.ts";
import { notEstimable } from "./packFit.ts";
import type { SmoothFamily } from "./smoothFamilies.ts";

/**
 * Least-squares fit of one of the smooth families with block effects and weights, in the form that all families share.
 *
 * Mitscherlich curves rise to their asymptote unless `anySlope`, which also admits falling ones.
 */
export function fitSmooth(family: SmoothFamily, data: PreparedData, anySlope = false): CurveFit {
  const names = curveOf(family).parameters;
  const { levels, nobs, blocks } = data.design;
  const fit = fitSmoothCurve(family, data.x, data.y, {
    block: data.block,
    blockCount: blocks,
    weight: data.weight,
    direction: anySlope ? "any" : "rising",
  });
  if (fit.rss === null || fit.curve === null || fit.status === "not-estimable" || fit.status === "singular") {
    const status = fit.status === "singular" ? "singular" : "not-estimable";
    return notEstimable(family, data, status, fit.reason ?? "", names);
  }
  const vcov = fit.vcov ? names.map((_, i) => (fit.vcov as number[][])[i].slice(0, names.length)) : null;
  return {
    schema: "standcurve/curve-fit/1",
    family,
    status: fit.status,
    reason: fit.reason,
    limit: fit.limit,
    coefficients: Object.fromEntries(names.map((name, i) => [name, fit.theta ? fit.theta[i] : null])),
    standardErrors: Object.fromEntries(names.map((name, i) => [name, vcov ? Math.sqrt(vcov[i][i]) : null])),
    vcov,
    curve: fit.curve,
    blockEffects: data.blockLabels.map((block, b) => ({ block, effect: fit.blockDeviation[b] })),
    ...fitStatistics(nobs, names.length + blocks - 1, fit.rss, data.weight),
    range: [levels[0], levels[levels.length - 1]],
    levels: levels.length,
  };
}
