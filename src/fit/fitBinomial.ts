import { log, square } from "../core/elementary.ts";
import {
  type Criterion,
  factorise,
  inverseSymmetric,
  logDeterminant,
  type MaximiseOptions,
  type Maximum,
  maximise,
  solveFactored,
} from "../numeric/glm.ts";
import type { BinomialLink } from "./fitBinomialLinks.ts";

/** Counts against a linear predictor: eta_i = sum_j design[i][j] theta_j, events_i ~ binomial(trials_i, p(eta_i)). */
export interface BinomialProblem {
  /** Shape [n][p], row by row. */
  readonly design: Float64Array;
  /** p, the number of columns. */
  readonly columns: number;
  /** Shape [n]; 0 <= events <= trials. With shares instead of counts, events is the share and trials is 1. */
  readonly events: Float64Array;
  /** Shape [n], > 0. */
  readonly trials: Float64Array;
  readonly link: BinomialLink;
}

/** A fitted binomial model; arrays in the order of the problem. */
export interface BinomialSolution {
  readonly status: Maximum["status"];
  readonly coef: Float64Array;
  /** Inverse of the expected information, shape [p][p]; multiply by the dispersion. Null when singular. */
  readonly vcov: Float64Array | null;
  /** Fitted probability, shape [n]. */
  readonly fitted: Float64Array;
  readonly deviance: number;
  /** Pearson chi-square. */
  readonly pearson: number;
  /** The criterion at its maximum: log-likelihood without the binomial coefficients, plus the penalty when there is one. */
  readonly value: number;
  readonly iterations: number;
}

/**
 * Binomial regression by Fisher scoring, by maximum likelihood or with the Jeffreys penalty 0.5 ln |X'WX| (Firth's
 * bias-reduced fit for the logit), which stays finite whatever the data.
 *
 * Columns should be of similar size: centre and scale a density before calling.
 *
 * @example
 * const design = Float64Array.of(1, -1, 1, 0, 1, 1);
 * const fit = fitBinomial({ design, columns: 2, events: Float64Array.of(1, 5, 9), trials: Float64Array.of(10, 10, 10), link: binomialLinks.logit });
 * fit.coef[0].toFixed(6); // => "0.000000"
 *
 * Source: McCullagh & Nelder (1989), chapters 2 and 4; Firth (1993), Biometrika 80(1), 27-38; Kosmidis & Firth (2021),
 * Biometrika 108(1), 71-82 (finiteness for other links). Oracle: test/oracle/binomial_share.json.
 */
export function fitBinomial(
  problem: BinomialProblem,
  {
    penalised = false,
    start,
    ...options
  }: MaximiseOptions & { readonly penalised?: boolean; readonly start?: Float64Array } = {},
): BinomialSolution {
  const criterion = binomialCriterion(problem, penalised);
  const maximum = maximise(criterion, start ?? startingValues(problem), options);
  const fitted = fittedProbabilities(problem, maximum.theta);
  return {
    status: maximum.status,
    coef: maximum.theta,
    vcov: inverseSymmetric(maximum.information, problem.columns),
    fitted,
    ...discrepancy(problem, maximum.theta),
    value: maximum.value,
    iterations: maximum.iterations,
  };
}

/** The log-likelihood (binomial coefficients left out), with its score and expected information. */
export function binomialCriterion(
  { design, columns: p, events, trials, link }: BinomialProblem,
  penalised: boolean,
): Criterion {
  const n = events.length;
  const eta = new Float64Array(n);
  const share = new Float64Array(n);
  const slope = new Float64Array(n);
  const weight = new Float64Array(n);
  const factor = new Float64Array(p * p);
  const row = new Float64Array(p);
  const filled = filledCells(design, n, p);
  const { start, column } = filled;
  return {
    size: p,
    evaluate(theta, gradient, information) {
      let value = 0;
      for (let i = 0; i < n; i++) {
        let e = 0;
        for (let a = start[i]; a < start[i + 1]; a++) e += design[i * p + column[a]] * theta[column[a]];
        const up = link.inverse(e);
        const down = up < 0.5 ? 1 - up : link.complement(e);
        const s = link.slopeAt(e, up, down);
        eta[i] = e;
        share[i] = up;
        // Where p or 1 - p underflows the information is nil anyway.
        slope[i] = s > 0 ? s / (up * down) : 0;
        weight[i] = trials[i] * s * slope[i];
        value += logPart(events[i], up) + logPart(trials[i] - events[i], down);
      }
      if (!penalised && gradient === null) return value;
      const target = information ?? factor;
      crossProduct(design, filled, weight, n, p, target);
      if (penalised) {
        if (target !== factor) factor.set(target);
        if (!factorise(factor, p)) return Number.NEGATIVE_INFINITY;
        value += 0.5 * logDeterminant(factor, p);
      }
      if (gradient !== null) {
        gradient.fill(0);
        for (let i = 0; i < n; i++) {
          let score = (events[i] - trials[i] * share[i]) * slope[i];
          if (penalised) {
            for (let j = 0; j < p; j++) row[j] = design[i * p + j];
            solveFactored(factor, p, row);
            let leverage = 0;
            for (let j = 0; j < p; j++) leverage += row[j] * design[i * p + j];
            score += 0.5 * weight[i] * leverage * link.logWeightSlope(eta[i]);
          }
          for (let a = start[i]; a < start[i + 1]; a++) gradient[column[a]] += score * design[i * p + column[a]];
        }
      }
      return value;
    },
  };
}

/** k ln(p), with 0 ln(0) = 0. */
function logPart(k: number, p: number): number {
  return k === 0 ? 0 : k * log(p);
}

/** Columns of each row that are not zero: row i has `column[start[i]]` up to `column[start[i + 1] - 1]`, ascending. */
interface FilledCells {
  readonly start: Int32Array;
  readonly column: Int32Array;
}

/** With a column a block a row has two entries, and work that skips the zeros does not grow with the number of blocks. */
function filledCells(design: Float64Array, n: number, p: number): FilledCells {
  const start = new Int32Array(n + 1);
  const column = new Int32Array(n * p);
  let count = 0;
  for (let i = 0; i < n; i++) {
    for (let j = 0; j < p; j++) if (design[i * p + j] !== 0) column[count++] = j;
    start[i + 1] = count;
  }
  return { start, column };
}

function crossProduct(
  design: Float64Array,
  { start, column }: FilledCells,
  weight: Float64Array,
  n: number,
  p: number,
  out: Float64Array,
): void {
  out.fill(0);
  for (let i = 0; i < n; i++) {
    for (let a = start[i]; a < start[i + 1]; a++) {
      const j = column[a];
      const wx = weight[i] * design[i * p + j];
      for (let b = start[i]; b <= a; b++) out[j * p + column[b]] += wx * design[i * p + column[b]];
    }
  }
  for (let j = 0; j < p; j++) for (let k = 0; k < j; k++) out[k * p + j] = out[j * p + k];
}

/** One weighted least-squares step from the shares pulled a little towards one half. */
export function startingValues({ design, columns: p, events, trials, link }: BinomialProblem): Float64Array {
  const n = events.length;
  const weight = new Float64Array(n);
  const theta = new Float64Array(p);
  for (let i = 0; i < n; i++) {
    const eta = link.link((events[i] + 0.5) / (trials[i] + 1));
    weight[i] = trials[i] * link.slope(eta) * link.scoreFactor(eta);
    for (let j = 0; j < p; j++) theta[j] += weight[i] * eta * design[i * p + j];
  }
  const information = new Float64Array(p * p);
  crossProduct(design, filledCells(design, n, p), weight, n, p, information);
  if (!factorise(information, p)) return theta.fill(0);
  solveFactored(information, p, theta);
  return theta;
}

/** p(eta) at every row. */
export function fittedProbabilities(
  { design, columns: p, events, link }: BinomialProblem,
  theta: Float64Array,
): Float64Array {
  return Float64Array.from(events, (_, i) => link.inverse(linearPredictor(design, p, i, theta)));
}

function linearPredictor(design: Float64Array, p: number, i: number, theta: Float64Array): number {
  let eta = 0;
  for (let j = 0; j < p; j++) eta += design[i * p + j] * theta[j];
  return eta;
}

/** Deviance and Pearson chi-square at `theta`. */
export function discrepancy(
  { design, columns: p, events, trials, link }: BinomialProblem,
  theta: Float64Array,
): { deviance: number; pearson: number } {
  let deviance = 0;
  let pearson = 0;
  for (let i = 0; i < events.length; i++) {
    const eta = linearPredictor(design, p, i, theta);
    const [k, m] = [events[i], trials[i]];
    const [mean, rest] = [m * link.inverse(eta), m * link.complement(eta)];
    deviance += 2 * (logRatio(k, mean) + logRatio(m - k, rest));
    // A fitted share of exactly 0 or 1 (underflow) that the data share adds nothing.
    if (k !== mean) pearson += (square(k - mean) * m) / (mean * rest);
  }
  return { deviance, pearson };
}

function logRatio(observed: number, expected: number): number {
  return observed === 0 ? 0 : observed * log(observed / expected);
}
