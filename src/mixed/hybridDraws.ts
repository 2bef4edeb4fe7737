import { square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { streamRandom } from "../core/random.ts";
import { factorCholesky } from "../numeric/cholesky.ts";
import { combinationDof } from "./curveInference.ts";
import { toZ } from "./mixedBasis.ts";
import type { MixedResponseFit } from "./mixedResponse.ts";
import type { SmallSample } from "./smallSample.ts";
import type { MixedSolution } from "./solveMixedResponse.ts";

/** Coefficients of all curves one after the other on the z scale, with their joint covariance. */
export function stacked(
  fit: MixedResponseFit,
  solution: MixedSolution,
  small: SmallSample,
): { mean: Float64Array; vcov: Float64Array; width: number } {
  const width = fit.curves[0].coefficients.length;
  // With a curve per hybrid the fixed columns are the curves' coefficients in order.
  return { mean: solution.model.coefficients, vcov: small.vcov, width };
}

/** Draws of all curves: how often each hybrid is best, its rank, and the optima. */
export function drawRanks(
  fit: MixedResponseFit,
  solution: MixedSolution,
  small: SmallSample,
  ratio: number,
  draws: number,
  seed: number,
): { best: Float64Array; rankSum: Float64Array; optima: Float64Array[] } {
  const { mean, vcov, width } = stacked(fit, solution, small);
  const p = mean.length;
  const factor = vcov.slice();
  check(factorCholesky(factor, p), "not-estimable", "the curves of the hybrids cannot be told apart");
  const random = streamRandom(seed, 0);
  const hybrids = fit.curves.length;
  const best = new Float64Array(hybrids);
  const rankSum = new Float64Array(hybrids);
  const optima = Array.from({ length: hybrids }, () => new Float64Array(draws));
  const [low, high] = fit.densityRange.map((x) => toZ(fit.scaling, x));
  const r = ratio * fit.scaling.scale;
  const dof = Math.max(2, Math.round(slowest(fit)));
  const noise = new Float64Array(p);
  const value = new Float64Array(hybrids);
  for (let d = 0; d < draws; d++) {
    for (let i = 0; i < p; i++) noise[i] = random.normal();
    let chi = 0;
    const many = dof > 200;
    for (let i = 0; i < (many ? 0 : dof); i++) chi += square(random.normal());
    const stretch = many ? 1 : Math.sqrt(dof / chi);
    for (let h = 0; h < hybrids; h++) {
      const b = [0, 0, 0];
      for (let c = 0; c < width; c++) {
        const row = h * width + c;
        let sum = 0;
        for (let j = 0; j <= row; j++) sum += factor[row * p + j] * noise[j];
        b[c] = mean[row] + stretch * sum;
      }
      const inside = b[2] < 0 ? Math.min(high, Math.max(low, (r - b[1]) / (2 * b[2]))) : null;
      const at = (z: number): number => b[0] + b[1] * z + b[2] * z * z - r * z;
      let z = at(high) > at(low) ? high : low;
      if (inside !== null && at(inside) > at(z)) z = inside;
      optima[h][d] = z * fit.scaling.scale + fit.scaling.centre;
      value[h] = at(z);
    }
    let top = 0;
    for (let h = 1; h < hybrids; h++) if (value[h] > value[top]) top = h;
    best[top]++;
    for (let h = 0; h < hybrids; h++) {
      let rank = 1;
      for (let o = 0; o < hybrids; o++) if (value[o] > value[h]) rank++;
      rankSum[h] += rank;
    }
  }
  return { best, rankSum, optima };
}

/** Fewest degrees of freedom among the hybrids' levels at the centre of the range. */
function slowest(fit: MixedResponseFit): number {
  let least = Number.POSITIVE_INFINITY;
  for (const curve of fit.curves) {
    const dof = combinationDof(
      fit,
      curve,
      curve.coefficients.map((_, i) => (i === 0 ? 1 : 0)),
    );
    least = Math.min(least, dof ?? fit.environments.length - 1);
  }
  return least;
}

/** Percentile interval of a difference of optima over the draws; open at an end reached only with an optimum at the range's edge. */
export function drawInterval(
  a: Float64Array,
  b: Float64Array,
  level: number,
  [low, high]: readonly [number, number],
): Interval {
  const order = Array.from(a, (v, i) => ({
    gap: v - b[i],
    edgeUp: v >= high || b[i] <= low,
    edgeDown: v <= low || b[i] >= high,
  }));
  order.sort((p, q) => p.gap - q.gap);
  const tail = (1 - level) / 2;
  const first = order[Math.floor(tail * (order.length - 1))];
  const last = order[Math.ceil((1 - tail) * (order.length - 1))];
  return {
    lower: first.edgeDown ? null : first.gap,
    upper: last.edgeUp ? null : last.gap,
    lowerOpen: first.edgeDown,
    upperOpen: last.edgeUp,
    level,
    method: "parametric-draws",
  };
}
