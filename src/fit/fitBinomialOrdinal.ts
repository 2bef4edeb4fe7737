import { exp, expm1, log } from "../core/elementary.ts";
import { type Criterion, inverseSymmetric, type Maximum, maximise } from "../numeric/glm.ts";

/** Ordered categories 0 .. categories - 1 against a linear predictor: logit P(category <= k) = cut_k - eta. */
export interface OrdinalProblem {
  /** Shape [n][p], row by row; no intercept. */
  readonly design: Float64Array;
  readonly columns: number;
  /** Shape [n]; every category must occur. */
  readonly category: Int32Array;
  readonly categories: number;
}

export interface OrdinalSolution {
  readonly status: Maximum["status"];
  /** Cuts, ascending, shape [categories - 1]. */
  readonly cuts: Float64Array;
  /** Shape [p]; above 0 shifts towards higher categories. */
  readonly coef: Float64Array;
  /** From the observed information, cuts first; shape [q][q], q = categories - 1 + p. Null when singular. */
  readonly vcov: Float64Array | null;
  readonly logLikelihood: number;
  readonly iterations: number;
}

/**
 * Cumulative-logit (proportional-odds) regression by Newton's method; the log-likelihood is concave.
 *
 * Source: McCullagh (1980), JRSS B 42(2), 109-142; Pratt (1981), JASA 76, 103-106 (concavity).
 */
export function fitOrdinal(problem: OrdinalProblem): OrdinalSolution {
  const criterion = ordinalCriterion(problem);
  const { category, categories, columns } = problem;
  const start = new Float64Array(categories - 1 + columns);
  const n = category.length;
  for (let k = 0; k < categories - 1; k++) {
    const share = category.filter((c) => c <= k).length / n;
    start[k] = log(share / (1 - share));
  }
  const best = maximise(criterion, start);
  return {
    status: best.status,
    cuts: best.theta.slice(0, categories - 1),
    coef: best.theta.slice(categories - 1),
    vcov: inverseSymmetric(best.information, criterion.size),
    logLikelihood: best.value,
    iterations: best.iterations,
  };
}

const logistic = (t: number): number => (t >= 0 ? 1 / (1 + exp(-t)) : exp(t) / (1 + exp(t)));

/** Parameters: the cuts, then the coefficients. Cuts out of order have no likelihood. */
export function ordinalCriterion({ design, columns: p, category, categories }: OrdinalProblem): Criterion {
  const cuts = categories - 1;
  const size = cuts + p;
  const upper = new Float64Array(size);
  const lower = new Float64Array(size);
  return {
    size,
    evaluate(theta, gradient, information) {
      for (let k = 1; k < cuts; k++) if (!(theta[k] > theta[k - 1])) return -Infinity;
      gradient?.fill(0);
      information?.fill(0);
      let value = 0;
      for (let i = 0; i < category.length; i++) {
        let eta = 0;
        for (let j = 0; j < p; j++) eta += design[i * p + j] * theta[cuts + j];
        const r = category[i];
        const u = r < cuts ? theta[r] - eta : Infinity;
        const v = r > 0 ? theta[r - 1] - eta : -Infinity;
        // F(u) - F(v) = F(u) F(-v) (1 - exp(v - u)), without cancellation.
        const gap = u === Infinity || v === -Infinity ? 1 : -expm1(v - u);
        const share = logistic(u) * logistic(-v) * gap;
        value += log(share);
        if (gradient === null || information === null) continue;
        const fu = u === Infinity ? 0 : logistic(u) * logistic(-u);
        const fv = v === -Infinity ? 0 : logistic(v) * logistic(-v);
        const du = fu / share;
        const dv = -fv / share;
        const duu = (fu * (logistic(-u) - logistic(u))) / share - du * du;
        const dvv = (-fv * (logistic(-v) - logistic(v))) / share - dv * dv;
        const duv = -du * dv;
        upper.fill(0);
        lower.fill(0);
        if (r < cuts) upper[r] = 1;
        if (r > 0) lower[r - 1] = 1;
        for (let j = 0; j < p; j++) {
          upper[cuts + j] = -design[i * p + j];
          lower[cuts + j] = -design[i * p + j];
        }
        for (let a = 0; a < size; a++) {
          gradient[a] += du * upper[a] + dv * lower[a];
          for (let b = 0; b < size; b++) {
            information[a * size + b] -=
              duu * upper[a] * upper[b] + dvv * lower[a] * lower[b] + duv * (upper[a] * lower[b] + lower[a] * upper[b]);
          }
        }
      }
      return value;
    },
  };
}

/**
 * Exact test whether the ordinal estimate is infinite, for one density with a free level per block.
 *
 * It is infinite when some direction (cuts d_k, block levels a_b, slope sign s) has `d_{r-1} <= s x + a_b <= d_r` for every
 * plot: a system of difference constraints, solvable when its graph has no negative cycle; or, with s = 0, when that graph is
 * not strongly connected (a block holding only the best, or only the worst, ratings, say).
 *
 * Source: Albert & Anderson (1984), Biometrika 71(1), 1-10 (the condition); Bellman (1958), Quarterly of Applied Mathematics
 * 16, 87-90 (difference constraints).
 */
export function ordinalSeparation(
  x: ArrayLike<number>,
  category: Int32Array,
  categories: number,
  block: Int32Array,
  blocks: number,
): "density" | "block" | null {
  const cuts = categories - 1;
  const nodes = cuts + blocks;
  const size = Math.max(...Array.from(x, Math.abs), 1e-300);
  // An edge (from, to, w) stands for value[to] <= value[from] + w.
  const edges = (sign: number) => {
    const list: [number, number, number][] = [];
    for (let k = 1; k < cuts; k++) list.push([k, k - 1, 0]);
    for (let i = 0; i < category.length; i++) {
      const level = cuts + block[i];
      if (category[i] < cuts) list.push([category[i], level, -sign * x[i]]);
      if (category[i] > 0) list.push([level, category[i] - 1, sign * x[i]]);
    }
    return list;
  };
  for (const sign of [1, -1]) {
    const value = new Float64Array(nodes);
    const list = edges(sign);
    let changed = true;
    for (let round = 0; round <= nodes && changed; round++) {
      changed = false;
      for (const [from, to, w] of list) {
        if (value[from] + w < value[to] - 1e-12 * size) {
          value[to] = value[from] + w;
          changed = true;
        }
      }
    }
    if (!changed) return "density";
  }
  const reach = (backwards: boolean) => {
    const seen = new Set([0]);
    const list = edges(0);
    for (let grown = true; grown; ) {
      grown = false;
      for (const edge of list) {
        const [from, to] = backwards ? [edge[1], edge[0]] : [edge[0], edge[1]];
        if (seen.has(from) && !seen.has(to)) {
          seen.add(to);
          grown = true;
        }
      }
    }
    return seen.size;
  };
  return reach(false) === nodes && reach(true) === nodes ? null : "block";
}
