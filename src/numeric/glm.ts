import { log, square } from "../core/elementary.ts";

/**
 * A smooth criterion to be maximised: a log-likelihood, perhaps with a penalty.
 *
 * `evaluate` returns the value at `theta` and, when the arrays are given, fills the gradient (shape [size]) and the
 * information (shape [size][size], row by row): minus the second derivatives or their expectation.
 */
export interface Criterion {
  readonly size: number;
  evaluate(theta: Float64Array, gradient: Float64Array | null, information: Float64Array | null): number;
  /** Index of a parameter that must not fall below 0 (a variance ratio); absent when there is none. */
  readonly nonNegative?: number;
}

/** One smooth equation `value(theta) = 0` that the parameters must obey. */
export interface Constraint {
  gradient(theta: Float64Array, out: Float64Array): void;
  /** Adds `multiplier` times the second derivatives along the equation to `out`, shape [size][size]; leave out when linear. */
  addCurvature?(theta: Float64Array, multiplier: number, out: Float64Array): void;
  /** Moves `theta` onto the equation, exactly to rounding. */
  restore(theta: Float64Array): void;
}

/** Where the search ended. `information` is at `theta`. */
export interface Maximum {
  readonly status: "converged" | "iteration-limit" | "singular";
  readonly theta: Float64Array;
  readonly value: number;
  readonly information: Float64Array;
  readonly iterations: number;
}

export interface MaximiseOptions {
  readonly constraint?: Constraint | null;
  readonly maxIterations?: number;
  /** Length of the last step, in standard errors, at which the search ends; the step is still taken. Default 1e-11. */
  readonly accuracy?: number;
}

/**
 * Fisher scoring (or Newton, if the criterion gives observed information) with step halving, optionally on the surface
 * where one equation holds.
 *
 * Each step solves `(A + lambda C) d + c mu = g, c'd = 0` (C: curvature of the equation, lambda: its multiplier); the point is then moved back onto the equation and the step is halved
 * until the criterion does not fall. A parameter resting on its bound with the gradient pointing outwards stays there.
 *
 * @param criterion - what to maximise
 * @param start - starting values, shape [size]; not changed
 *
 * Source: McCullagh & Nelder (1989), Generalized Linear Models, section 2.5; Nocedal & Wright (2006), Numerical
 * Optimization, sections 16.1 and 18.1.
 */
export function maximise(
  criterion: Criterion,
  start: Float64Array,
  { constraint = null, maxIterations = 400, accuracy = 1e-11 }: MaximiseOptions = {},
): Maximum {
  const p = criterion.size;
  const bounded = criterion.nonNegative ?? -1;
  const factor = new Float64Array(p * p);
  const loaded = new Float64Array(p * p);
  const weighted = new Float64Array(p * p);
  const step = new Float64Array(p);
  const normal = new Float64Array(p);
  const across = new Float64Array(p);
  let multiplier = 0;
  let held = false;
  // The point reached, and the one being tried; a trial is evaluated in full because it is nearly always taken.
  let here = { theta: Float64Array.from(start), gradient: new Float64Array(p), information: new Float64Array(p * p) };
  let there = { theta: new Float64Array(p), gradient: new Float64Array(p), information: new Float64Array(p * p) };

  const solve = (matrix: Float64Array): boolean => {
    factor.set(matrix);
    if (held) isolate(factor, p, bounded);
    if (!factorise(factor, p)) return false;
    step.set(here.gradient);
    if (held) step[bounded] = 0;
    solveFactored(factor, p, step);
    if (!constraint) return true;
    constraint.gradient(here.theta, normal);
    across.set(normal);
    if (held) across[bounded] = 0;
    solveFactored(factor, p, across);
    multiplier = dot(normal, step) / dot(normal, across);
    for (let j = 0; j < p; j++) step[j] -= multiplier * across[j];
    return true;
  };
  // On the equation only the curvature along it matters: weight across it makes the matrix definite and leaves the step.
  const solveAcross = (matrix: Float64Array): boolean => {
    if (!constraint) return false;
    constraint.gradient(here.theta, normal);
    const size = trace(matrix, p) / dot(normal, normal);
    return [1, 100].some((weight) => {
      for (let j = 0; j < p; j++) {
        for (let k = 0; k < p; k++) {
          weighted[j * p + k] = matrix[j * p + k] + weight * size * normal[j] * normal[k];
        }
      }
      return solve(weighted);
    });
  };

  constraint?.restore(here.theta);
  let value = criterion.evaluate(here.theta, here.gradient, here.information);
  const answer = (status: Maximum["status"], iterations: number): Maximum => {
    return { status, theta: here.theta, value, information: here.information, iterations };
  };
  if (!Number.isFinite(value)) return answer("singular", 0);

  for (let iteration = 1; iteration <= maxIterations; iteration++) {
    held = bounded >= 0 && here.theta[bounded] <= 0 && here.gradient[bounded] <= 0;
    const definite = solve(here.information) || solveAcross(here.information);
    if (!definite && !climb(here.information, loaded, p, solve)) return answer("singular", iteration);
    if (constraint?.addCurvature) {
      loaded.set(here.information);
      constraint.addCurvature(here.theta, multiplier, loaded);
      if (!solve(loaded) && !solveAcross(loaded) && !solve(here.information) && !solveAcross(here.information)) {
        climb(here.information, loaded, p, solve);
      }
    }
    // The squared length of the step, not step * gradient: on the equation the gradient itself does not vanish.
    const decrement = Math.abs(quadraticForm(here.information, p, step));

    let length = 1;
    for (; length > 1e-10; length /= 2) {
      for (let j = 0; j < p; j++) there.theta[j] = here.theta[j] + length * step[j];
      if (bounded >= 0 && there.theta[bounded] < 0) there.theta[bounded] = 0;
      constraint?.restore(there.theta);
      const next = criterion.evaluate(there.theta, there.gradient, there.information);
      // Rounding leaves the value uncertain in its last digits; a step inside that noise is not a fall.
      if (next >= value - 1e-13 * (1 + Math.abs(value))) {
        [here, there] = [there, here];
        value = next;
        break;
      }
    }
    const stuck = length <= 1e-10;
    if (decrement < accuracy * accuracy || (stuck && decrement < 1e-9)) return answer("converged", iteration);
    if (stuck) return answer("iteration-limit", iteration);
  }
  return answer("iteration-limit", maxIterations);
}

/** Cuts parameter `k` out of a symmetric matrix: its row and column become those of the identity. */
function isolate(a: Float64Array, p: number, k: number): void {
  for (let j = 0; j < p; j++) {
    a[k * p + j] = 0;
    a[j * p + k] = 0;
  }
  a[k * p + k] = 1;
}

/** Sum of the absolute diagonal. */
function trace(a: Float64Array, p: number): number {
  let sum = 0;
  for (let j = 0; j < p; j++) sum += Math.abs(a[j * p + j]);
  return sum;
}

/** Adds to the diagonal until the matrix is positive definite, so that the step still climbs. */
function climb(
  information: Float64Array,
  loaded: Float64Array,
  p: number,
  solve: (matrix: Float64Array) => boolean,
): boolean {
  const size = trace(information, p);
  if (!(size > 0 && size < Infinity)) return false;
  for (let load = 1e-4 * size; load < 1e6 * size; load *= 10) {
    loaded.set(information);
    for (let j = 0; j < p; j++) loaded[j * p + j] += load;
    if (solve(loaded)) return true;
  }
  return false;
}

/**
 * Cholesky factor L (A = L L') of a symmetric matrix, written over its lower triangle.
 *
 * @param a - shape [p][p], row by row; changed
 * @returns false when the matrix is not positive definite to working accuracy
 */
export function factorise(a: Float64Array, p: number): boolean {
  for (let j = 0; j < p; j++) {
    const original = a[j * p + j];
    let d = original;
    for (let k = 0; k < j; k++) d -= square(a[j * p + k]);
    // Below 1e-13 of its size the pivot is rounding noise.
    if (!(d > 1e-13 * Math.abs(original)) || d === Infinity) return false;
    const pivot = Math.sqrt(d);
    a[j * p + j] = pivot;
    for (let i = j + 1; i < p; i++) {
      let s = a[i * p + j];
      for (let k = 0; k < j; k++) s -= a[i * p + k] * a[j * p + k];
      a[i * p + j] = s / pivot;
    }
  }
  return true;
}

/** Solves L L' x = b in place. */
export function solveFactored(factor: Float64Array, p: number, b: Float64Array): void {
  for (let i = 0; i < p; i++) {
    let s = b[i];
    for (let k = 0; k < i; k++) s -= factor[i * p + k] * b[k];
    b[i] = s / factor[i * p + i];
  }
  for (let i = p - 1; i >= 0; i--) {
    let s = b[i];
    for (let k = i + 1; k < p; k++) s -= factor[k * p + i] * b[k];
    b[i] = s / factor[i * p + i];
  }
}

/** Inverse of a symmetric positive definite matrix, or null when it is not one. */
export function inverseSymmetric(a: Float64Array, p: number): Float64Array | null {
  const factor = Float64Array.from(a);
  if (!factorise(factor, p)) return null;
  const inverse = new Float64Array(p * p);
  const column = new Float64Array(p);
  for (let j = 0; j < p; j++) {
    column.fill(0);
    column[j] = 1;
    solveFactored(factor, p, column);
    for (let i = 0; i < p; i++) inverse[i * p + j] = column[i];
  }
  return inverse;
}

/** Twice the sum of the logs of the factor's diagonal: log determinant of the factored matrix. */
export function logDeterminant(factor: Float64Array, p: number): number {
  let sum = 0;
  for (let j = 0; j < p; j++) sum += log(factor[j * p + j]);
  return 2 * sum;
}

/** g' V g for a symmetric matrix V. */
export function quadraticForm(v: ArrayLike<number>, p: number, g: ArrayLike<number>): number {
  let sum = 0;
  for (let i = 0; i < p; i++) for (let j = 0; j < p; j++) sum += g[i] * v[i * p + j] * g[j];
  return sum;
}

function dot(a: Float64Array, b: Float64Array): number {
  let sum = 0;
  for (let j = 0; j < a.length; j++) sum += a[j] * b[j];
  return sum;
}
