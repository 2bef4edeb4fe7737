import { checkShape, type Shape } from "../core/checkShape.ts";
import type { Economics } from "../core/economics.ts";
import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { bestDensity, type CurveEstimate, type CurveOptimumAnswer, type FlexAnswer } from "./curveAnswers.ts";
import { combinationDof, environmentElements, form } from "./curveInference.ts";
import { basisOf, meanCurveOf, toZ } from "./mixedBasis.ts";
import { answers } from "./mixedOptimum.ts";
import type { MeanCurve, MixedResponseFit } from "./mixedResponse.ts";

export interface YieldGoalOptions {
  /** Yield expected of the field at the reference density, yield units. */
  readonly yieldGoal: number;
  /** Density at which the goal is meant; default: the agronomic optimum of the average curve (an end of the range at most). */
  readonly referenceDensity?: number;
  readonly hybrid?: string;
  readonly prices?: Economics;
  /** Reference densities of the flex score. */
  readonly between?: readonly [number, number];
  /** Densities of the curve in the answer; default: all tested ones. */
  readonly densities?: readonly number[];
  /** Answer outside the yield levels seen; default false. */
  readonly extrapolate?: boolean;
  /** Confidence level, default 0.95. */
  readonly level?: number;
}

/** What `YieldGoalOptions` must look like. */
export const yieldGoalOptionsShape: { readonly [property: string]: Shape } = {
  yieldGoal: "number",
  referenceDensity: "number?",
  hybrid: "text?",
  prices: "object?",
  between: "numbers?",
  densities: "numbers?",
  extrapolate: "flag?",
  level: "number?",
};

/** The response expected in a field of a given yield level. */
export type YieldGoalResponse = YieldGoalAnswer | YieldGoalRefusal;

export interface YieldGoalAnswer {
  readonly kind: "estimated";
  readonly yieldGoal: number;
  readonly referenceDensity: number;
  /** Goal outside the yield levels of the environments seen (only with `extrapolate`). */
  readonly extrapolated: boolean;
  /** Expected levels of the environments seen, lowest and highest. */
  readonly observedLevels: readonly [number, number];
  readonly hybrid: string | null;
  /** Expected yield at each tested density, or at those asked for. */
  readonly curve: readonly { readonly density: number; readonly yield: number; readonly standardError: number }[];
  /** Change of the slope at the reference density per unit of yield level, yield per density unit; null when it does not vary. */
  readonly slopePerYield: number | null;
  readonly agronomic: CurveOptimumAnswer;
  readonly economic: CurveOptimumAnswer | null;
  readonly priceRatio: number | null;
  readonly flex: FlexAnswer | null;
  readonly level: number;
  readonly notes: readonly string[];
}

export interface YieldGoalRefusal {
  readonly kind: "refused";
  readonly yieldGoal: number;
  readonly reason: string;
  readonly observedLevels: readonly [number, number];
}

/** Fewest environments from which the dependence of the response on the yield level is read. */
const FEWEST_ENVIRONMENTS = 5;

/**
 * Curve, optimum and flex score expected in an environment whose yield at a reference density is the yield goal.
 *
 * An environment's coefficients are beta + u, u ~ N(0, G); with a the basis at the reference density its level is
 * a'(beta + u). Given the level, the expected coefficients are
 *
 *     beta + k (goal - a'beta),   k = G a / (a'G a).
 *
 * Their covariance carries that of beta and, by the delta method, of G: (I - k a') V (I - k a')' + (goal - a'beta)^2 Var(k).
 * Goals outside the levels of the environments seen are refused unless `extrapolate` is set.
 *
 * Refused as well when the level does not vary between environments or they are fewer than 5.
 *
 * @throws AnalysisError `invalid-option`
 * @example
 * const fields = ["a", "b", "c", "d", "e", "f"];
 * const rows = fields.flatMap((environment, e) => [18, 24, 30, 36, 42].map((x) => ({ environment, x, best: 27 + e, top: 160 + 12 * e })));
 * const fit = fitMixedResponse({
 *   density: rows.map(({ x }) => x),
 *   yield: rows.map(({ x, best, top }) => top - 0.05 * (x - best) ** 2 + ((7 * x + 11 * best) % 4)),
 *   environment: rows.map(({ environment }) => environment),
 * });
 * responseAtYieldGoal(fit, { yieldGoal: 190 }).kind; // => "estimated"
 *
 * Source: conditional mean of a multivariate normal; Rao (1973), Linear Statistical Inference, 8a.2.
 */
export function responseAtYieldGoal(fit: MixedResponseFit, options: YieldGoalOptions): YieldGoalResponse {
  checkShape(fit, "fit", "standcurve/mixed-response/1");
  checkShape(options, "options", yieldGoalOptionsShape, "invalid-option");
  const { yieldGoal, level = 0.95 } = options;
  check(Number.isFinite(yieldGoal), "invalid-option", `yieldGoal must be a finite number, got ${yieldGoal}`);
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  const basis = basisOf(fit);
  const { curve, referenceDensity, gradient: a, average, levels } = yieldLevels(fit, options);
  const g = fit.environmentCovariance;
  const spread = form(a, g, a);
  const own = levels.map((one) => one.level);
  const observedLevels = [Math.min(...own), Math.max(...own)] as const;
  const outside = yieldGoal < observedLevels[0] || yieldGoal > observedLevels[1];
  const refuse = (reason: string): YieldGoalRefusal => ({ kind: "refused", yieldGoal, reason, observedLevels });
  if (!(spread > 0))
    return refuse("the yield level does not vary between environments beyond the scatter of the plots");
  if (fit.environments.length < FEWEST_ENVIRONMENTS) {
    return refuse(
      `${fit.environments.length} environments are too few to see how the response changes with the yield level (${FEWEST_ENVIRONMENTS} are needed)`,
    );
  }
  if (outside && options.extrapolate !== true) {
    return refuse(
      `the yield goal ${yieldGoal} lies outside the levels of the environments seen, ${observedLevels[0].toFixed(1)} to ${observedLevels[1].toFixed(1)}`,
    );
  }

  const shift = yieldGoal - average;
  const ga = g.map((row) => row.reduce((sum, v, j) => sum + v * a[j], 0));
  const k = ga.map((v) => v / spread);
  const estimate = goalEstimate(fit, curve, a, k, spread, ga, shift);
  const varies = fit.random.length > 1;
  const { scale } = fit.scaling;
  const z0 = toZ(fit.scaling, referenceDensity);
  const notes = [...fit.notes];
  if (!varies)
    notes.push(
      "the shape of the response does not vary between environments beyond the scatter, so the optimum is the same at every yield level",
    );
  if (outside) notes.push("the yield goal lies outside the levels seen: an extrapolation");
  return {
    kind: "estimated",
    yieldGoal,
    referenceDensity,
    extrapolated: outside,
    observedLevels,
    hybrid: curve.hybrid,
    curve: (options.densities ?? fit.densities).map((density) => {
      const c = basis.gradient(toZ(fit.scaling, density), estimate.coefficients);
      return {
        density,
        yield: basis.mean(toZ(fit.scaling, density), estimate.coefficients),
        standardError: Math.sqrt(Math.max(0, form(c, estimate.vcov, c))),
      };
    }),
    slopePerYield: varies
      ? k.reduce((sum, v, power) => sum + (power === 0 ? 0 : power * v * pow(z0, power - 1)), 0) / scale
      : null,
    ...answers(fit, estimate, options, level),
    level,
    notes,
  };
}

/** Expected levels of the environments at a reference density. */
export interface YieldLevels {
  readonly curve: MeanCurve;
  readonly referenceDensity: number;
  /** d level / d coefficients at the reference density, [w]. */
  readonly gradient: readonly number[];
  /** Level of the average environment. */
  readonly average: number;
  readonly levels: readonly { readonly environment: string; readonly level: number }[];
}

/**
 * Expected yield of every environment at the reference density: the average curve plus the environment's predicted deviation.
 *
 * @throws AnalysisError `invalid-option` for a reference density outside the tested range
 */
export function yieldLevels(
  fit: MixedResponseFit,
  options: Pick<YieldGoalOptions, "referenceDensity" | "hybrid"> = {},
): YieldLevels {
  const curve = meanCurveOf(fit, options.hybrid);
  const { coefficients } = curve;
  const referenceDensity = options.referenceDensity ?? bestDensity(fit, curve, 0);
  const [low, high] = fit.densityRange;
  check(
    referenceDensity >= low && referenceDensity <= high,
    "invalid-option",
    `referenceDensity must be inside the tested range ${low} to ${high}, got ${referenceDensity}`,
  );
  const basis = basisOf(fit);
  const z = toZ(fit.scaling, referenceDensity);
  const gradient = basis.gradient(z, coefficients);
  const average = basis.mean(z, coefficients);
  const levels = fit.environments.map(({ environment, modes }) => ({
    environment,
    level: average + modes.reduce((sum, u, i) => sum + gradient[i] * u, 0),
  }));
  return { curve, referenceDensity, gradient, average, levels };
}

/** Expected coefficients at the goal with their covariance. */
function goalEstimate(
  fit: MixedResponseFit,
  curve: MeanCurve,
  a: readonly number[],
  k: readonly number[],
  spread: number,
  ga: readonly number[],
  shift: number,
): CurveEstimate {
  const w = a.length;
  const keep = Array.from({ length: w }, (_, i) =>
    Array.from({ length: w }, (_, j) => (i === j ? 1 : 0) - k[i] * a[j]),
  );
  const vcov = sandwichSmall(keep, curve.vcov);
  // d k / d G_pq = (E a) / s - G a (a'E a) / s^2, E the symmetric unit of the element.
  const elements = environmentElements(fit);
  const slopes = elements.map((pair) => {
    if (pair === null) return null;
    const [p, q] = pair;
    const ea = new Array<number>(w).fill(0);
    ea[p] += a[q];
    if (p !== q) ea[q] += a[p];
    const aea = a.reduce((sum, v, i) => sum + v * ea[i], 0);
    return ea.map((v, i) => v / spread - (ga[i] * aea) / (spread * spread));
  });
  if (fit.componentCovariance !== null) {
    for (let e = 0; e < elements.length; e++) {
      for (let f = 0; f < elements.length; f++) {
        const se = slopes[e];
        const sf = slopes[f];
        if (se === null || sf === null) continue;
        const cov = fit.componentCovariance[e][f] * shift * shift;
        for (let i = 0; i < w; i++) for (let j = 0; j < w; j++) vcov[i][j] += cov * se[i] * sf[j];
      }
    }
  }
  // The regression of shape on level is read from the environments: it cannot have more degrees of freedom than they give.
  const cap = fit.environments.length - 1;
  return {
    coefficients: curve.coefficients.map((b, i) => b + k[i] * shift),
    vcov,
    dof(c) {
      const carried = Array.from({ length: w }, (_, j) => c.reduce((sum, v, i) => sum + v * keep[i][j], 0));
      const own = combinationDof(fit, curve, carried);
      return own === null ? null : fit.random.length > 1 ? Math.min(own, cap) : own;
    },
  };
}

function sandwichSmall(s: readonly (readonly number[])[], v: readonly (readonly number[])[]): number[][] {
  return s.map((row) => s.map((other) => form(row, v, other)));
}

/** One class of environments by yield level, with the response expected there. */
export interface YieldClass {
  readonly label: string;
  readonly environments: readonly string[];
  readonly meanLevel: number;
  readonly response: YieldGoalResponse;
}

/**
 * Table by yield class: environments are ranked by their expected level at the reference density and cut into classes of
 * about equal number; the response is given at each class's mean level.
 *
 * @param classes - number of classes, 2 to 5; default 3
 * @example
 * const fields = ["a", "b", "c", "d", "e", "f"];
 * const rows = fields.flatMap((environment, e) => [18, 24, 30, 36, 42].map((x) => ({ environment, x, best: 27 + e, top: 160 + 12 * e })));
 * const fit = fitMixedResponse({
 *   density: rows.map(({ x }) => x),
 *   yield: rows.map(({ x, best, top }) => top - 0.05 * (x - best) ** 2 + ((7 * x + 11 * best) % 4)),
 *   environment: rows.map(({ environment }) => environment),
 * });
 * responseByYieldClass(fit, { classes: 3 }).map(({ environments }) => environments.length); // => [2, 2, 2]
 */
export function responseByYieldClass(
  fit: MixedResponseFit,
  options: Omit<YieldGoalOptions, "yieldGoal"> & { readonly classes?: number } = {},
): YieldClass[] {
  checkShape(fit, "fit", "standcurve/mixed-response/1");
  checkShape(
    options,
    "options",
    { ...yieldGoalOptionsShape, yieldGoal: "number?", classes: "number?" },
    "invalid-option",
  );
  const { classes = 3 } = options;
  const count = fit.environments.length;
  check(
    Number.isInteger(classes) && classes >= 2 && classes <= 5,
    "invalid-option",
    `classes must be 2 to 5, got ${classes}`,
  );
  check(count >= classes, "not-estimable", `${count} environments cannot be cut into ${classes} classes`);
  const { referenceDensity, levels } = yieldLevels(fit, options);
  const ranked = [...levels].sort((p, q) => p.level - q.level);
  const names = classes === 2 ? ["low", "high"] : classes === 3 ? ["low", "middle", "high"] : null;
  return Array.from({ length: classes }, (_, c) => {
    const own = ranked.slice(Math.floor((c * count) / classes), Math.floor(((c + 1) * count) / classes));
    const meanLevel = own.reduce((sum, { level }) => sum + level, 0) / own.length;
    return {
      label: names === null ? `class ${c + 1} of ${classes}` : names[c],
      environments: own.map(({ environment }) => environment),
      meanLevel,
      response: responseAtYieldGoal(fit, { ...options, yieldGoal: meanLevel, referenceDensity }),
    };
  });
}
