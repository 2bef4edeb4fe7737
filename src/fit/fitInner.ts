import type { InnerFamily } from "../curves/family.ts";
import type { JoinDesign, JoinResponse } from "../numeric/joinDesign.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import { type JoinCandidate, joinCandidates } from "../numeric/joinSweep.ts";
import type { CurveFit, FitLimit } from "./curveFit.ts";
import { fitStatistics } from "./curveFit.ts";
import type { PreparedData } from "./fitData.ts";
import { projectedCovariance } from "./projectedCovariance.ts";

/** Names of the coefficients, the level of the average block first. */
export const innerCoefficients: Readonly<Record<InnerFamily, readonly string[]>> = {
  flat: ["intercept"],
  linear: ["intercept", "linear"],
  quadratic: ["intercept", "linear", "quadratic"],
  "linear-plateau": ["plateau", "slope", "join"],
  "quadratic-plateau": ["plateau", "curvature", "join"],
};

/** A candidate with its residual sum of squares taken from the residuals, not from a difference of large sums. */
interface Solution {
  /** Shape columns at each plot, [q][n], multiplied by `shape`. */
  readonly columns: readonly Float64Array[];
  readonly shape: readonly number[];
  readonly level: number;
  readonly blockEffects: Float64Array;
  readonly rss: number;
}

/**
 * Exact least-squares fit of one of the five inner families with block effects and weights.
 *
 * Plateau families rise to their plateau (slope, curvature > 0) unless `anySlope`, which also admits falling ones.
 */
export function fitInner(family: InnerFamily, data: PreparedData, anySlope = false): CurveFit {
  const { design, y } = data;
  const m = design.levels.length;
  const needed = family === "flat" ? 1 : family === "linear" ? 2 : 3;
  if (m < needed) {
    const reason = `${family} needs at least ${needed} different densities; these plots have ${m}`;
    return notEstimable(family, data, "not-estimable", reason);
  }
  const dof = design.blocks + innerCoefficients[family].length - 1;
  if (design.nobs < dof) {
    const reason = `${family} with ${design.blocks} block(s) has ${dof} coefficients but there are only ${design.nobs} plots`;
    return notEstimable(family, data, "not-estimable", reason);
  }
  // Information left on the density after blocks, relative to what it would be without them.
  const floor = 1e-10 * design.nobs * mean(design.weight);
  if (family !== "flat" && design.uu < floor * 1e-2) {
    return notEstimable(
      family,
      data,
      "singular",
      "every block has only one density, so blocks and density cannot be told apart",
    );
  }
  const determinant = design.uu * design.vv - design.uv * design.uv;
  if (needed === 3 && determinant <= 1e-14 * design.uu * design.vv) {
    return notEstimable(
      family,
      data,
      "singular",
      "within blocks there are only two different densities, so a bend cannot be told from blocks",
    );
  }
  const response = joinResponse(design, y);
  switch (family) {
    case "flat":
      return pack(family, data, solve(data, response, []), null, null, []);
    case "linear":
    case "quadratic": {
      const columns = family === "linear" ? [unit(design)] : [unit(design), unit(design).map((u) => u * u)];
      return packPolynomial(family, data, solve(data, response, columns));
    }
    default:
      return fitPlateau(family, data, response, anySlope);
  }
}

/** Density of each plot on the [0, 1] scale of the tested range. */
function unit(design: JoinDesign): Float64Array {
  return Float64Array.from(design.level, (l) => design.scaled[l]);
}

function mean(values: Float64Array): number {
  let sum = 0;
  for (const value of values) sum += value;
  return sum / values.length;
}

/**
 * Least squares of the yields on at most two shape columns with blocks projected out. One round of refinement on the
 * residuals gives back the digits that the projected products lose.
 */
function solve(data: PreparedData, response: JoinResponse, columns: readonly Float64Array[]): Solution {
  const { design, y, block, weight } = data;
  const { blockWeight, blocks } = design;
  const means = columns.map((column) => {
    const out = new Float64Array(blocks);
    for (let i = 0; i < y.length; i++) out[block[i]] += (weight[i] / blockWeight[block[i]]) * column[i];
    return out;
  });
  const centred = columns.map((column, j) => column.map((value, i) => value - means[j][block[i]]));
  const product = (a: Float64Array, b: Float64Array): number => {
    let sum = 0;
    for (let i = 0; i < a.length; i++) sum += weight[i] * a[i] * b[i];
    return sum;
  };
  // Gram-Schmidt: the second column is replaced by what the first leaves of it.
  const first = centred[0];
  const second = centred[1];
  const aa = first ? product(first, first) : 0;
  const slope = first && second ? product(first, second) / aa : 0;
  const rest = first && second ? second.map((value, i) => value - slope * first[i]) : undefined;
  const rr = rest ? product(rest, rest) : 0;

  const shape = columns.map(() => 0);
  const residual = y.map((value, i) => value - response.blockMean[block[i]]);
  for (let round = 0; round < 3 && first; round++) {
    let stepFirst = product(first, residual) / aa;
    if (rest && second) {
      const stepSecond = product(rest, residual) / rr;
      stepFirst -= slope * stepSecond;
      shape[1] += stepSecond;
      for (let i = 0; i < residual.length; i++) residual[i] -= stepSecond * second[i];
    }
    shape[0] += stepFirst;
    for (let i = 0; i < residual.length; i++) residual[i] -= stepFirst * first[i];
  }
  const blockLevel = Float64Array.from({ length: blocks }, (_, b) =>
    means.reduce((value, m, j) => value - shape[j] * m[b], response.blockMean[b]),
  );
  const level = mean(blockLevel);
  return {
    columns,
    shape,
    level,
    blockEffects: blockLevel.map((value) => value - level),
    rss: product(residual, residual),
  };
}

/** Back from the [0, 1] scale to the caller's density unit. */
function packPolynomial(family: "linear" | "quadratic", data: PreparedData, solution: Solution): CurveFit {
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

function fitPlateau(
  family: "linear-plateau" | "quadratic-plateau",
  data: PreparedData,
  response: JoinResponse,
  anySlope: boolean,
): CurveFit {
  const { design } = data;
  const power = family === "linear-plateau" ? 1 : 2;
  const u = unit(design);
  const wanted = (candidate: JoinCandidate): boolean => candidate.gain > 0 && (anySlope || candidate.sign > 0);
  const inside = joinCandidates(design, response.sums, power);
  // Between neighbouring candidates the gain is monotone, or falls to zero and rises again where N changes sign.
  const gainBeside = (neighbour: JoinCandidate | undefined, sign: number): number =>
    neighbour && neighbour.sign === sign ? neighbour.gain : 0;
  const minima = inside.filter((candidate, i) => {
    // On the highest density itself a quadratic rise is still going on; its minimum, if any, is the vertex beyond.
    if (!wanted(candidate) || (power === 2 && candidate.join === 1)) return false;
    const { gain, sign } = candidate;
    return gain >= gainBeside(inside[i - 1], sign) && gain >= gainBeside(inside[i + 1], sign);
  });
  // Candidates within rounding of the best gain are tried too: which of them is best shows only in the residuals.
  const bestGain = minima.reduce((most, candidate) => Math.max(most, candidate.gain), 0);
  const near = inside.filter((candidate) => wanted(candidate) && candidate.gain >= bestGain * (1 - 1e-9));
  const joins = new Set([...minima, ...near].map((candidate) => candidate.join));

  // Beyond the highest density the quadratic-plateau is the plain quadratic with its vertex there.
  const quadratic = power === 2 ? solve(data, response, [u, u.map((v) => v * v)]) : null;
  if (quadratic) {
    const vertex = -quadratic.shape[0] / (2 * quadratic.shape[1]);
    const concave = quadratic.shape[1] < 0 || anySlope;
    // A vertex within rounding of the highest density may be missed on both sides of it: take that density itself too.
    if (concave && Math.abs(vertex - 1) < 1e-6) joins.add(1);
    if (concave && vertex >= 1 && Number.isFinite(vertex)) joins.add(vertex);
  }
  const solutions = [...joins].map((join) => ({
    join,
    solution: solve(data, response, [u.map((v) => -(Math.max(join - v, 0) ** power))]),
  }));
  solutions.sort((a, b) => a.solution.rss - b.solution.rss || a.join - b.join);
  const isMinimum = (join: number): boolean => join > 1 || minima.some((candidate) => candidate.join === join);
  const localMinima = solutions
    .filter(({ join }, i) => i === 0 || isMinimum(join))
    .map(({ join, solution }) => ({ join: snap(design, join), rss: solution.rss }));
  const best = solutions[0];

  const line = power === 2 ? solve(data, response, [u]) : null;
  if (line && (anySlope || line.shape[0] > 0) && (!best || line.rss < best.solution.rss)) {
    const straight = packPolynomial("linear", data, line);
    return limitFit(
      family,
      data,
      straight,
      "straight-line",
      "the rise shows no bend: the best fit is the straight line, a join infinitely far away",
      localMinima,
    );
  }
  if (!best) {
    const flat = pack("flat", data, solve(data, response, []), null, null, []);
    return limitFit(family, data, flat, "flat", "no rise to a plateau fits better than a flat line", localMinima);
  }

  const { join: scaledJoin, solution } = best;
  const join = snap(design, scaledJoin);
  const rate = solution.shape[0] / design.span ** power;
  const [limit, reason] = describeJoin(design, scaledJoin, power);
  const below = data.x.map((x) => Math.max(join - x, 0));
  const columns =
    power === 1
      ? [below.map((d) => -d), below.map((d) => (d > 0 ? -rate : 0))]
      : [below.map((d) => -d * d), below.map((d) => -2 * rate * d)];
  const smooth = limit !== "join-not-identified" && (power === 2 || !design.levels.includes(join));
  return { ...pack(family, data, solution, limit, reason, [rate, join], smooth ? columns : null), localMinima };
}

/** Exactly the tested density when the join sits on one, so that no rounding shows. */
function snap(design: JoinDesign, scaled: number): number {
  const at = design.scaled.indexOf(scaled);
  return at >= 0 ? design.levels[at] : design.low + design.span * scaled;
}

function describeJoin(design: JoinDesign, join: number, power: 1 | 2): [FitLimit | null, string | null] {
  if (join <= design.scaled[1]) {
    return [
      "join-not-identified",
      "only the lowest density lies below the plateau: every join between the two lowest densities fits alike, the higher is given",
    ];
  }
  if (join > 1)
    return [
      "join-beyond-range",
      "the join lies above the highest tested density; inside the range the curve is the plain quadratic",
    ];
  if (join === 1 && power === 1)
    return ["join-at-highest", "the join is the highest tested density; the curve is the straight line"];
  return [null, null];
}

function limitFit(
  family: "linear-plateau" | "quadratic-plateau",
  data: PreparedData,
  simpler: CurveFit,
  limit: FitLimit,
  reason: string,
  localMinima: readonly { join: number; rss: number }[],
): CurveFit {
  const names = innerCoefficients[family];
  const coefficients: Record<string, number | null> = Object.fromEntries(names.map((name) => [name, null]));
  if (limit === "flat") {
    coefficients["plateau"] = simpler.coefficients["intercept"];
    coefficients[names[1]] = 0;
  }
  return {
    ...simpler,
    ...fitStatistics(data.design.nobs, data.design.blocks + 2, simpler.rss as number, data.weight),
    family,
    limit,
    reason,
    coefficients,
    standardErrors: Object.fromEntries(names.map((name) => [name, null])),
    vcov: null,
    localMinima,
  };
}

/** Makes the plain result; `gradients` are the columns dY/dshape for the covariance, null where it does not exist. */
function pack(
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
    gradients && statistics.sigma !== null ? projectedCovariance(data, gradients, statistics.sigma ** 2) : null;
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
