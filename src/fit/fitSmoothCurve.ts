import { check } from "../core/errors.ts";
import type { Family } from "../curves/family.ts";
import { leastSquares } from "../numeric/leastSquares.ts";
import type { FitStatus } from "./curveFit.ts";
import { mitscherlichLimit } from "./mitscherlichLimit.ts";
import { type SmoothFamily, type SmoothSearch, smoothSearches } from "./smoothFamilies.ts";
import { type Candidate, polish } from "./smoothPolish.ts";
import { blockDummies, type SmoothProblem, smoothProblem } from "./smoothProblem.ts";
import { projectedProfile } from "./smoothProfile.ts";

/** One smooth family fitted by least squares. */
export interface SmoothFit {
  readonly family: SmoothFamily;
  readonly status: FitStatus;
  /** Why there is no fit, or what the limit means, in words; null when there is nothing to say. */
  readonly reason: string | null;
  /** When the sum of squares has no minimum, only this limit (Mitscherlich: c -> 0, c -> infinity, b -> 0). */
  readonly limit: "straight-line" | "step" | "flat" | null;
  /** Whether yield rises or falls over the tested range as a whole (Mitscherlich: everywhere); null when it does neither. */
  readonly direction: "rising" | "falling" | null;
  /** Parameters in the order of the curve; null without a fit or in a limit. */
  readonly theta: readonly number[] | null;
  /** The curve to draw: the family itself or, in a limit, the simpler family that it equals at the tested densities. */
  readonly curve: { readonly family: Family; readonly theta: readonly number[] } | null;
  /** Deviation of each block from the average block, yield units, sum 0; shape [B]. */
  readonly blockDeviation: readonly number[];
  readonly rss: number | null;
  /** Covariance of (theta, block deviations), shape [p + B][p + B]; null where standard errors do not exist. */
  readonly vcov: readonly (readonly number[])[] | null;
  /** n - p - (B - 1), not below 0. */
  readonly dofResidual: number;
  /** Correct digits of the worst parameter, estimated from the last step. */
  readonly digits: number | null;
}

export interface SmoothOptions {
  /** Block of each plot, 0 ... B - 1, shape [n]; null or left out: one block. */
  readonly block?: Int32Array | null;
  readonly blockCount?: number;
  /** Relative precision of each plot, > 0, shape [n]; default 1. */
  readonly weight?: Float64Array | null;
  /** `rising`: Mitscherlich curves rise to their asymptote (b > 0). `any` (default): falling ones too. */
  readonly direction?: "rising" | "any";
}

/**
 * Least-squares fit of a smooth family with additive block deviations that sum to zero, so that the curve is that of the
 * average block: y_i = f(x_i) + d_block(i), sum over blocks of d = 0.
 *
 * Given its nonlinear parameter each family is linear, so the sum of squares is first profiled over a wide grid: every local
 * minimum is found there, the best ones are polished to rounding by `levenbergMarquardt`, and the lowest is kept.
 *
 * @param family - exponential, reciprocal, parabolic-reciprocal or mitscherlich
 * @param x - densities, shape [n]; > 0 for all families but mitscherlich
 * @param y - yields, shape [n]
 * @throws AnalysisError `length-mismatch` or `invalid-data` when the arrays do not fit together
 *
 * Source: Golub & Pereyra (1973), SIAM Journal on Numerical Analysis 10, 413-432 (separation of linear parameters).
 * Oracle: R 4.2.2 `nls` and profile search on public trials, test/oracle/yieldDensity.ts.
 */
export function fitSmoothCurve(
  family: SmoothFamily,
  x: Float64Array,
  y: Float64Array,
  { block = null, blockCount = 1, weight = null, direction = "any" }: SmoothOptions = {},
): SmoothFit {
  const n = x.length;
  const search = smoothSearches[family];
  check(search !== undefined, "invalid-option", `${family} is not a smooth family`);
  check(n > 0 && y.length === n, "length-mismatch", `x has ${n} values but y has ${y.length}`);
  check(!block || block.length === n, "length-mismatch", `x has ${n} values but block has ${block?.length}`);
  check(!weight || weight.length === n, "length-mismatch", `x has ${n} values but weight has ${weight?.length}`);
  check(x.every(Number.isFinite) && y.every(Number.isFinite), "invalid-data", "densities and yields must be finite");
  check(!weight || weight.every((w) => w > 0 && w < Infinity), "invalid-data", "weights must be finite and > 0");
  const problem = smoothProblem(x, y, block, blockCount, weight);
  const p = search.curve.parameters.length;
  const dofResidual = Math.max(n - p - (problem.blocks - 1), 0);
  const refuse = (status: FitStatus, reason: string): SmoothFit => ({
    ...nothing(family, problem, dofResidual),
    status,
    reason,
  });

  const levels = new Set(x).size;
  if (levels < p)
    return refuse("not-estimable", `${family} needs at least ${p} different densities; these plots have ${levels}`);
  const needed = p + problem.blocks - 1;
  if (n < needed) {
    return refuse(
      "not-estimable",
      `${family} with ${problem.blocks} block(s) has ${needed} coefficients but there are only ${n} plots`,
    );
  }
  if (search.perPlant && !x.every((v) => v > 0))
    return refuse("not-estimable", `${family} describes yield per plant and needs densities > 0`);

  const confounded = confounding(problem, p);
  if (confounded) return refuse("singular", confounded);

  const rising = direction === "rising" && family === "mitscherlich";
  const profile = projectedProfile(search.perPlant ? problem.contrasts : blockDummies(problem), x, y, weight);
  const candidates: Candidate[] = [];
  for (const start of search.starts(profile, (k) => !rising || k > 0, x, y)) {
    const end = polish(search, problem, start);
    if (end === null || (rising && end.theta[1] <= 0)) continue;
    candidates.push(end);
    if (search.refined && end.fit.status === "converged") break;
  }
  candidates.sort((a, b) => a.rss - b.rss);
  const best = candidates[0];
  if (family === "mitscherlich") {
    const limit = mitscherlichLimit(problem, rising);
    // a minimum on the flat ends of the profile is rounding
    if (!best || !(best.rss < limit.rss * (1 - 1e-9))) return { ...nothing(family, problem, dofResidual), ...limit };
  }
  if (!best) {
    const reason =
      "the sum of squares has no minimum: no curve of this family with positive yields fits better than its own extremes";
    return refuse("not-estimable", reason);
  }
  if (best.fit.status !== "converged" && family === "parabolic-reciprocal" && hasPole(best.theta, x)) {
    const reason = "the sum of squares falls as long as the curve rises to a spike between two tested densities";
    return refuse("not-estimable", reason);
  }
  if (best.fit.status === "singular")
    return refuse("singular", "density and blocks cannot be told apart well enough for this curve");
  return {
    ...nothing(family, problem, dofResidual),
    status: best.fit.status,
    reason: best.fit.status === "converged" ? null : "the iteration ended before the sum of squares was at its minimum",
    direction: overall(search, best.theta, x),
    theta: best.theta,
    curve: { family, theta: best.theta },
    blockDeviation: best.deviation,
    rss: best.rss,
    vcov: best.vcov,
    digits: best.fit.digits,
  };
}

function nothing(family: SmoothFamily, problem: SmoothProblem, dofResidual: number): SmoothFit {
  return {
    family,
    status: "converged",
    reason: null,
    limit: null,
    direction: null,
    theta: null,
    curve: null,
    blockDeviation: new Array(problem.blocks).fill(0),
    rss: null,
    vcov: null,
    dofResidual,
    digits: null,
  };
}

/** Why blocks and density cannot be told apart, or null. */
function confounding({ x, y, weight, contrasts }: SmoothProblem, p: number): string | null {
  if (contrasts.length === 0) return null;
  const low = Math.min(...x);
  const span = Math.max(...x) - low;
  const u = x.map((v) => (v - low) / span - 0.5);
  const rank = (columns: readonly Float64Array[]): number =>
    leastSquares([...columns, ...contrasts], y, { weight, tolerance: 1e-7 }).rank;
  const one = x.map(() => 1);
  if (rank([one, u]) < 2 + contrasts.length)
    return "every block has only one density, so blocks and density cannot be told apart";
  if (p === 3 && x.length >= p + contrasts.length && rank([one, u, u.map((v) => v * v)]) < 3 + contrasts.length) {
    return "within blocks there are only two different densities, so a bend cannot be told from blocks";
  }
  return null;
}

/** Whether a + b x + c x^2 all but touches zero between the lowest and the highest density. */
function hasPole(theta: readonly number[], x: Float64Array): boolean {
  const d = (v: number): number => theta[0] + v * (theta[1] + v * theta[2]);
  const [low, high] = [Math.min(...x), Math.max(...x)];
  const vertex = -theta[1] / (2 * theta[2]);
  return vertex > low && vertex < high && d(vertex) < 1e-3 * Math.min(d(low), d(high));
}

/** Direction of the curve from the lowest to the highest density. */
function overall(search: SmoothSearch, theta: readonly number[], x: Float64Array): "rising" | "falling" | null {
  const change = search.curve.mean(Math.max(...x), theta) - search.curve.mean(Math.min(...x), theta);
  return change > 0 ? "rising" : change < 0 ? "falling" : null;
}
