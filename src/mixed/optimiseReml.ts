import { square } from "../core/elementary.ts";
import { symmetricEigen } from "../numeric/symmetricEigen.ts";
import { minimiseNewton, type NewtonPoint } from "../numeric/trustNewton.ts";
import type { Crossproducts } from "./crossproducts.ts";
import { phiElements } from "./patternProducts.ts";
import { type RemlPoint, remlPoint } from "./remlPoint.ts";

/** The maximum of a (restricted) likelihood and how it was reached. */
export interface RemlOptimum {
  /** Cholesky factor of each term's relative covariance, [width * width]. */
  readonly factors: readonly Float64Array[];
  readonly point: RemlPoint;
  readonly iterations: number;
  readonly converged: boolean;
  /** Terms whose covariance is not of full rank. */
  readonly singularTerms: readonly number[];
}

interface Theta {
  readonly term: number;
  readonly row: number;
  readonly column: number;
}

interface ThetaPoint extends NewtonPoint {
  readonly reml: RemlPoint;
}

/**
 * Maximum of the restricted likelihood over the relative covariances, by exact Newton steps on their Cholesky factors.
 *
 * A standard deviation of zero is always a stationary point of the criterion, whether or not it is the maximum. So every
 * solution is certified on the scale of the variances, where it is not: at a zero the score must not be positive
 * (for a matrix: in no direction of its null space). A false zero is left along that direction and the search resumes.
 * Several starting values guard against a local maximum (one is enough with many clusters, where the likelihood is
 * close to quadratic).
 *
 * @returns null when the likelihood cannot be evaluated at any start
 */
export function optimiseReml(
  data: Crossproducts,
  reml: boolean,
  starts: readonly number[] = defaultStarts(data),
  warm?: readonly Float64Array[],
): RemlOptimum | null {
  let best: RemlOptimum | null = null;
  let iterations = 0;
  const seeds = [
    ...(warm === undefined ? [] : [warm]),
    ...starts.map((start) =>
      data.terms.map(({ width }) => {
        const l = new Float64Array(width * width);
        for (let i = 0; i < width; i++) l[i * width + i] = start;
        return l;
      }),
    ),
  ];
  for (const seed of seeds) {
    const found = climb(data, reml, seed, best);
    if (found === null) continue;
    iterations += found.iterations;
    if (best === null || found.point.logLikelihood > best.point.logLikelihood + 1e-9) best = found;
    if (data.terms.length === 0) break;
  }
  return best === null ? null : { ...best, iterations };
}

/** Multiplications per evaluation beyond which further starts are not worth their time. */
const LARGE = 2e6;

function defaultStarts({ patterns, m }: Crossproducts): readonly number[] {
  const cost = patterns.reduce((sum, { q }) => sum + q * m * (q + m), 0);
  return cost > LARGE ? [1] : [1, 0.2, 4];
}

function climb(
  data: Crossproducts,
  reml: boolean,
  seed: readonly Float64Array[],
  known: RemlOptimum | null,
): RemlOptimum | null {
  // A later start that comes this close to a known maximum would only find it again.
  const near = ({ reml: point }: ThetaPoint): boolean =>
    known !== null &&
    Math.abs(point.logLikelihood - known.point.logLikelihood) < 1e-3 &&
    point.gamma.every((gamma, t) =>
      gamma.every((v, i) => Math.abs(v - known.point.gamma[t][i]) < 0.05 * (0.02 + scaleOf(known.point.gamma[t]))),
    );
  const layout: Theta[] = data.terms.flatMap((term, t) => term.pairs.map(([a, b]) => ({ term: t, row: a, column: b })));
  let factors: Float64Array[] = seed.map((l) => l.slice());
  let iterations = 0;
  for (let round = 0; round < 12; round++) {
    const start = Float64Array.from(
      layout,
      ({ term, row, column }) => factors[term][row * data.terms[term].width + column],
    );
    const result = minimiseNewton(
      (theta) => thetaPoint(data, reml, layout, theta),
      start,
      100,
      (_, point) => near(point),
    );
    if (result === null) return null;
    if (known !== null && near(result.point)) return { ...known, iterations: result.iterations };
    iterations += result.iterations;
    factors = unpack(data, layout, result.x);
    let point = result.point.reml;
    const snapped = snapZeros(data, reml, factors, point);
    factors = snapped.factors;
    point = snapped.point;
    const escaped = escapeFalseZero(data, reml, factors, point);
    if (escaped !== null) {
      factors = escaped;
      continue;
    }
    return { factors, point, iterations, converged: result.converged, singularTerms: singularTerms(data, point) };
  }
  const point = remlPoint(data, factors, reml);
  if (point === null) return null;
  return { factors, point, iterations, converged: false, singularTerms: singularTerms(data, point) };
}

function scaleOf(gamma: Float64Array): number {
  return gamma.reduce((largest, v) => Math.max(largest, Math.abs(v)), 0);
}

function unpack(data: Crossproducts, layout: readonly Theta[], theta: Float64Array): Float64Array[] {
  const factors = data.terms.map(({ width }) => new Float64Array(width * width));
  layout.forEach(({ term, row, column }, i) => {
    factors[term][row * data.terms[term].width + column] = theta[i];
  });
  return factors;
}

/** Minus log-likelihood and its derivatives by the Cholesky elements, from those by the covariance elements. */
function thetaPoint(
  data: Crossproducts,
  reml: boolean,
  layout: readonly Theta[],
  theta: Float64Array,
): ThetaPoint | null {
  const factors = unpack(data, layout, theta);
  const point = remlPoint(data, factors, reml);
  if (point === null) return null;
  return {
    value: -point.logLikelihood,
    reml: point,
    derivatives() {
      const elements = phiElements(data);
      const { gradient: gPhi, hessian: hPhi } = point.phi();
      const n = layout.length;
      const k = elements.length;
      // J[phi, theta]: Gamma_ab = sum_c L_ac L_bc.
      const jacobian = new Float64Array(k * n);
      const gradient = new Float64Array(n);
      const hessian = new Float64Array(n * n);
      for (let e = 0; e < k; e++) {
        const { term, a, b } = elements[e];
        const width = data.terms[term].width;
        const l = factors[term];
        for (let i = 0; i < n; i++) {
          const { term: own, row, column } = layout[i];
          if (own !== term) continue;
          let d = 0;
          if (row === a) d += l[b * width + column];
          if (row === b) d += l[a * width + column];
          jacobian[e * n + i] = d;
          gradient[i] -= gPhi[e] * d;
          for (let j = 0; j < n; j++) {
            const other = layout[j];
            if (other.term !== term || other.column !== column) continue;
            const both = (row === a && other.row === b ? 1 : 0) + (row === b && other.row === a ? 1 : 0);
            if (both > 0) hessian[i * n + j] -= gPhi[e] * both;
          }
        }
      }
      for (let e = 0; e < k; e++) {
        for (let f = 0; f < k; f++) {
          const h = hPhi[e * k + f];
          for (let i = 0; i < n; i++) {
            const left = jacobian[e * n + i] * h;
            if (left !== 0) for (let j = 0; j < n; j++) hessian[i * n + j] -= left * jacobian[f * n + j];
          }
        }
      }
      return { gradient, hessian };
    },
  };
}

/** Sets columns of a factor that shrank to rounding size to exact zero, when the likelihood agrees. */
function snapZeros(
  data: Crossproducts,
  reml: boolean,
  factors: readonly Float64Array[],
  point: RemlPoint,
): { factors: Float64Array[]; point: RemlPoint } {
  let current: Float64Array[] = factors.map((l) => l.slice());
  let best = point;
  data.terms.forEach(({ width }, t) => {
    for (let c = 0; c < width; c++) {
      let size = 0;
      for (let a = c; a < width; a++) size += square(current[t][a * width + c]);
      if (size === 0 || size > 1e-6) continue;
      const trial = current.map((l) => l.slice());
      for (let a = c; a < width; a++) trial[t][a * width + c] = 0;
      const next = remlPoint(data, trial, reml);
      if (next !== null && next.logLikelihood >= best.logLikelihood - 1e-9) {
        current = trial;
        best = next;
      }
    }
  });
  return { factors: current, point: best };
}

/** Factors moved off a zero at which the likelihood still rises; null when there is none. */
function escapeFalseZero(
  data: Crossproducts,
  reml: boolean,
  factors: readonly Float64Array[],
  point: RemlPoint,
): Float64Array[] | null {
  const elements = phiElements(data);
  const { gradient } = point.phi();
  let best: Float64Array[] | null = null;
  // Gains below this are rounding, not likelihood.
  let bestValue = point.logLikelihood + 1e-8 * Math.max(1, Math.abs(point.logLikelihood) * 1e-3);
  data.terms.forEach(({ width, diagonal }, t) => {
    const score = new Float64Array(width * width);
    elements.forEach(({ term, a, b }, e) => {
      if (term !== t) return;
      score[a * width + b] = a === b ? gradient[e] : gradient[e] / 2;
      score[b * width + a] = score[a * width + b];
    });
    for (const direction of nullDirections(point.gamma[t], width, diagonal)) {
      let rise = 0;
      for (let a = 0; a < width; a++)
        for (let b = 0; b < width; b++) rise += direction[a] * score[a * width + b] * direction[b];
      if (!(rise > 0)) continue;
      for (let size = 1; size > 1e-9; size *= 0.1) {
        const gamma = point.gamma[t].slice();
        for (let a = 0; a < width; a++) {
          for (let b = 0; b < width; b++) gamma[a * width + b] += size * direction[a] * direction[b];
        }
        const trial = factors.map((l, i) => (i === t ? semidefiniteFactor(gamma, width) : l.slice()));
        const next = remlPoint(data, trial, reml);
        if (next !== null && next.logLikelihood > bestValue) {
          best = trial;
          bestValue = next.logLikelihood;
        }
      }
    }
  });
  return best;
}

/** Directions in which a relative covariance is (numerically) zero. */
function nullDirections(gamma: Float64Array, width: number, diagonal: boolean): Float64Array[] {
  const out: Float64Array[] = [];
  if (diagonal) {
    for (let a = 0; a < width; a++) {
      if (gamma[a * width + a] > 1e-6) continue;
      const unit = new Float64Array(width);
      unit[a] = 1;
      out.push(unit);
    }
    return out;
  }
  const { values, vectors } = symmetricEigen(gamma, width);
  const limit = 1e-6 * Math.max(1, values[0]);
  const nullity: number[] = [];
  for (let j = 0; j < width; j++) if (values[j] <= limit) nullity.push(j);
  for (const j of nullity) out.push(Float64Array.from({ length: width }, (_, i) => vectors[i * width + j]));
  // In a null space of several dimensions the steepest direction may be a mixture: try sums and differences too.
  for (let i = 0; i < nullity.length; i++) {
    for (let j = 0; j < i; j++) {
      for (const sign of [1, -1]) {
        out.push(Float64Array.from({ length: width }, (_, r) => (out[i][r] + sign * out[j][r]) * Math.SQRT1_2));
      }
    }
  }
  return out;
}

/** Lower triangular L with L L' = A for a positive semidefinite matrix of any rank. */
export function semidefiniteFactor(a: Float64Array, n: number): Float64Array {
  const l = new Float64Array(n * n);
  for (let j = 0; j < n; j++) {
    let pivot = a[j * n + j];
    for (let k = 0; k < j; k++) pivot -= square(l[j * n + k]);
    if (!(pivot > 1e-14 * a[j * n + j])) continue;
    l[j * n + j] = Math.sqrt(pivot);
    for (let i = j + 1; i < n; i++) {
      let sum = a[i * n + j];
      for (let k = 0; k < j; k++) sum -= l[i * n + k] * l[j * n + k];
      l[i * n + j] = sum / l[j * n + j];
    }
  }
  return l;
}

/** Terms with a zero variance or a correlation of one. */
function singularTerms(data: Crossproducts, point: RemlPoint): number[] {
  return data.terms.flatMap(({ width, diagonal }, t) => {
    const gamma = point.gamma[t];
    const variances = Array.from({ length: width }, (_, a) => gamma[a * width + a]);
    if (variances.some((v) => v <= 1e-10)) return [t];
    if (diagonal) return [];
    const scaled = gamma.map((v, i) => v / Math.sqrt(variances[Math.floor(i / width)] * variances[i % width]));
    const { values } = symmetricEigen(scaled, width);
    return values[width - 1] < 1e-8 ? [t] : [];
  });
}
