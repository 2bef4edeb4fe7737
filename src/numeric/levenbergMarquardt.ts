import { levenbergMarquardt as packageFit } from "ml-levenberg-marquardt";
import { check } from "../core/errors.ts";
import { dot2 } from "./doubleDouble.ts";
import { applyTranspose, factorise, inverseCrossproduct, norm, solveUpper } from "./householder.ts";

/** A nonlinear least-squares problem: minimise sum_i w_i (y_i - mean_i(theta))^2. */
export interface NonlinearProblem {
  /** Response, shape [n]. */
  readonly y: ArrayLike<number>;
  /** Relative precision of each row, > 0; shape [n]; default 1. */
  readonly weight?: ArrayLike<number> | null;
  /** Writes the mean of every row to `out`, shape [n]; values that are not finite mark theta as impossible. */
  readonly mean: (theta: Float64Array, out: Float64Array) => void;
  /** Writes the exact derivatives of the mean to `columns`, shape [p][n]. */
  readonly jacobian: (theta: Float64Array, columns: readonly Float64Array[]) => void;
}

export interface NonlinearOptions {
  /** Bound on the evaluations of the derivatives for each of at most five paths; default 2000 (ordinary problems need 20 to 100). */
  readonly maxIterations?: number;
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
  { maxIterations = 2000 }: NonlinearOptions = {},
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
  // straight from the start, and by the package, whose rounds may cross a ridge: two chances of the deeper valley
  let best = run((budget) => dampedSteps(rows, first, budget, 1e-3, "longest"));
  const viaPackage = run((budget) => dampedSteps(rows, packageRounds(rows, first, budget), budget, 1e-3, "longest"));
  // an equal sum of squares elsewhere (a mirrored parameter, say) does not count as deeper
  if (
    viaPackage.point.rss < best.point.rss * (1 - 1e-9) ||
    (!hasConverged(rows, best) && hasConverged(rows, viaPackage))
  )
    best = viaPackage;
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

interface Budget {
  left: number;
}

/** A point with its weighted residuals. */
interface Point {
  readonly theta: Float64Array;
  readonly residuals: Float64Array;
  readonly rss: number;
}

interface Rows {
  readonly n: number;
  readonly p: number;
  /** The weighted problem at theta; null where the mean is not finite. */
  at(theta: Float64Array): Point | null;
  /** Weighted derivatives; null where they are not finite. */
  derivatives(theta: Float64Array): Float64Array[] | null;
}

function scaledRows(problem: NonlinearProblem, p: number): Rows {
  const { y, weight } = problem;
  const n = y.length;
  const root = weight ? Float64Array.from(weight, Math.sqrt) : null;
  return {
    n,
    p,
    at(theta) {
      const residuals = new Float64Array(n);
      problem.mean(theta, residuals);
      let rss = 0;
      for (let i = 0; i < n; i++) {
        residuals[i] = (y[i] - residuals[i]) * (root ? root[i] : 1);
        rss += residuals[i] * residuals[i];
      }
      return rss < Infinity ? { theta, residuals, rss } : null;
    },
    derivatives(theta) {
      const columns = Array.from({ length: p }, () => new Float64Array(n));
      problem.jacobian(theta, columns);
      for (const column of columns) {
        for (let i = 0; i < n; i++) {
          if (root) column[i] *= root[i];
          if (!Number.isFinite(column[i])) return null;
        }
      }
      return columns;
    },
  };
}

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
  // the problem in u has residuals of length 1 and derivatives of length 1 at u = 0
  const response = Array.from(from.residuals, (r) => r / size);
  try {
    const { parameterValues } = packageFit(
      { x: index, y: response },
      (u) => {
        const point = rows.at(thetaOf(u));
        return (i) => (point ? (from.residuals[i] - point.residuals[i]) / size : Number.NaN);
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

/** Minimum of |r - J d|^2 + damping |D d|^2 with D the lengths of the columns; null when J is not finite. */
function dampedStep(
  columns: readonly Float64Array[],
  residuals: Float64Array,
  lengths: Float64Array,
  damping: number,
): Float64Array {
  const n = residuals.length;
  const p = columns.length;
  const extended = columns.map((column, j) => {
    const out = new Float64Array(n + p);
    out.set(column);
    out[n + j] = Math.sqrt(damping) * lengths[j];
    return out;
  });
  const f = factorise(extended, 1e-15);
  const target = new Float64Array(n + p);
  target.set(residuals);
  applyTranspose(f, target);
  solveUpper(f, target);
  const step = new Float64Array(p);
  for (let k = 0; k < f.rank; k++) step[f.pivot[k]] = target[k] * f.scale[f.pivot[k]];
  return step;
}

function moved(theta: Float64Array, step: Float64Array, share: number): Float64Array {
  return theta.map((t, j) => t + share * step[j]);
}

/** Largest change of a parameter relative to itself. */
function relativeSize(step: Float64Array, theta: Float64Array): number {
  return step.reduce(
    (most, s, j) => Math.max(most, s === 0 ? 0 : Math.abs(s) / Math.max(Math.abs(theta[j]), Number.MIN_VALUE)),
    0,
  );
}

/** Damped steps with Nielsen's rule, until they gain next to nothing. */
function dampedSteps(
  rows: Rows,
  from: Point,
  budget: Budget,
  firstDamping: number,
  scaling: "longest" | "current",
): Point {
  let best = from;
  let damping = firstDamping;
  let growth = 2;
  const lengths = new Float64Array(rows.p);
  let columns: Float64Array[] | null = null;
  let quiet = 0;
  while (budget.left > 20 && best.rss > 0) {
    if (!columns) {
      budget.left--;
      columns = rows.derivatives(best.theta);
      if (!columns) return best;
      // lengths that only grow (More 1978) keep a flat stretch from setting a parameter free; current ones bend with the valley
      columns.forEach((column, j) => {
        lengths[j] = Math.max(scaling === "longest" ? lengths[j] : 0, norm(column)) || 1;
      });
    }
    const straight = dampedStep(columns, best.residuals, lengths, damping);
    const step = curvedStep(rows, best, columns, lengths, damping, straight);
    const next = rows.at(moved(best.theta, step, 1));
    const predicted = predictedGain(columns, best.residuals, straight);
    const gain = next ? best.rss - next.rss : -1;
    if (next && gain > 0) {
      const ratio = gain / Math.max(predicted, gain * 1e-3);
      damping = Math.max(damping * Math.max(1 / 3, 1 - (2 * ratio - 1) ** 3), 1e-14);
      growth = 2;
      quiet = gain < 1e-9 * best.rss ? quiet + 1 : 0;
      best = next;
      columns = null;
      if (quiet >= 3) return best;
    } else {
      if (predicted <= 1e-14 * best.rss || relativeSize(step, best.theta) < 1e-15 || damping > 1e30) return best;
      damping *= growth;
      growth *= 2;
    }
  }
  return best;
}

/**
 * The step bent along the valley by the second derivative of the mean in its direction, when that bend is small against the
 * step; otherwise the step as it is.
 *
 * Source: Transtrum & Sethna (2012), Improvements to the Levenberg-Marquardt algorithm, arXiv:1201.5885, section 4.
 */
function curvedStep(
  rows: Rows,
  from: Point,
  columns: readonly Float64Array[],
  lengths: Float64Array,
  damping: number,
  step: Float64Array,
): Float64Array {
  const h = 0.1;
  const probe = rows.at(moved(from.theta, step, h));
  if (!probe) return step;
  const second = new Float64Array(rows.n);
  for (let i = 0; i < rows.n; i++) {
    let along = 0;
    for (let j = 0; j < rows.p; j++) along += columns[j][i] * step[j];
    second[i] = (2 / h) * ((probe.residuals[i] - from.residuals[i]) / h + along);
  }
  const bend = dampedStep(columns, second, lengths, damping);
  const size = (v: Float64Array): number => Math.hypot(...v.map((d, j) => d * lengths[j]));
  return 2 * size(bend) <= 0.75 * size(step) ? step.map((s, j) => s + bend[j] / 2) : step;
}

/** |r|^2 - |r - J d|^2. */
function predictedGain(columns: readonly Float64Array[], residuals: Float64Array, step: Float64Array): number {
  let gain = 0;
  for (let i = 0; i < residuals.length; i++) {
    let change = 0;
    for (let j = 0; j < step.length; j++) change += columns[j][i] * step[j];
    gain += change * (2 * residuals[i] - change);
  }
  return gain;
}

/** A Gauss-Newton step with what it says about the distance to the minimum. */
interface NewtonStep {
  readonly step: Float64Array;
  readonly columns: readonly Float64Array[];
  readonly rank: number;
  /** Length of the residuals' projection on the derivatives. */
  readonly projection: number;
}

function newtonStep(rows: Rows, point: Point): NewtonStep | null {
  const columns = rows.derivatives(point.theta);
  if (!columns) return null;
  const f = factorise(columns, 1e-14);
  const target = Float64Array.from(point.residuals);
  applyTranspose(f, target);
  const projection = norm(target.subarray(0, f.rank));
  solveUpper(f, target);
  const step = new Float64Array(rows.p);
  for (let k = 0; k < f.rank; k++) step[f.pivot[k]] = target[k] * f.scale[f.pivot[k]];
  return { step, columns, rank: f.rank, projection };
}

interface Polished {
  readonly point: Point;
  readonly newton: NewtonStep | null;
  /** Relative size of the full step that is still open at the end. */
  readonly open: number;
}

/**
 * Gauss-Newton with step halving; near the minimum, where the sum of squares no longer tells points apart, a step counts
 * when it shortens the projection of the residuals on the derivatives.
 */
function polish(rows: Rows, from: Point, budget: Budget): Polished {
  let point = from;
  let newton = newtonStep(rows, point);
  for (let i = 0; i < 60 && newton && budget.left > 0; i++) {
    let taken = false;
    for (let share = 1; share > 1e-4; share /= 2) {
      const next = rows.at(moved(point.theta, newton.step, share));
      if (!next) continue;
      if (next.rss < point.rss * (1 - 1e-10)) {
        budget.left--;
        point = next;
        newton = newtonStep(rows, point);
        taken = true;
        break;
      }
      if (share === 1 && next.rss <= point.rss * (1 + 1e-8)) {
        budget.left--;
        const after = newtonStep(rows, next);
        if (after && after.projection < newton.projection) {
          point = next;
          newton = after;
          taken = true;
          break;
        }
      }
    }
    if (!taken) break;
  }
  return { point, newton, open: newton ? relativeSize(newton.step, point.theta) : 1 };
}

function cosine(point: Point, newton: NewtonStep | null): number {
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
    digits: Math.min(16, Math.max(0, -Math.log10(Math.max(open, 1e-17)))),
  };
}
