import { exp } from "../core/elementary.ts";
import { leastSquares } from "../numeric/leastSquares.ts";
import { levenbergMarquardt, type NonlinearFit } from "../numeric/levenbergMarquardt.ts";
import type { SmoothSearch } from "./smoothFamilies.ts";
import { deviations, type SmoothProblem } from "./smoothProblem.ts";

/** Where a start led to. */
export interface Candidate {
  readonly fit: NonlinearFit;
  readonly theta: readonly number[];
  readonly deviation: readonly number[];
  readonly rss: number;
  readonly vcov: readonly (readonly number[])[] | null;
}

/** From a start to the minimum, curve and block deviations together; null when the end is not a curve of the family. */
export function polish(search: SmoothSearch, problem: SmoothProblem, start: readonly number[]): Candidate | null {
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
    { nearMinimum: search.refined },
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
    const growth = exp(theta[2] * origin);
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
  { x, y, weight, contrasts }: SmoothProblem,
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
  const bend = x.map((_, i) => -exp(-first[2] * shifted[i]));
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
