import type { InnerFamily } from "../curves/family.ts";
import { type CurveFit, type FitLimit, fitStatistics } from "./curveFit.ts";
import type { PreparedData } from "./fitData.ts";
import { projectedCovariance } from "./projectedCovariance.ts";
import type { Solution } from "./projectedSolve.ts";

/** Names of the coefficients, the level of the average block first. */
export const innerCoefficients: Readonly<Record<InnerFamily, readonly string[]>> = {
  flat: ["intercept"],
  linear: ["intercept", "linear"],
  quadratic: ["intercept", "linear", "quadratic"],
  "linear-plateau": ["plateau", "slope", "join"],
  "quadratic-plateau": ["plateau", "curvature", "join"],
};

/** Makes the plain result; `gradients` are the columns dY/dshape for the covariance, null where it does not exist. */
export function pack(
  family: InnerFamily,
  data: PreparedData,
  solution: Solution,
  limit: FitLimit | null,
  reason: string | null,
  shape: readonly number[],
  gradients: readonly Float64Array[] | null = [],
): CurveFit {
  const names = innerCoefficients[family];
  const theta = [solution.level, ...shape];
  const statistics = fitStatistics(data.design.nobs, data.design.blocks + shape.length, solution.rss, data.weight);
  const vcov =
    gradients && statistics.sigma !== null
      ? projectedCovariance(data, gradients, statistics.sigma * statistics.sigma)
      : null;
  return {
    schema: "standcurve/curve-fit/1",
    family,
    status: "converged",
    reason,
    limit,
    coefficients: Object.fromEntries(names.map((name, i) => [name, theta[i]])),
    standardErrors: Object.fromEntries(names.map((name, i) => [name, vcov ? Math.sqrt(vcov[i][i]) : null])),
    vcov,
    curve: { family, theta },
    blockEffects: data.blockLabels.map((block, b) => ({ block, effect: solution.blockEffects[b] })),
    ...statistics,
    range: [data.design.levels[0], data.design.levels[data.design.levels.length - 1]],
    levels: data.design.levels.length,
  };
}

/** Back from the [0, 1] scale to the caller's density unit. */
export function packPolynomial(family: "linear" | "quadratic", data: PreparedData, solution: Solution): CurveFit {
  const { low, span } = data.design;
  const [b1, b2 = 0] = solution.shape;
  const theta = [
    solution.level - (b1 * low) / span + (b2 * low * low) / (span * span),
    b1 / span - (2 * b2 * low) / (span * span),
  ];
  if (family === "quadratic") theta.push(b2 / (span * span));
  const columns = [data.x, data.x.map((x) => x * x)].slice(0, theta.length - 1);
  return pack(family, data, { ...solution, level: theta[0] }, null, null, theta.slice(1), columns);
}

/** The result of a family that these plots cannot carry. */
export function notEstimable(
  family: CurveFit["family"],
  data: PreparedData,
  status: "not-estimable" | "singular",
  reason: string,
  names: readonly string[] = innerCoefficients[family as InnerFamily],
): CurveFit {
  const { levels, nobs, blocks } = data.design;
  const dof = blocks + names.length - 1;
  return {
    schema: "standcurve/curve-fit/1",
    family,
    status,
    reason,
    limit: null,
    coefficients: Object.fromEntries(names.map((name) => [name, null])),
    standardErrors: Object.fromEntries(names.map((name) => [name, null])),
    vcov: null,
    curve: null,
    blockEffects: [],
    nobs,
    dof,
    dofResidual: Math.max(nobs - dof, 0),
    rss: null,
    sigma: null,
    logLikelihood: null,
    aic: null,
    aicc: null,
    bic: null,
    range: [levels[0], levels[levels.length - 1]],
    levels: levels.length,
  };
}
