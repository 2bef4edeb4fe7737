import { levenbergMarquardt as packageFit } from "ml-levenberg-marquardt";
import { log10 } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { dampedSteps } from "./dampedSteps.ts";
import { dot2 } from "./doubleDouble.ts";
import { factorise, inverseCrossproduct, norm } from "./householder.ts";
import { type Budget, type NonlinearProblem, type Point, type Rows, scaledRows } from "./nonlinearRows.ts";
import { type GaussNewtonStep, type Polished, polish } from "./polishSteps.ts";

export type { NonlinearProblem };

export interface NonlinearOptions {
  /** Bound on the evaluations of the derivatives for each of at most five paths; default 2000 (ordinary problems need 20 to 100). */
  readonly maxIterations?: number;
  /** True when the start is known to lie in the valley of the minimum: the second path is then left out. Default false. */
  readonly nearMinimum?: boolean;
}

/** Where a nonlinear fit ended. */
export interface NonlinearFit {
  /** Best parameters found, shape [p], whatever the status. */
  readonly theta: Float64Array;
  readonly rss: number;
  /**
   * `converged`: a stationary point, judged by the gradient and by the last step. `singular`: the derivatives do not tell all
   * parameters apart at theta. `iteration-limit`: neither.
   */
  readonly status: "converged" | "iteration-limit" | "singular";
  readonly iterations: number;
  /** s^2 (J'WJ)^-1, shape [p][p]; null when singular or without residual degrees of freedom. */
  readonly vcov: readonly Float64Array[] | null;
  readonly stderror: Float64Array | null;
  /** Cosine of the angle between the residuals and the space of the derivatives: 0 at a minimum. */
  readonly gradientCosine: number;
  /** Correct digits of the worst parameter, estimated from the last full step; at most 16. */
  readonly digits: number;
}

/**
 * Nonlinear least squares from a starting value: the Levenberg-Marquardt package first, then Gauss-Newton steps by QR.
 *
 * The package is given rows scaled by the roots of the weights (its own weights are wrong), the exact derivatives, and
 * parameters scaled to columns of unit length, in short rounds, since it has no stopping rule that fits noisy data and
 * does not tell how it ended. Damped QR steps take over where it stalls or breaks down; undamped ones polish
 * to the last digits; the stopping test and the covariance are computed here. A local minimum is all that any of them
 * can promise: global searches are the caller's.
 *
 * @param problem - response, mean and exact derivatives
 * @param start - starting values, shape [p]
 * @throws AnalysisError `not-estimable` when n < p, `length-mismatch`, `invalid-data` when y, start or the mean at the start is not finite
 *
 * Source: Marquardt (1963), J. SIAM 11, 431-441; Nielsen (1999), IMM-REP-1999-05 (damping); Bates & Watts (1988), Nonlinear
 * Regression Analysis, 2.2.3 (relative offset). Oracle: NIST StRD nonlinear sets.
 */
export function levenbergMarquardt(
  problem: NonlinearProblem,
  start: ArrayLike<number>,
  { maxIterations = 2000, nearMinimum = false }: NonlinearOptions = {},
): NonlinearFit {
  const n = problem.y.length;
  const p = start.length;
  check(p > 0 && n >= p, "not-estimable", `${p} parameters need at least as many rows, got ${n}`);
  check(maxIterations >= 1, "invalid-option", `maxIterations must be >= 1, got ${maxIterations}`);
  if (problem.weight)
    check(problem.weight.length === n, "length-mismatch", `y has ${n} values but weight has ${problem.weight.length}`);
  const rows = scaledRows(problem, p);
  const first = rows.at(Float64Array.from(start));
  check(first !== null, "invalid-data", "y, the starting values and the mean there must be finite");
  let used = 0;
  const run = (path: (budget: Budget) => Point): Polished => {
    const budget: Budget = { left: maxIterations };
    const end = polish(rows, path(budget), budget);
    used += maxIterations - budget.left;
    return end;
  };
  let best = run((budget) => dampedSteps(rows, packageRounds(rows, first, budget), budget, 1e-3, "longest"));
  if (!nearMinimum || !hasConverged(rows, best)) {
    // straight from the start: the package's rounds may cross a ridge, which is a second chance of the deeper valley, but an
    // equal sum of squares elsewhere (a mirrored parameter, say) does not count as deeper
    const direct = run((budget) => dampedSteps(rows, first, budget, 1e-3, "longest"));
    const deeper = best.point.rss < direct.point.rss * (1 - 1e-9);
    if (!deeper && (hasConverged(rows, direct) || !hasConverged(rows, best))) best = direct;
  }
  for (const [damping, lengths] of CAUTIOUS) {
    if (hasConverged(rows, best)) break;
    const end = run((budget) => dampedSteps(rows, first, budget, damping, lengths));
    if (end.point.rss < best.point.rss || hasConverged(rows, end)) best = end;
  }
  return finish(rows, best, used);
}

/** First dampings for starts from which ordinary steps run away, and which column lengths scale them. */
const CAUTIOUS: readonly (readonly [number, "longest" | "current"])[] = [
  [1, "current"],
  [100, "longest"],
  [1e4, "current"],
];

const ROUND = 12;

/** Short rounds of the package, each with parameters rescaled to unit columns, while they gain. */
function packageRounds(rows: Rows, start: Point, budget: Budget): Point {
  let best = start;
  for (let round = 0; round < 6 && budget.left > ROUND; round++) {
    const next = packageRound(rows, best, budget);
    if (!next || !(next.rss < best.rss)) break;
    const gain = (best.rss - next.rss) / best.rss;
    best = next;
    if (gain < 1e-4) break;
  }
  return best;
}

function packageRound(rows: Rows, from: Point, budget: Budget): Point | null {
  const columns = rows.derivatives(from.theta);
  if (!columns || !(from.rss > 0)) return null;
  const size = Math.sqrt(from.rss);
  const scale = columns.map((column) => norm(column) / size);
  if (scale.some((s) => !(s > 0 && s < Infinity))) return null;
  const index = Array.from({ length: rows.n }, (_, i) => i);
  const thetaOf = (u: readonly number[]): Float64Array => Float64Array.from(from.theta, (t, j) => t + u[j] / scale[j]);
  // The problem in u has residuals of length 1 and derivatives of length 1 at u = 0. The package decides its steps by sums of
  // `residual ** 2`, which engines round differently unless the square is a double: so it is given 24-bit residuals.
  const zeros = new Array(rows.n).fill(0);
  try {
    const { parameterValues } = packageFit(
      { x: index, y: zeros },
      (u) => {
        const point = rows.at(thetaOf(u));
        return (i) => (point ? -Math.fround(point.residuals[i] / size) : Number.NaN);
      },
      {
        initialValues: new Array(rows.p).fill(0),
        jacobianFunction: (u) => {
          budget.left--;
          const j = rows.derivatives(thetaOf(u));
          return (i) => scale.map((s, k) => (j ? j[k][i] / s / size : Number.NaN));
        },
        damping: 0.1,
        maxIterations: ROUND,
        errorTolerance: 0,
      },
    );
    return rows.at(thetaOf(parameterValues));
  } catch {
    return null; // overflow inside the package: its matrices are then not symmetric or not invertible
  }
}

function cosine(point: Point, newton: GaussNewtonStep | null): number {
  if (!newton) return 1;
  return point.rss > 0 ? Math.min(1, newton.projection / Math.sqrt(point.rss)) : 0;
}

/** Either test alone has a blind spot: the angle when the residuals are rounding error, the step when a parameter is near 0. */
function hasConverged(rows: Rows, { point, newton, open }: Polished): boolean {
  return newton !== null && newton.rank === rows.p && (cosine(point, newton) < 1e-8 || open < 1e-9);
}

function finish(rows: Rows, polished: Polished, iterations: number): NonlinearFit {
  const { point, newton, open } = polished;
  const { theta, residuals } = point;
  const rss = dot2(residuals, residuals);
  const regular = newton !== null && newton.rank === rows.p;
  const dof = rows.n - rows.p;
  const vcov =
    regular && dof > 0
      ? inverseCrossproduct(factorise(newton.columns, 0)).map((row) => row.map((v) => (v * rss) / dof))
      : null;
  return {
    theta,
    rss,
    status: hasConverged(rows, polished) ? "converged" : newton && !regular ? "singular" : "iteration-limit",
    iterations,
    vcov,
    stderror: vcov ? Float64Array.from(vcov, (row, j) => Math.sqrt(row[j])) : null,
    gradientCosine: cosine(point, newton),
    digits: Math.min(16, Math.max(0, -log10(Math.max(open, 1e-17)))),
  };
}
