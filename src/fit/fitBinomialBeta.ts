import { log, log1p } from "../core/elementary.ts";
import {
  type Constraint,
  type Criterion,
  inverseSymmetric,
  type MaximiseOptions,
  type Maximum,
  maximise,
} from "../numeric/glm.ts";
import { type BinomialProblem, fitBinomial, fittedProbabilities } from "./fitBinomial.ts";

/** A fitted beta-binomial model. */
export interface BetaBinomialSolution {
  readonly status: Maximum["status"];
  readonly coef: Float64Array;
  /** Aggregation theta >= 0 of Hughes & Madden; 0: no more spread than the binomial. */
  readonly theta: number;
  /** Intraclass correlation theta / (1 + theta). */
  readonly icc: number;
  /** From the observed information, aggregation estimated too; shape [p][p]. Null when singular. */
  readonly vcov: Float64Array | null;
  readonly fitted: Float64Array;
  /** Log-likelihood without the binomial coefficients. */
  readonly value: number;
  readonly iterations: number;
}

/**
 * Beta-binomial regression by maximum likelihood: Var(events) = m p (1 - p) (1 + (m - 1) icc).
 *
 * The likelihood is used in its product form
 * `prod_{j<k}(p + j theta) prod_{j<m-k}(1 - p + j theta) / prod_{j<m}(1 + j theta)`, exact down to theta = 0, where it is
 * the binomial. Newton steps on the analytic second derivatives, theta kept at or above 0; two starts guard against a
 * second maximum away from 0.
 *
 * @param problem - as for `fitBinomial`; counts must be whole numbers
 * @param options - as for `maximise`, and `start` (coefficients, then theta)
 *
 * Source: Hughes & Madden (1993), Phytopathology 83, 759-763; Prentice (1986), JASA 81, 321-327 (product form).
 */
export function fitBetaBinomial(
  problem: BinomialProblem,
  { start, ...options }: MaximiseOptions & { readonly start?: Float64Array } = {},
): BetaBinomialSolution {
  const p = problem.columns;
  const criterion = betaBinomialCriterion(problem);
  const begin = (coef: ArrayLike<number>, theta: number) => Float64Array.from([...Array.from(coef), theta]);
  let best: Maximum;
  if (start) best = maximise(criterion, start, options);
  else {
    const constraint = options.constraint ? widen(options.constraint, p) : null;
    const binomial = fitBinomial(problem, { constraint });
    best = maximise(criterion, begin(binomial.coef, 0.005), options);
    const other = maximise(criterion, begin(binomial.coef, 0.15), options);
    if (other.value > best.value + 1e-9) best = other;
  }
  const theta = best.theta[p];
  const coef = best.theta.slice(0, p);
  return {
    status: best.status,
    coef,
    theta,
    icc: theta / (1 + theta),
    vcov: coefficientCovariance(best.information, p, theta > 0),
    fitted: fittedProbabilities(problem, coef),
    value: best.value,
    iterations: best.iterations,
  };
}

/** The constraint seen by the plain binomial start: it never looks at theta, so only the gradient's length changes. */
function widen(constraint: Constraint, p: number): Constraint {
  const longer = new Float64Array(p + 1);
  const view = new Float64Array(p + 1);
  return {
    gradient(theta, out) {
      longer.set(theta);
      constraint.gradient(longer, view);
      out.set(view.subarray(0, p));
    },
    restore(theta) {
      longer.set(theta);
      constraint.restore(longer);
      theta.set(longer.subarray(0, p));
    },
  };
}

/** At theta = 0 the bound is active and the coefficients have their own information. */
function coefficientCovariance(information: Float64Array, p: number, free: boolean): Float64Array | null {
  const size = free ? p + 1 : p;
  const part = new Float64Array(size * size);
  for (let i = 0; i < size; i++) for (let j = 0; j < size; j++) part[i * size + j] = information[i * (p + 1) + j];
  const inverse = inverseSymmetric(part, size);
  if (!inverse) return null;
  const vcov = new Float64Array(p * p);
  for (let i = 0; i < p; i++) for (let j = 0; j < p; j++) vcov[i * p + j] = inverse[i * size + j];
  return vcov;
}

/** Parameters: the coefficients, then theta. */
export function betaBinomialCriterion({ design, columns: p, events, trials, link }: BinomialProblem): Criterion {
  const n = events.length;
  const size = p + 1;
  return {
    size,
    nonNegative: p,
    evaluate(theta, gradient, information) {
      const spread = theta[p];
      gradient?.fill(0);
      information?.fill(0);
      let value = 0;
      for (let i = 0; i < n; i++) {
        let eta = 0;
        for (let j = 0; j < p; j++) eta += design[i * p + j] * theta[j];
        const k = events[i];
        const m = trials[i];
        const share = link.inverse(eta);
        const rest = link.complement(eta);
        for (let j = 0; j < k; j++) value += log(share + j * spread);
        for (let j = 0; j < m - k; j++) value += log(rest + j * spread);
        for (let j = 1; j < m; j++) value -= log1p(j * spread);
        if (gradient === null || information === null) continue;

        let [byShare, bySpread, shareShare, shareSpread, spreadSpread] = [0, 0, 0, 0, 0];
        for (let j = 0; j < k; j++) {
          const u = 1 / (share + j * spread);
          byShare += u;
          bySpread += j * u;
          shareShare -= u * u;
          shareSpread -= j * u * u;
          spreadSpread -= j * j * u * u;
        }
        for (let j = 0; j < m - k; j++) {
          const u = 1 / (rest + j * spread);
          byShare -= u;
          bySpread += j * u;
          shareShare -= u * u;
          shareSpread += j * u * u;
          spreadSpread -= j * j * u * u;
        }
        for (let j = 1; j < m; j++) {
          const u = j / (1 + j * spread);
          bySpread -= u;
          spreadSpread += u * u;
        }
        const slope = link.slope(eta);
        const byEta = byShare * slope;
        const etaEta = shareShare * slope * slope + byShare * link.curvature(eta);
        const etaSpread = shareSpread * slope;
        for (let a = 0; a < p; a++) {
          const xa = design[i * p + a];
          gradient[a] += byEta * xa;
          for (let b = 0; b < p; b++) information[a * size + b] -= etaEta * xa * design[i * p + b];
          information[a * size + p] -= etaSpread * xa;
          information[p * size + a] -= etaSpread * xa;
        }
        gradient[p] += bySpread;
        information[p * size + p] -= spreadSpread;
      }
      return value;
    },
  };
}
