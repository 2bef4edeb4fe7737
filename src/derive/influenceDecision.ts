import type { Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { type Family, innerFamilies } from "../curves/family.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import type { PreparedData } from "../fit/fitData.ts";
import { fittedCurve } from "../fit/fittedCurve.ts";
import { flexScore } from "./flexScore.ts";
import type { OptimumKind } from "./optimum.ts";

/** What a grower would be told: where the optimum lies, how far ears flex, on which curve. */
export interface Decision {
  /** Chosen by AICc. */
  readonly family: Family;
  readonly agronomic: Place;
  /** Null without prices. */
  readonly economic: Place | null;
  /** Null without reference densities, or when they are outside the tested range of these plots. */
  readonly flexScore: number | null;
}

/** An optimum and whether it lies inside the tested range; the density is null without response. */
export interface Place {
  readonly kind: OptimumKind;
  readonly density: number | null;
}

export interface DecisionOptions {
  /** Candidate families; default the five inner ones. */
  readonly families?: readonly Family[];
  /** Seed cost per stand unit / grain price; adds the economic optimum. */
  readonly priceRatio?: number;
  /** Reference densities; adds the flex score. */
  readonly between?: readonly [number, number];
  /** Names of the plots in sentences, shape [n]; default their numbers from 1. */
  readonly plotLabels?: readonly string[];
}

/** What `DecisionOptions` must look like. */
export const decisionOptionsShape: { readonly [property: string]: Shape } = {
  families: "list?",
  priceRatio: "number?",
  between: "numbers?",
  plotLabels: "labels?",
};

/** Names of the plots as sentences use them. */
export function labelsOfPlots(nobs: number, labels: readonly string[] | undefined): readonly string[] {
  check(
    labels === undefined || labels.length === nobs,
    "length-mismatch",
    `density has ${nobs} values but plotLabels has ${labels?.length}`,
  );
  return labels ?? Array.from({ length: nobs }, (_, i) => String(i + 1));
}

/** AICc that differ by less than this are tied; of tied families the first is taken. */
const TIE = 1e-6;

/** Fits, chooses and locates; null when no family can be ranked on these plots. */
export function decide(
  data: PreparedData,
  { families = innerFamilies, priceRatio, between }: DecisionOptions,
): { readonly decision: Decision; readonly fit: CurveFit } | null {
  const fits = families.map((family) => fitPrepared(family, data)).filter((fit) => fit.aicc !== null);
  const least = Math.min(...fits.map((fit) => fit.aicc as number));
  const fit = fits.find((candidate) => (candidate.aicc as number) - least <= TIE);
  if (fit === undefined || fit.status !== "converged") return null;
  return {
    fit,
    decision: {
      family: fit.family,
      agronomic: place(fit, 0),
      economic: priceRatio === undefined ? null : place(fit, priceRatio),
      flexScore: between === undefined ? null : flexScore(fit, { between }).score,
    },
  };
}

function place(fit: CurveFit, r: number): Place {
  if (fit.curve?.family === "flat" && r === 0) return { kind: "none", density: null };
  return fittedCurve(fit).optimum(fit.range[0], fit.range[1], r);
}

/** A density in words: three digits, "or more" at the upper end. */
export function inWords({ kind, density }: Place, unit: string): string {
  if (density === null) return "no optimum (no response)";
  const value = `${Number(density.toPrecision(3))}${unit === "" ? "" : ` ${unit}`}`;
  return kind === "upper-edge" ? `${value} or more` : kind === "lower-edge" ? `${value} or less` : value;
}

/** "falls from 33.1 to 30.4 thousand", "stays at 33.1 thousand". */
export function moveInWords(from: Place, to: Place, unit: string): string {
  const same = from.kind === to.kind && from.density !== null && to.density !== null;
  if (same && Number((from.density as number).toPrecision(3)) === Number((to.density as number).toPrecision(3))) {
    return `stays at ${inWords(to, unit)}`;
  }
  const verb =
    from.density === null || to.density === null || from.density === to.density
      ? "changes"
      : to.density > from.density
        ? "rises"
        : "falls";
  const bare = from.density !== null && to.density !== null ? "" : unit;
  return `${verb} from ${inWords(from, bare)} to ${inWords(to, unit)}`;
}

/** Shift of an optimum in density units; null when either does not exist. */
export function shiftOf(from: Place | null, to: Place | null): number | null {
  return from === null || to === null || from.density === null || to.density === null
    ? null
    : to.density - from.density;
}

/** Share of the tested range by which an optimum must move to be called a change that matters: our convention. */
export const MATTERS = 0.05;

/** Whether the advice changes: the optimum moves by more than `MATTERS` of the range, or appears or disappears. */
export function decisionMoves(from: Place, to: Place, span: number): boolean {
  if ((from.density === null) !== (to.density === null)) return true;
  const shift = shiftOf(from, to);
  return shift !== null && Math.abs(shift) > MATTERS * span;
}
