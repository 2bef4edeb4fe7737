import { leastSquares } from "../numeric/leastSquares.ts";
import type { SmoothFit } from "./fitSmoothCurve.ts";
import { deviations, type SmoothProblem } from "./smoothProblem.ts";

/** The best of Mitscherlich's limits: straight line (c -> 0), step after the lowest density (c -> infinity), flat (b -> 0). */
export function mitscherlichLimit(
  { x, y, weight, contrasts }: SmoothProblem,
  rising: boolean,
): Pick<SmoothFit, "limit" | "reason" | "direction" | "curve" | "blockDeviation" | "rss"> & { readonly rss: number } {
  const levels = Float64Array.from(new Set(x)).sort();
  const ones = x.map(() => 1);
  const above = x.map((v) => (v > levels[0] ? 1 : 0));
  const solve = (columns: readonly Float64Array[]) => leastSquares([ones, ...columns, ...contrasts], y, { weight });
  const [flat, line, step] = [solve([]), solve([x]), solve([above])];
  const wanted = (slope: number): boolean => (rising ? slope > 0 : slope !== 0);
  // A line or step that gains nothing is a flat curve.
  const gains = (rss: number): boolean => rss < flat.rss * (1 - 1e-12);
  const lineCounts = wanted(line.coef[1]) && gains(line.rss);
  const stepCounts = wanted(step.coef[1]) && gains(step.rss);
  const direction = (slope: number): "rising" | "falling" => (slope > 0 ? "rising" : "falling");
  if (lineCounts && !(stepCounts && step.rss < line.rss)) {
    return {
      limit: "straight-line",
      reason: "the response shows no bend towards an asymptote: the best fit is the straight line, a rate of zero",
      direction: direction(line.coef[1]),
      curve: { family: "linear", theta: [line.coef[0], line.coef[1]] },
      blockDeviation: deviations(line.coef.subarray(2)),
      rss: line.rss,
    };
  }
  if (stepCounts) {
    const [level, jump] = step.coef;
    return {
      limit: "step",
      reason: "only the lowest density differs from the rest: the best fit is a step, an infinite rate",
      direction: direction(jump),
      // the same values at every tested density; drawn as a straight rise between the two lowest
      curve: { family: "linear-plateau", theta: [level + jump, jump / (levels[1] - levels[0]), levels[1]] },
      blockDeviation: deviations(step.coef.subarray(2)),
      rss: step.rss,
    };
  }
  return {
    limit: "flat",
    reason: rising ? "no rise to an asymptote fits better than a flat line" : "no bend fits better than a flat line",
    direction: null,
    curve: { family: "flat", theta: [flat.coef[0]] },
    blockDeviation: deviations(flat.coef.subarray(1)),
    rss: flat.rss,
  };
}
