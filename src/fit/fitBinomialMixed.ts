import { exp, log, square } from "../core/elementary.ts";
import { normalQuadrature } from "../numeric/gaussHermite.ts";
import { type Criterion, inverseSymmetric, type Maximum, maximise } from "../numeric/glm.ts";
import { type BinomialProblem, fitBinomial } from "./fitBinomial.ts";

/** Binomial regression with a normal random level per group: eta_i = x_i' beta + sd u_group(i). */
export interface BinomialMixedSolution {
  readonly status: Maximum["status"];
  readonly coef: Float64Array;
  /** Standard deviation of the group levels, link scale; 0 when the groups differ no more than chance. */
  readonly sd: number;
  /** Of coefficients and (when sd > 0) ln sd, shape [q][q]; null when singular. */
  readonly vcov: Float64Array | null;
  /** Marginal log-likelihood without the binomial coefficients. */
  readonly value: number;
  /** Posterior mean level of every group, link scale. */
  readonly levels: Float64Array;
  readonly iterations: number;
}

/**
 * Maximum likelihood by adaptive Gauss-Hermite quadrature: for every group the nodes are centred at the mode of its level and
 * scaled by the curvature there.
 *
 * Gradient and information are posterior moments of the complete-data score (Fisher and Louis identities), taken with the
 * same nodes. A standard deviation of 0 is always a stationary point, so the bound is judged by the likelihood itself: when no
 * positive value beats it, 0 is the answer.
 *
 * @param group - index of each row's group, 0 .. groups - 1
 * @param points - nodes per group; 1 is Laplace's approximation
 *
 * Source: Pinheiro & Bates (1995), Journal of Computational and Graphical Statistics 4(1), 12-35; Louis (1982), JRSS B 44,
 * 226-233. Oracle: test/oracle/lodging/extra.json (numerical integration, and lme4).
 */
export function fitBinomialMixed(
  problem: BinomialProblem,
  group: Int32Array,
  groups: number,
  points = 25,
): BinomialMixedSolution {
  const p = problem.columns;
  const fixed = fitBinomial(problem);
  const none = {
    coef: fixed.coef,
    sd: 0,
    vcov: fixed.vcov,
    value: fixed.value,
    levels: new Float64Array(groups),
    iterations: fixed.iterations,
  };
  if (fixed.status !== "converged") return { ...none, status: fixed.status };
  const marginal = marginalLikelihood(problem, group, groups, points);
  let best: Maximum | null = null;
  for (const start of [0.3, 1]) {
    const found = maximise(marginal.criterion, Float64Array.from([...fixed.coef, log(start)]));
    if (found.status === "converged" && exp(found.theta[p]) > 1e-4 && (best === null || found.value > best.value))
      best = found;
  }
  if (best === null || best.value <= fixed.value + 1e-9) return { ...none, status: "converged" };
  return {
    status: best.status,
    coef: best.theta.slice(0, p),
    sd: exp(best.theta[p]),
    vcov: inverseSymmetric(best.information, p + 1),
    value: best.value,
    levels: marginal.levels(best.theta),
    iterations: best.iterations,
  };
}

function marginalLikelihood(
  { design, columns: p, events, trials, link }: BinomialProblem,
  group: Int32Array,
  groups: number,
  points: number,
): { criterion: Criterion; levels(theta: Float64Array): Float64Array } {
  const n = events.length;
  const { nodes, weights } = normalQuadrature(points);
  const rows = Array.from({ length: groups }, (_, g) =>
    Array.from({ length: n }, (_, i) => i).filter((i) => group[i] === g),
  );
  const modes = new Float64Array(groups);
  const base = new Float64Array(n);
  const q = p + 1;
  const score = new Float64Array(q);
  const mean = new Float64Array(q);
  const square = new Float64Array(q * q);

  const conditional = (g: number, sd: number, u: number): number => {
    let value = -0.5 * u * u;
    for (const i of rows[g]) {
      const eta = base[i] + sd * u;
      if (events[i] > 0) value += events[i] * log(link.inverse(eta));
      if (events[i] < trials[i]) value += (trials[i] - events[i]) * log(link.complement(eta));
    }
    return value;
  };
  /** Mode of the standard level u of a group and the curvature there. */
  const mode = (g: number, sd: number): { u: number; curvature: number } => {
    let u = modes[g];
    let curvature = 1;
    let value = conditional(g, sd, u);
    for (let step = 0; step < 100; step++) {
      let slope = -u;
      curvature = 1;
      for (const i of rows[g]) {
        const eta = base[i] + sd * u;
        const factor = link.scoreFactor(eta);
        slope += sd * (events[i] - trials[i] * link.inverse(eta)) * factor;
        curvature += sd * sd * trials[i] * link.slope(eta) * factor;
      }
      let move = slope / curvature;
      let next = conditional(g, sd, u + move);
      while (next < value - 1e-12 * Math.abs(value) && Math.abs(move) > 1e-12) {
        move /= 2;
        next = conditional(g, sd, u + move);
      }
      u += move;
      value = next;
      if (Math.abs(move) < 1e-12) break;
    }
    modes[g] = u;
    return { u, curvature };
  };

  const setBase = (theta: Float64Array) => {
    for (let i = 0; i < n; i++) {
      base[i] = 0;
      for (let j = 0; j < p; j++) base[i] += design[i * p + j] * theta[j];
    }
  };
  /** Visits the nodes of a group with their posterior weights; returns the log of the integral. */
  const integrate = (g: number, sd: number, visit: ((u: number, weight: number) => void) | null): number => {
    const { u: centre, curvature } = mode(g, sd);
    const scale = 1 / Math.sqrt(curvature);
    const logs = Float64Array.from(nodes, (t) => conditional(g, sd, centre + scale * t) + 0.5 * t * t);
    const top = Math.max(...logs);
    let total = 0;
    for (let k = 0; k < points; k++) total += weights[k] * exp(logs[k] - top);
    if (visit)
      for (let k = 0; k < points; k++) visit(centre + scale * nodes[k], (weights[k] * exp(logs[k] - top)) / total);
    return top + log(total) + log(scale);
  };

  return {
    criterion: {
      size: q,
      evaluate(theta, gradient, information) {
        const sd = exp(theta[p]);
        if (!(sd < 100)) return Number.NEGATIVE_INFINITY;
        setBase(theta);
        gradient?.fill(0);
        information?.fill(0);
        let value = 0;
        for (let g = 0; g < groups; g++) {
          mean.fill(0);
          square.fill(0);
          const visit = (u: number, weight: number) => {
            score.fill(0);
            let total = 0;
            for (const i of rows[g]) {
              const eta = base[i] + sd * u;
              const factor = link.scoreFactor(eta);
              const residual = (events[i] - trials[i] * link.inverse(eta)) * factor;
              total += residual;
              const bend = observedBend(events[i], trials[i], eta, link);
              for (let a = 0; a < p; a++) {
                const xa = design[i * p + a];
                score[a] += residual * xa;
                for (let b = 0; b <= a; b++) square[a * q + b] -= weight * bend * xa * design[i * p + b];
                square[p * q + a] -= weight * bend * xa * sd * u;
              }
              square[p * q + p] -= weight * bend * (sd * u) * (sd * u);
            }
            // d eta / d ln sd = sd u, and so is its second derivative.
            score[p] = total * sd * u;
            square[p * q + p] += weight * total * sd * u;
            for (let a = 0; a < q; a++) {
              mean[a] += weight * score[a];
              for (let b = 0; b <= a; b++) square[a * q + b] += weight * score[a] * score[b];
            }
          };
          value += integrate(g, sd, gradient === null ? null : visit);
          if (gradient === null || information === null) continue;
          for (let a = 0; a < q; a++) {
            gradient[a] += mean[a];
            for (let b = 0; b <= a; b++) information[a * q + b] -= square[a * q + b] - mean[a] * mean[b];
          }
        }
        if (information)
          for (let a = 0; a < q; a++) for (let b = 0; b < a; b++) information[b * q + a] = information[a * q + b];
        return value;
      },
    },
    levels(theta) {
      const sd = exp(theta[p]);
      setBase(theta);
      return Float64Array.from({ length: groups }, (_, g) => {
        let sum = 0;
        integrate(g, sd, (u, weight) => {
          sum += weight * sd * u;
        });
        return sum;
      });
    },
  };
}

/** Minus the second derivative of one plot's log-likelihood by eta. */
function observedBend(
  k: number,
  m: number,
  eta: number,
  { inverse, complement, slope, curvature }: BinomialProblem["link"],
): number {
  const [p, q, d, c] = [inverse(eta), complement(eta), slope(eta), curvature(eta)];
  // l = k ln p + (m - k) ln q; l'' = k (c / p - (d / p)^2) - (m - k) (c / q + (d / q)^2)
  const up = k > 0 ? k * (c / p - square(d / p)) : 0;
  const down = k < m ? (m - k) * (c / q + square(d / q)) : 0;
  return down - up;
}
