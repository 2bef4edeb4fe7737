import { checkShape } from "../core/checkShape.ts";
import { pow, square } from "../core/elementary.ts";
import { AnalysisError } from "../core/errors.ts";
import { environmentElements, form } from "../mixed/curveInference.ts";
import { fitMixedResponse } from "../mixed/fitMixedResponse.ts";
import { basisOf, meanCurveOf, toZ } from "../mixed/mixedBasis.ts";
import type { MixedResponseFit } from "../mixed/mixedResponse.ts";
import { responseAtYieldGoal, type YieldGoalAnswer } from "../mixed/responseAtYieldGoal.ts";
import type { Trial } from "../trial/trial.ts";
import type { GoalCurve } from "./recommendOptions.ts";

/** The curve for a yield goal, or the reason why there is none. */
export type GoalCurves = (hybrid: string, yieldGoal: number) => GoalCurve | { readonly reason: string };

/**
 * The curves of one hybrid at all yield goals, as plain data in density units: coefficients theta + step (goal - level), covariance
 * vcov + (goal - level)^2 stepVcov.
 */
export interface GoalLine {
  readonly family: GoalCurve["family"];
  /** Expected yield of the average environment at the reference density. */
  readonly level: number;
  readonly theta: readonly number[];
  /** Change of the coefficients with one more unit of yield level. */
  readonly step: readonly number[];
  readonly vcov: readonly (readonly number[])[];
  readonly stepVcov: readonly (readonly number[])[];
  /** Degrees of freedom of the t distribution of the coefficients. */
  readonly dof: number;
  /** Expected levels of the environments seen, lowest and highest: goals outside are refused. */
  readonly observedLevels: readonly [number, number];
  readonly notes: readonly string[];
}

/**
 * Curves at yield goals from a mixed model over environments, for `RecommendOptions.goalCurve`.
 *
 * The curve is that of `responseAtYieldGoal`: beta + k (goal - a'beta); its covariance, here for all coefficients together, is
 * (I - k a') V (I - k a')' + (goal - a'beta)^2 Var(k), a line and a parabola in the goal (`GoalLine`). Goals outside the levels of the environments seen are refused.
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
  checkShape(fit, "fit", "standcurve/mixed-response/1");
  const lines = new Map<string, GoalLine | { readonly reason: string }>();
  return (hybrid, yieldGoal) => {
    const line = lines.get(hybrid) ?? goalLineFrom(fit, hybrid);
    lines.set(hybrid, line);
    return "reason" in line ? line : goalCurveAt(line, yieldGoal);
  };
}

/** The curve of a line at one yield goal, or why that goal is refused. */
export function goalCurveAt(line: GoalLine, yieldGoal: number): GoalCurve | { readonly reason: string } {
  const { family, level, theta, step, vcov, stepVcov, dof, observedLevels, notes } = line;
  const [low, high] = observedLevels;
  if (!(yieldGoal >= low && yieldGoal <= high))
    return {
      reason: `the yield goal ${yieldGoal} lies outside the levels of the environments seen, ${low.toFixed(1)} to ${high.toFixed(1)}`,
    };
  const shift = yieldGoal - level;
  return {
    yieldGoal,
    family,
    theta: theta.map((value, i) => value + step[i] * shift),
    vcov: vcov.map((row, i) => row.map((value, j) => value + shift * shift * stepVcov[i][j])),
    dof,
    notes,
  };
}

/**
 * The line of a fit for one hybrid (any name when the fit has one curve for all), or why there is none: too few environments, or
 * levels that do not vary.
 */
export function goalLineFrom(fit: MixedResponseFit, hybrid: string): GoalLine | { readonly reason: string } {
  try {
    const named = fit.curves.some((curve) => curve.hybrid === hybrid) ? { hybrid } : {};
    const asked = { ...named, extrapolate: true };
    const first = responseAtYieldGoal(fit, { ...asked, yieldGoal: 0 });
    if (first.kind === "refused") return { reason: first.reason };
    const curve = meanCurveOf(fit, named.hybrid);
    const level = basisOf(fit).mean(toZ(fit.scaling, first.referenceDensity), curve.coefficients);
    const { notes } = responseAtYieldGoal(fit, { ...asked, yieldGoal: level }) as YieldGoalAnswer;
    const { observedLevels, referenceDensity } = first;
    return { level, ...lineAt(fit, named.hybrid, referenceDensity), observedLevels, notes };
  } catch (error) {
    if (!(error instanceof AnalysisError)) throw error;
    return { reason: error.message };
  }
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
  checkShape(trial, "trial", "standcurve/trial/1");
  try {
    return goalCurvesFrom(fitMixedResponse(trial, { curve: "quadratic" }));
  } catch (error) {
    if (!(error instanceof AnalysisError)) throw error;
    return () => ({ reason: error.message });
  }
}

function lineAt(
  fit: MixedResponseFit,
  hybrid: string | undefined,
  reference: number,
): Pick<GoalLine, "family" | "theta" | "step" | "vcov" | "stepVcov" | "dof"> {
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
  const stepVcov = keep.map((row) => row.map(() => 0));
  fit.componentCovariance?.forEach((row, e) => {
    row.forEach((covariance, f) => {
      const [se, sf] = [slopes[e], slopes[f]];
      if (se === null || sf === null) return;
      for (let i = 0; i < w; i++) for (let j = 0; j < w; j++) stepVcov[i][j] += covariance * se[i] * sf[j];
    });
  });
  const { family, theta, vcov: own } = inDensities(fit, b, vcov);
  return {
    family,
    theta,
    // The way back to density units is affine, so a step is the difference of two curves.
    step: inDensities(
      fit,
      b.map((value, i) => value + k[i]),
      vcov,
    ).theta.map((value, i) => value - theta[i]),
    vcov: own,
    stepVcov: inDensities(fit, b, stepVcov).vcov,
    dof: Math.max(1, fit.environments.length - 1),
  };
}

/** From z = (density - centre) / scale to the curve's own coefficients in density units. */
function inDensities(
  { curve, scaling: { centre, scale }, join }: MixedResponseFit,
  b: readonly number[],
  vcov: readonly (readonly number[])[],
): Pick<GoalLine, "family" | "theta" | "vcov"> {
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
