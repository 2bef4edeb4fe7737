import { pow, square } from "../core/elementary.ts";
import { AnalysisError } from "../core/errors.ts";
import { environmentElements, form } from "../mixed/curveInference.ts";
import { fitMixedResponse } from "../mixed/fitMixedResponse.ts";
import { basisOf, meanCurveOf, toZ } from "../mixed/mixedBasis.ts";
import type { MixedResponseFit } from "../mixed/mixedResponse.ts";
import { responseAtYieldGoal } from "../mixed/responseAtYieldGoal.ts";
import type { Trial } from "../trial/trial.ts";
import type { GoalCurve } from "./recommendOptions.ts";

/** The curve for a yield goal, or the reason why there is none. */
export type GoalCurves = (hybrid: string, yieldGoal: number) => GoalCurve | { readonly reason: string };

/**
 * Curves at yield goals from a mixed model over environments, for `RecommendOptions.goalCurve`.
 *
 * The curve is that of `responseAtYieldGoal`: beta + k (goal - a'beta); its covariance, here for all coefficients together, is
 * (I - k a') V (I - k a')' + (goal - a'beta)^2 Var(k). Goals outside the levels of the environments seen are refused.
 *
 * @param fit - from `fitMixedResponse`
 * @returns a function of hybrid and yield goal, in the unit of the plots
 * @example
 * const fields = ["a", "b", "c", "d", "e", "f"];
 * const rows = fields.flatMap((environment, e) => [18, 24, 30, 36, 42].map((x) => ({ environment, x, best: 27 + e, top: 160 + 12 * e })));
 * const fit = fitMixedResponse({
 *   density: rows.map(({ x }) => x),
 *   yield: rows.map(({ x, best, top }) => top - 0.05 * (x - best) ** 2 + ((7 * x + 11 * best) % 4)),
 *   environment: rows.map(({ environment }) => environment),
 * });
 * "theta" in goalCurvesFrom(fit)("A", 190); // => true
 */
export function goalCurvesFrom(fit: MixedResponseFit): GoalCurves {
  return (hybrid, yieldGoal) => {
    try {
      const named = fit.curves.some((curve) => curve.hybrid === hybrid) ? { hybrid } : {};
      const answer = responseAtYieldGoal(fit, { yieldGoal, ...named });
      if (answer.kind === "refused") return { reason: answer.reason };
      return {
        yieldGoal,
        ...coefficientsAt(fit, named.hybrid, yieldGoal, answer.referenceDensity),
        notes: answer.notes,
      };
    } catch (error) {
      if (!(error instanceof AnalysisError)) throw error;
      return { reason: error.message };
    }
  };
}

/**
 * The same from a trial: a quadratic with random environments; every goal gets the reason when it cannot be fitted.
 *
 * @returns a function of hybrid and yield goal
 * @example
 * const { trial } = readTrial("hybrid,block,stand_k_ac,yield_bu_ac\nA,1,20,170\nA,1,30,200\nA,2,20,175\nA,2,30,198\n");
 * "reason" in goalCurvesOf(trial)("A", 200); // => true
 */
export function goalCurvesOf(trial: Trial): GoalCurves {
  try {
    return goalCurvesFrom(fitMixedResponse(trial, { curve: "quadratic" }));
  } catch (error) {
    if (!(error instanceof AnalysisError)) throw error;
    return () => ({ reason: error.message });
  }
}

function coefficientsAt(
  fit: MixedResponseFit,
  hybrid: string | undefined,
  yieldGoal: number,
  reference: number,
): Pick<GoalCurve, "family" | "theta" | "vcov" | "dof"> {
  const curve = meanCurveOf(fit, hybrid);
  const b = curve.coefficients;
  const w = b.length;
  const basis = basisOf(fit);
  const z = toZ(fit.scaling, reference);
  const a = basis.gradient(z, b);
  const g = fit.environmentCovariance;
  const spread = form(a, g, a);
  const ga = g.map((row) => dot(row, a));
  const k = ga.map((value) => value / spread);
  const shift = yieldGoal - basis.mean(z, b);
  const keep = Array.from({ length: w }, (_, i) => a.map((value, j) => (i === j ? 1 : 0) - k[i] * value));
  const vcov = keep.map((row) => keep.map((other) => form(row, curve.vcov, other)));
  // Var(k) by the delta method over the elements of G: dk = (E a) / s - G a (a'E a) / s^2.
  const slopes = environmentElements(fit).map((pair) => {
    if (pair === null) return null;
    const ea = new Array<number>(w).fill(0);
    ea[pair[0]] += a[pair[1]];
    if (pair[0] !== pair[1]) ea[pair[1]] += a[pair[0]];
    const aea = dot(a, ea);
    return ea.map((value, i) => value / spread - (ga[i] * aea) / (spread * spread));
  });
  fit.componentCovariance?.forEach((row, e) => {
    row.forEach((covariance, f) => {
      const [se, sf] = [slopes[e], slopes[f]];
      if (se === null || sf === null) return;
      for (let i = 0; i < w; i++) for (let j = 0; j < w; j++) vcov[i][j] += covariance * shift * shift * se[i] * sf[j];
    });
  });
  return {
    ...inDensities(
      fit,
      b.map((value, i) => value + k[i] * shift),
      vcov,
    ),
    dof: Math.max(1, fit.environments.length - 1),
  };
}

/** From z = (density - centre) / scale to the curve's own coefficients in density units. */
function inDensities(
  { curve, scaling: { centre, scale }, join }: MixedResponseFit,
  b: readonly number[],
  vcov: readonly (readonly number[])[],
): Pick<GoalCurve, "family" | "theta" | "vcov"> {
  if (curve === "linear" || curve === "quadratic") {
    const rows = [
      [1, 0 - centre / scale, square(centre / scale)],
      [0, 1 / scale, (-2 * centre) / (scale * scale)],
      [0, 0, 1 / (scale * scale)],
    ].slice(0, b.length);
    const map = rows.map((row) => row.slice(0, b.length));
    return {
      family: curve,
      theta: map.map((row) => dot(row, b)),
      vcov: map.map((r) => map.map((q) => form(r, vcov, q))),
    };
  }
  const power = curve === "quadratic-plateau" ? 2 : 1;
  // A join without an error of its own is a constant of the fit.
  const free = b.length > 2;
  const factor = [1, pow(scale, -power), scale];
  return {
    family: curve,
    theta: [b[0], b[1] * factor[1], free ? centre + scale * b[2] : (join ?? centre)],
    vcov: factor.map((p, i) => factor.map((q, j) => (i < b.length && j < b.length ? p * q * vcov[i][j] : 0))),
  };
}

function dot(x: readonly number[], y: readonly number[]): number {
  return x.reduce((sum, value, i) => sum + value * y[i], 0);
}
