import { checkShape, type Shape } from "../core/checkShape.ts";
import { type Economics, economicsShape, priceRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { type FittedCurve, fittedCurve } from "../fit/fittedCurve.ts";
import { type NearBest, nearBest } from "./nearBest.ts";

/**
 * Where an optimum lies. `interior`: inside the tested range. `lower-edge`, `upper-edge`: at the lowest or highest tested
 * density; the curve's own optimum is there or beyond it. `none`: the curve does not respond to density.
 */
export type OptimumKind = "interior" | "lower-edge" | "upper-edge" | "none";

/** An optimum density of one fitted curve; nothing is extrapolated. */
export interface Optimum {
  readonly kind: OptimumKind;
  /** Best tested density; null when `kind` is `none`. */
  readonly density: number | null;
  /** Yield on the curve there (the level of the curve when `kind` is `none`). */
  readonly yield: number;
  /** Densities nearly as good; null when `kind` is `none` (all are). */
  readonly nearBest: NearBest | null;
  /** Where the curve's own vertex or join lies when that is outside the tested range; for information, never advice. */
  readonly outside: number | null;
  /** What a reader should know about this optimum, in words; null when nothing. */
  readonly note: string | null;
  /** Loss against the optimum at `step` below and above it, in yield units; null where that leaves the range. */
  readonly costOfMissing: CostOfMissing | null;
}

export interface CostOfMissing {
  readonly step: number;
  readonly below: number | null;
  readonly above: number | null;
}

export interface AgronomicOptions {
  /** Share of the best yield that counts as nearly as good; default 0.01. */
  readonly nearBestShare?: number;
  /** Size of a miss, density units, for `costOfMissing`; default: not computed. */
  readonly step?: number;
}

/** What `AgronomicOptions` must look like. */
export const agronomicOptionsShape: { readonly [property: string]: Shape } = {
  nearBestShare: "number?",
  step: "number?",
};

/**
 * Density that maximises the fitted yield inside the tested range: the smallest one when several do.
 *
 * @param fit - a converged fit
 * @returns a tagged optimum; `none` for a curve without response
 * @throws AnalysisError `not-estimable` when the fit did not succeed
 * @throws AnalysisError `invalid-option` when `nearBestShare` is not in [0, 1)
 * @example
 * const fit = fitCurve("quadratic", { density: [20, 25, 30, 35, 40], yield: [150, 175, 190, 195, 190] });
 * agronomicOptimum(fit).kind; // => "interior"
 */
export function agronomicOptimum(fit: CurveFit, options: AgronomicOptions = {}): Optimum {
  checkShape(fit, "fit", "standcurve/curve-fit/1");
  checkShape(options, "options", agronomicOptionsShape, "invalid-option");
  const { nearBestShare = 0.01, step } = options;
  check(
    nearBestShare >= 0 && nearBestShare < 1,
    "invalid-option",
    `nearBestShare must be in [0, 1), got ${nearBestShare}`,
  );
  const curve = fittedCurve(fit);
  return locate(fit, curve, 0, (best) => Math.abs(best) * nearBestShare, step);
}

export interface EconomicOptions extends Economics {
  /** Money per area that counts as nearly as good; default 1. */
  readonly nearBestLoss?: number;
  readonly step?: number;
}

/** What `EconomicOptions` must look like. */
export const economicOptionsShape: { readonly [property: string]: Shape } = {
  ...economicsShape,
  nearBestLoss: "number?",
  step: "number?",
};

/** An economic optimum; `nearBest` and `costOfMissing` are in money per area. */
export interface EconomicOptimum extends Optimum {
  /** Yield that pays for one more plant: seed cost per stand unit / net grain price. */
  readonly priceRatio: number;
  /** Density / establishment: the rate to set, when densities are stands; null when `kind` is `none`. */
  readonly seedingRate: number | null;
  /** Net price x yield - seed cost x rate, money per area, at `density`. */
  readonly return: number;
}

/**
 * Density that maximises net price x Y - seed cost x rate inside the tested range.
 *
 * A curve without response gives `lower-edge` as soon as seed costs anything: fewer seeds cost less and lose nothing.
 *
 * @throws AnalysisError `not-estimable` when the fit did not succeed
 * @throws AnalysisError `invalid-option` when a price or the establishment is out of bounds
 * @example
 * const fit = fitCurve("quadratic", { density: [20, 25, 30, 35, 40], yield: [150, 175, 190, 195, 190] });
 * economicOptimum(fit, { grainPrice: 4.5, seedCost: 3.75 }).kind; // => "interior"
 *
 * Source: dY/dx = price ratio, as in Carmer & Jackobs (1965), Agronomy Journal 57, 241-244.
 */
export function economicOptimum(fit: CurveFit, options: EconomicOptions): EconomicOptimum {
  checkShape(fit, "fit", "standcurve/curve-fit/1");
  checkShape(options, "options", economicOptionsShape, "invalid-option");
  const { nearBestLoss = 1, step, establishment = 1, yieldCost = 0 } = options;
  check(nearBestLoss >= 0, "invalid-option", `nearBestLoss must be >= 0, got ${nearBestLoss}`);
  const r = priceRatio(options);
  const net = options.grainPrice - yieldCost;
  const optimum = locate(fit, fittedCurve(fit), r, () => nearBestLoss / net, step);
  const money = (yieldUnits: number): number => yieldUnits * net;
  const cost = optimum.costOfMissing;
  return {
    ...optimum,
    nearBest: optimum.nearBest && { ...optimum.nearBest, loss: nearBestLoss },
    costOfMissing: cost && {
      step: cost.step,
      below: cost.below === null ? null : money(cost.below),
      above: cost.above === null ? null : money(cost.above),
    },
    priceRatio: r,
    seedingRate: optimum.density === null ? null : optimum.density / establishment,
    return: net * (optimum.yield - r * (optimum.density ?? fit.range[0])),
  };
}

/** Optimum of Y(x) - r x in yield units. */
function locate(
  fit: CurveFit,
  curve: FittedCurve,
  r: number,
  lossOf: (best: number) => number,
  step: number | undefined,
): Optimum {
  const [low, high] = fit.range;
  const responds = fit.curve?.family !== "flat";
  if (!responds && r === 0) {
    return {
      kind: "none",
      density: null,
      yield: curve.mean(low),
      nearBest: null,
      outside: null,
      note: "yield does not respond to density on this curve",
      costOfMissing: null,
    };
  }
  const { kind, density } = curve.optimum(low, high, r);
  const value = (x: number): number => curve.mean(x) - r * x;
  const best = value(density);
  const corner = ownOptimum(fit, r);
  const loss = lossOf(curve.mean(density));
  const miss = (x: number): number | null => (x < low || x > high ? null : best - value(x));
  return {
    kind,
    density,
    yield: curve.mean(density),
    nearBest: nearBest(value, best, loss, fit.range, corner === null ? [density] : [density, corner]),
    outside: kind !== "interior" && corner !== null && (corner < low || corner > high) ? corner : null,
    note: describe(fit, kind, corner, r),
    costOfMissing: step === undefined ? null : { step, below: miss(density - step), above: miss(density + step) },
  };
}

/** The curve's own turning point or join at price ratio r, wherever it lies; null when it has none. */
function ownOptimum(fit: CurveFit, r: number): number | null {
  if (fit.curve === null) return null;
  const { family, theta } = fit.curve;
  if (family === "quadratic") return theta[2] === 0 ? null : (r - theta[1]) / (2 * theta[2]);
  if (family === "linear-plateau") return theta[2];
  if (family === "quadratic-plateau") return theta[1] > 0 ? theta[2] - r / (2 * theta[1]) : null;
  return null;
}

function describe(fit: CurveFit, kind: OptimumKind, corner: number | null, r: number): string | null {
  if (fit.curve?.family === "flat")
    return "yield does not respond to density on this curve; fewer seeds only cost less";
  if (fit.limit === "join-not-identified" && kind === "interior") {
    return "only the lowest density lies below the plateau: the optimum is anywhere between the two lowest densities, the higher is given";
  }
  if (fit.curve?.family === "quadratic" && fit.curve.theta[2] > 0)
    return "the fitted parabola bends upwards; its vertex is a minimum";
  if (kind === "lower-edge")
    return r > 0 ? "more plants do not pay inside the tested range" : "yield falls from the lowest tested density on";
  if (kind === "upper-edge") {
    const where =
      corner !== null && corner > fit.range[1] ? "the curve's optimum lies beyond the highest tested density" : null;
    return where ?? "yield still rises at the highest tested density";
  }
  return null;
}
