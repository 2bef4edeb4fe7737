import { check } from "../core/errors.ts";
import type { Family } from "../curves/family.ts";
import { leastSquares } from "../numeric/leastSquares.ts";
import { levenbergMarquardt, type NonlinearFit } from "../numeric/levenbergMarquardt.ts";
import type { FitStatus } from "./curveFit.ts";
import { type SmoothFamily, type SmoothSearch, smoothSearches } from "./smoothFamilies.ts";
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

interface Problem {
  readonly x: Float64Array;
  readonly y: Float64Array;
  readonly block: Int32Array;
  readonly blocks: number;
  readonly weight: Float64Array | null;
  /** Columns of the sum-to-zero block contrasts, shape [B - 1][n]. */
  readonly contrasts: readonly Float64Array[];
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
  const problem = prepare(x, y, block, blockCount, weight);
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
  const candidates = search
    .starts(
      x,
      y,
      projectedProfile(search.perPlant ? problem.contrasts : dummies(problem), y, weight),
      (k) => !rising || k > 0,
    )
    .map((start) => polish(search, problem, start))
    .filter((end): end is Candidate => end !== null && (!rising || end.theta[1] > 0))
    .sort((a, b) => a.rss - b.rss);
  const best = candidates[0];
  if (family === "mitscherlich") {
    const limit = simplest(problem, rising);
    // a minimum on the flat ends of the profile is rounding
    if (!best || !(best.rss < limit.rss * (1 - 1e-9))) return { ...nothing(family, problem, dofResidual), ...limit };
  }
  if (!best) {
    const reason =
      "the sum of squares has no minimum: no curve of this family with positive yields fits better than its own extremes";
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

function nothing(family: SmoothFamily, problem: Problem, dofResidual: number): SmoothFit {
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

function prepare(
  x: Float64Array,
  y: Float64Array,
  block: Int32Array | null,
  blockCount: number,
  weight: Float64Array | null,
): Problem {
  const blocks = block ? blockCount : 1;
  const index = block ?? new Int32Array(x.length);
  const seen = new Set(index);
  check(
    seen.size === blocks && index.every((b) => b >= 0 && b < blocks),
    "invalid-data",
    `blocks must be numbered 0 to ${blocks - 1} with a plot in each`,
  );
  const contrasts = Array.from({ length: blocks - 1 }, (_, b) =>
    Float64Array.from(index, (k) => (k === b ? 1 : k === blocks - 1 ? -1 : 0)),
  );
  return { x, y, block: index, blocks, weight, contrasts };
}

/** Why blocks and density cannot be told apart, or null. */
function confounding({ x, y, weight, contrasts }: Problem, p: number): string | null {
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

function dummies({ block, blocks }: Problem): Float64Array[] {
  return Array.from({ length: blocks }, (_, b) => Float64Array.from(block, (k) => (k === b ? 1 : 0)));
}

function deviations(free: ArrayLike<number>): number[] {
  const out = Array.from(free);
  return [...out, -out.reduce((sum, d) => sum + d, 0)];
}

interface Candidate {
  readonly fit: NonlinearFit;
  readonly theta: readonly number[];
  readonly deviation: readonly number[];
  readonly rss: number;
  readonly vcov: readonly (readonly number[])[] | null;
}

/** From a start to the minimum, curve and block deviations together; null when the end is not a curve of the family. */
function polish(search: SmoothSearch, problem: Problem, start: readonly number[]): Candidate | null {
  const { x, y, block, blocks, weight, contrasts } = problem;
  const { curve } = search;
  const p = start.length;
  const origin = search.origin(x);
  const shifted = x.map((v) => v - origin);
  const low = Math.min(...x);
  const high = Math.max(...x);
  const first = new Float64Array(p + blocks - 1);
  first.set(start);
  linearStart(search, problem, shifted, first);
  const row = new Float64Array(p);
  const fit = levenbergMarquardt(
    {
      y,
      weight,
      mean(theta, out) {
        const usable = search.valid(theta, low, high);
        let last = 0;
        for (let b = 0; b < blocks - 1; b++) last -= theta[p + b];
        for (let i = 0; i < x.length; i++) {
          const deviation = block[i] < blocks - 1 ? theta[p + block[i]] : last;
          out[i] = usable ? curve.mean(shifted[i], theta) + deviation : Number.NaN;
        }
      },
      jacobian(theta, columns) {
        for (let i = 0; i < x.length; i++) {
          curve.gradient(shifted[i], theta, row);
          for (let j = 0; j < p; j++) columns[j][i] = row[j];
        }
        contrasts.forEach((column, b) => {
          columns[p + b].set(column);
        });
      },
    },
    first,
  );
  const theta = Array.from(fit.theta.subarray(0, p));
  const deviation = deviations(fit.theta.subarray(p));
  // rows: d(theta, all deviations) / d(parameters of the iteration)
  const transform = Array.from({ length: p + blocks }, (_, i) =>
    Float64Array.from(fit.theta, (_v, j) => (i === j ? 1 : 0)),
  );
  for (let b = 0; b < blocks - 1; b++) transform[p + blocks - 1][p + b] = -1;
  if (blocks === 1) transform[p].fill(0);
  if (origin !== 0 && curve.name === "mitscherlich") {
    // b exp(-c (x - origin)) = b exp(c origin) exp(-c x)
    const growth = Math.exp(theta[2] * origin);
    transform[1][1] = growth;
    transform[1][2] = theta[1] * growth * origin;
    theta[1] *= growth;
  }
  if (!theta.every(Number.isFinite)) return null;
  return { fit, theta, deviation, rss: fit.rss, vcov: fit.vcov && sandwich(transform, fit.vcov) };
}

/** Block deviations (and Mitscherlich's level and scale) that go with the start's nonlinear parameter. */
function linearStart(
  search: SmoothSearch,
  { x, y, weight, contrasts }: Problem,
  shifted: Float64Array,
  first: Float64Array,
): void {
  const p = search.curve.parameters.length;
  if (search.perPlant) {
    if (contrasts.length === 0) return;
    const rest = y.map((v, i) => v - search.curve.mean(shifted[i], first));
    first.set(leastSquares(contrasts, rest, { weight }).coef, p);
    return;
  }
  const bend = x.map((_, i) => -Math.exp(-first[2] * shifted[i]));
  const { coef } = leastSquares([x.map(() => 1), bend, ...contrasts], y, { weight });
  first[0] = coef[0];
  first[1] = coef[1];
  first.set(coef.subarray(2), p);
}

/** T V T'. */
function sandwich(t: readonly Float64Array[], v: readonly Float64Array[]): number[][] {
  const half = t.map((row) => v.map((column) => row.reduce((sum, value, k) => sum + value * column[k], 0)));
  return half.map((row) => t.map((other) => other.reduce((sum, value, k) => sum + value * row[k], 0)));
}

/** The best of Mitscherlich's limits: straight line (c -> 0), step after the lowest density (c -> infinity), flat (b -> 0). */
function simplest(
  { x, y, weight, contrasts }: Problem,
  rising: boolean,
): Pick<SmoothFit, "limit" | "reason" | "direction" | "curve" | "blockDeviation" | "rss"> & { readonly rss: number } {
  const levels = Float64Array.from(new Set(x)).sort();
  const ones = x.map(() => 1);
  const above = x.map((v) => (v > levels[0] ? 1 : 0));
  const solve = (columns: readonly Float64Array[]) => leastSquares([ones, ...columns, ...contrasts], y, { weight });
  const [flat, line, step] = [solve([]), solve([x]), solve([above])];
  const wanted = (slope: number): boolean => (rising ? slope > 0 : slope !== 0);
  // A line or step that gains nothing is a flat curve.
  const gains = (rss: number): boolean => rss < flat.rss * (1 - 1e-12);
  const lineCounts = wanted(line.coef[1]) && gains(line.rss);
  const stepCounts = wanted(step.coef[1]) && gains(step.rss);
  const direction = (slope: number): "rising" | "falling" => (slope > 0 ? "rising" : "falling");
  if (lineCounts && !(stepCounts && step.rss < line.rss)) {
    return {
      limit: "straight-line",
      reason: "the response shows no bend towards an asymptote: the best fit is the straight line, a rate of zero",
      direction: direction(line.coef[1]),
      curve: { family: "linear", theta: [line.coef[0], line.coef[1]] },
      blockDeviation: deviations(line.coef.subarray(2)),
      rss: line.rss,
    };
  }
  if (stepCounts) {
    const [level, jump] = step.coef;
    return {
      limit: "step",
      reason: "only the lowest density differs from the rest: the best fit is a step, an infinite rate",
      direction: direction(jump),
      // the same values at every tested density; drawn as a straight rise between the two lowest
      curve: { family: "linear-plateau", theta: [level + jump, jump / (levels[1] - levels[0]), levels[1]] },
      blockDeviation: deviations(step.coef.subarray(2)),
      rss: step.rss,
    };
  }
  return {
    limit: "flat",
    reason: rising ? "no rise to an asymptote fits better than a flat line" : "no bend fits better than a flat line",
    direction: null,
    curve: { family: "flat", theta: [flat.coef[0]] },
    blockDeviation: deviations(flat.coef.subarray(1)),
    rss: flat.rss,
  };
}

/** Direction of the curve from the lowest to the highest density. */
function overall(search: SmoothSearch, theta: readonly number[], x: Float64Array): "rising" | "falling" | null {
  const change = search.curve.mean(Math.max(...x), theta) - search.curve.mean(Math.min(...x), theta);
  return change > 0 ? "rising" : change < 0 ? "falling" : null;
}
