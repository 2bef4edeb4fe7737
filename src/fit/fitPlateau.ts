import { pow } from "../core/elementary.ts";
import type { JoinDesign, JoinResponse } from "../numeric/joinDesign.ts";
import { type JoinCandidate, joinCandidates } from "../numeric/joinSweep.ts";
import { type CurveFit, type FitLimit, fitStatistics } from "./curveFit.ts";
import type { PreparedData } from "./fitData.ts";
import { innerCoefficients, pack, packPolynomial } from "./packFit.ts";
import { type Solution, solve, unit } from "./projectedSolve.ts";

/**
 * Global least-squares fit of a plateau curve. Every candidate join is refitted and compared by its residuals; beyond the
 * highest density the quadratic-plateau is the quadratic or, in the limit, the straight line.
 */
export function fitPlateau(
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
    solution: solve(data, response, [u.map((v) => -pow(Math.max(join - v, 0), power))]),
  }));
  solutions.sort((a, b) => a.solution.rss - b.solution.rss || a.join - b.join);
  const isMinimum = (join: number): boolean => join > 1 || minima.some((candidate) => candidate.join === join);
  const localMinima = solutions
    .filter(({ join }, i) => i === 0 || isMinimum(join))
    .map(({ join, solution }) => ({ join: snap(design, join), rss: solution.rss }));
  const best = solutions[0] && polish(data, response, u, power, solutions[0]);

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
  const rate = solution.shape[0] / pow(design.span, power);
  const [limit, reason] = describeJoin(design, scaledJoin, power);
  const below = data.x.map((x) => Math.max(join - x, 0));
  const columns =
    power === 1
      ? [below.map((d) => -d), below.map((d) => (d > 0 ? -rate : 0))]
      : [below.map((d) => -d * d), below.map((d) => -2 * rate * d)];
  const smooth = limit !== "join-not-identified" && (power === 2 || !design.levels.includes(join));
  return { ...pack(family, data, solution, limit, reason, [rate, join], smooth ? columns : null), localMinima };
}

/** A join with the least-squares fit that belongs to it. */
interface PlateauSolution {
  readonly join: number;
  readonly solution: Solution;
}

/**
 * Gauss-Newton steps on the residuals themselves: the sweep finds the join from moments, whose rounding shows in the last
 * digits of a nearly perfect fit. A step counts only if it lowers the sum of squares.
 */
function polish(
  data: PreparedData,
  response: JoinResponse,
  u: Float64Array,
  power: 1 | 2,
  start: PlateauSolution,
): PlateauSolution {
  const { scaled } = data.design;
  let best = start;
  for (let step = 0; step < 3; step++) {
    const { join, solution } = best;
    const rate = solution.shape[0];
    const below = u.map((v) => Math.max(join - v, 0));
    const byJoin = below.map((d) => (d > 0 ? -rate * power * pow(d, power - 1) : 0));
    const move = solve(data, response, [below.map((d) => -pow(d, power)), byJoin]).shape[1];
    // Rounding only: a join on a tested density stays there, and a longer step is not for this to decide.
    const crosses = scaled.some((level) => level === join || level > join !== level > join + move);
    if (!(Math.abs(move) < 1e-6) || move === 0 || crosses) return best;
    const next = solve(data, response, [u.map((v) => -pow(Math.max(join + move - v, 0), power))]);
    if (!(next.rss < solution.rss)) return best;
    best = { join: join + move, solution: next };
  }
  return best;
}

/** Exactly the tested density when the join sits on one, so that no rounding shows. */
function snap(design: JoinDesign, scaled: number): number {
  const at = design.scaled.indexOf(scaled);
  return at >= 0 ? design.levels[at] : design.low + design.span * scaled;
}

function describeJoin(design: JoinDesign, join: number, power: 1 | 2): [FitLimit | null, string | null] {
  if (join <= design.ridge) {
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
