import { checkShape, type Shape } from "../core/checkShape.ts";
import { checkedRatio } from "../core/economics.ts";
import { exp } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { shown } from "../core/shown.ts";
import { curveOf } from "../curves/catalogue.ts";
import { allFamilies, type Family, innerFamilies } from "../curves/family.ts";
import { goldenSection } from "../numeric/goldenSection.ts";
import type { CurveFit } from "./curveFit.ts";
import { fitPrepared } from "./fitCurve.ts";
import { type CurveData, curveDataShape, type PreparedData, prepareData } from "./fitData.ts";
import { type LackOfFit, lackOfFit, pureError } from "./lackOfFit.ts";

export interface CompareOptions {
  /** Families to compare; default the five inner ones. */
  readonly families?: readonly Family[];
  /** Seed cost per stand unit / grain price, yield units per density unit, for the optima compared; default 0 (agronomic). */
  readonly priceRatio?: number;
}

/** What `CompareOptions` must look like. */
export const compareOptionsShape: { readonly [property: string]: Shape } = {
  families: "labels?",
  priceRatio: "number?",
};

/** One family's place in the comparison. */
export interface CurveRank {
  readonly family: Family;
  /** AICc minus the smallest AICc; null when the family has none. */
  readonly delta: number | null;
  /** Akaike weight exp(-delta / 2) / sum; 0 when the family has no AICc. */
  readonly weight: number;
  readonly lackOfFit: LackOfFit;
  /** Where the family puts the optimum inside the tested range; null without response or fit. */
  readonly optimum: { readonly kind: "interior" | "lower-edge" | "upper-edge"; readonly density: number } | null;
}

/** Something about the choice that a reader must see. */
export interface ChoiceWarning {
  readonly code: "tie" | "optimum-depends-on-family" | "too-few-plots" | "lack-of-fit";
  readonly message: string;
}

export interface CurveComparison {
  readonly schema: "standcurve/curve-comparison/1";
  readonly fits: readonly CurveFit[];
  readonly ranking: readonly CurveRank[];
  /** Family with the smallest AICc; of equal ones the simplest. Null when none can be ranked. */
  readonly best: Family | null;
  /** Families whose AICc equals the best to 1e-6, the best included. */
  readonly tied: readonly Family[];
  /** Pure error of the layout: weighted sum of squares and degrees of freedom. */
  readonly pureError: { readonly ss: number; readonly dof: number };
  /** Curve averaged with the Akaike weights, on a grid over the tested range, and its own optimum. */
  readonly averaged: AveragedCurve | null;
  readonly warnings: readonly ChoiceWarning[];
}

export interface AveragedCurve {
  readonly density: readonly number[];
  readonly yield: readonly number[];
  /** Optimum of the averaged curve at the price ratio of the comparison. */
  readonly optimum: {
    readonly kind: "interior" | "lower-edge" | "upper-edge";
    readonly density: number;
    readonly yield: number;
  };
}

const TIE = 1e-6;
/** Support within which two families count as fitting alike: AICc units, Burnham & Anderson (2002) call up to 2 substantial; 3 is on the safe side. */
const ALIKE = 3;
/** Share of the tested range by which optima must differ to be worth a warning: our convention. */
const APART = 0.1;
const GRID = 60;

/**
 * Fits several families and ranks them by AICc with every coefficient (blocks, join) and the variance counted.
 *
 * The flat family competes, so "no response to density" is an ordinary answer. Families that fit alike but put the optimum
 * far apart give a warning with both optima.
 *
 * @throws AnalysisError `invalid-option` for an empty list of families or a negative price ratio
 * @throws AnalysisError `length-mismatch` or `invalid-data` as `fitCurve`
 * @example
 * const data = { density: [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43], yield: [176, 188, 197, 201, 198, 193, 174, 190, 196, 199, 200, 192] };
 * compareCurves(data).fits.length; // => 5
 *
 * Source: Hurvich & Tsai (1989), Biometrika 76, 297-307; weights: Burnham & Anderson (2002), Model Selection and Multimodel
 * Inference, ch. 2.
 */
export function compareCurves(data: CurveData, options: CompareOptions = {}): CurveComparison {
  checkShape(data, "data", curveDataShape);
  checkShape(options, "options", compareOptionsShape, "invalid-option");
  return comparePrepared(prepareData(data), options);
}

/** The same for data that were checked before. */
export function comparePrepared(
  data: PreparedData,
  { families = innerFamilies, priceRatio = 0 }: CompareOptions = {},
): CurveComparison {
  check(families.length > 0, "invalid-option", "families is empty; name at least one");
  for (const family of families)
    check(
      allFamilies.includes(family),
      "invalid-option",
      `unknown family "${shown(family)}"; choose among ${allFamilies.join(", ")}`,
    );
  checkedRatio(priceRatio);
  const fits = families.map((family) => fitPrepared(family, data));
  const pure = pureError(data);
  // A smooth fit that ended early has an AICc too, but not that of its least-squares answer.
  const ranked = (fit: CurveFit): boolean => fit.aicc !== null && fit.status === "converged";
  const usable = fits.filter(ranked);
  const smallest = Math.min(...usable.map((fit) => fit.aicc as number));
  const relative = fits.map((fit) => (ranked(fit) ? exp((smallest - (fit.aicc as number)) / 2) : 0));
  const total = relative.reduce((sum, value) => sum + value, 0);
  const ranking = fits.map((fit, i) => ({
    family: fit.family,
    delta: ranked(fit) ? (fit.aicc as number) - smallest : null,
    weight: total > 0 ? relative[i] / total : 0,
    lackOfFit: lackOfFit(fit, pure),
    optimum: placeOptimum(fit, priceRatio),
  }));
  const tied = ranking.filter((rank) => rank.delta !== null && rank.delta <= TIE).map((rank) => rank.family);
  const best = tied[0] ?? null;
  return {
    schema: "standcurve/curve-comparison/1",
    fits,
    ranking,
    best,
    tied,
    pureError: pure,
    averaged: averageCurve(fits, ranking, priceRatio),
    warnings: warningsOf(fits, ranking, best, tied),
  };
}

function placeOptimum(fit: CurveFit, r: number): CurveRank["optimum"] {
  if (fit.curve === null || fit.status !== "converged" || fit.curve.family === "flat") return null;
  return curveOf(fit.curve.family).optimum(fit.curve.theta, fit.range[0], fit.range[1], r);
}

/** Curve of several fits averaged with the weights of their ranking, and its optimum at price ratio r. */
export function averageCurve(
  fits: readonly CurveFit[],
  ranking: readonly CurveRank[],
  r: number,
): AveragedCurve | null {
  const parts = fits.flatMap((fit, i) =>
    fit.curve && ranking[i].weight > 0
      ? [{ weight: ranking[i].weight, curve: curveOf(fit.curve.family), theta: fit.curve.theta }]
      : [],
  );
  if (parts.length === 0) return null;
  const [low, high] = fits[0].range;
  const mean = (x: number): number =>
    parts.reduce((sum, part) => sum + part.weight * part.curve.mean(x, part.theta), 0);
  const corners = fits.flatMap((fit) => {
    const optimum = placeOptimum(fit, r);
    return optimum?.kind === "interior" ? [optimum.density] : [];
  });
  const density = Array.from({ length: GRID + 1 }, (_, i) => low + ((high - low) * i) / GRID);
  const value = (x: number): number => mean(x) - r * x;
  // Between neighbouring kinks the average is smooth; the best grid cell is refined by golden section.
  const points = [...density, ...corners].sort((a, b) => a - b);
  let top = 0;
  for (let i = 1; i < points.length; i++) if (value(points[i]) > value(points[top]) * (1 + 1e-14)) top = i;
  const from = points[Math.max(top - 1, 0)];
  const to = points[Math.min(top + 1, points.length - 1)];
  const { middle } = goldenSection(value, from, to, 200, 1e-9 * (to - from));
  const x = value(middle) > value(points[top]) ? middle : points[top];
  const kind = x <= low ? "lower-edge" : x >= high ? "upper-edge" : "interior";
  return { density, yield: density.map(mean), optimum: { kind, density: x, yield: mean(x) } };
}

function warningsOf(
  fits: readonly CurveFit[],
  ranking: readonly CurveRank[],
  best: Family | null,
  tied: readonly Family[],
): ChoiceWarning[] {
  const warnings: ChoiceWarning[] = [];
  const unranked = fits.filter((fit) => fit.status === "converged" && fit.aicc === null).map((fit) => fit.family);
  if (unranked.length > 0) {
    const n = fits[0].nobs;
    warnings.push({
      code: "too-few-plots",
      message: `${n} plots are too few to compare ${unranked.join(", ")} by AICc; the choice among the rest says little`,
    });
  }
  if (tied.length > 1) {
    warnings.push({
      code: "tie",
      message: `${tied.join(", ")} fit exactly alike; the simplest is shown, the data do not choose`,
    });
  }
  const chosen = ranking.find((rank) => rank.family === best);
  if (chosen?.lackOfFit.kind === "tested" && chosen.lackOfFit.p < 0.05) {
    warnings.push({
      code: "lack-of-fit",
      message: `the ${best} curve misses the density means by more than plot scatter explains (p = ${chosen.lackOfFit.p.toPrecision(2)})`,
    });
  }
  const [low, high] = fits[0].range;
  // Measured from the best curve that responds, so that the doubt shows even where the flat curve wins for want of plots.
  const responding = ranking.filter((rank) => rank.delta !== null && rank.optimum !== null);
  const least = Math.min(...responding.map((rank) => rank.delta as number));
  const rivals = responding.filter((rank) => (rank.delta as number) - least <= ALIKE);
  const sorted = [...rivals].sort((a, b) => (a.optimum?.density ?? 0) - (b.optimum?.density ?? 0));
  const first = sorted[0];
  const last = sorted[sorted.length - 1];
  if (first?.optimum && last?.optimum && last.optimum.density - first.optimum.density > APART * (high - low)) {
    warnings.push({
      code: "optimum-depends-on-family",
      message:
        `${first.family} and ${last.family} fit about equally well but put the optimum at ` +
        `${place(first.optimum)} and ${place(last.optimum)}: this trial does not tell which`,
    });
  }
  return warnings;
}

function place(optimum: { kind: string; density: number }): string {
  const at = Number(optimum.density.toPrecision(4)).toString();
  if (optimum.kind === "upper-edge") return `${at} or more`;
  return optimum.kind === "lower-edge" ? `${at} or less` : at;
}
