import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Interval, Piece } from "../core/interval.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import { type CurveData, curveDataShape, prepareData } from "../fit/fitData.ts";
import { fQuantile } from "../numeric/distributions.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import { acceptedJoins, quadraticMoments, type Range, reciprocalRanges, withinCutoff } from "./acceptance.ts";

export interface JoinIntervalOptions {
  readonly family: "linear-plateau" | "quadratic-plateau";
  /** Default 0.95. */
  readonly level?: number;
  /** `rising` (default) or `any`, as in `fitCurve`. */
  readonly direction?: "rising" | "any";
}

/** What `JoinIntervalOptions` must look like. */
export const joinIntervalOptionsShape: { readonly [property: string]: Shape } = {
  family: "text",
  level: "number?",
  direction: "text?",
};

/** Confidence set of a join. Its ends may lie above the tested range; open ends are null. */
export interface JoinInterval extends Interval {
  /** All connected parts, ascending; one or more, or none when no rise is compatible. */
  readonly pieces: readonly Piece[];
  /** The set holds joins between the two lowest densities, where the data cannot tell them apart. */
  readonly firstIntervalInside: boolean;
  /** The set holds the straight line (a join infinitely far away, or the highest density for linear-plateau). */
  readonly straightLineInside: boolean;
}

/**
 * Profile-F confidence set of the join of a plateau curve: { J : RSS(J) <= RSS_min (1 + F(level; 1, df) / df) }.
 *
 * Found exactly: between levels N^2 - c Q is a polynomial in J whose roots are the ends. The lower end is open when the set
 * reaches the first interval, the upper when it holds the straight line.
 *
 * @throws AnalysisError `not-estimable` when the family cannot be fitted or there are no residual degrees of freedom
 * @example
 * const yields = [46.5, 59, 71.9, 73.1, 74.5, 75.5];
 * joinInterval({ density: [0, 67, 134, 201, 268, 335], yield: yields }, { family: "linear-plateau" }).upperOpen; // => false
 *
 * Source: Seber & Wild (1989), Nonlinear Regression, section 5.4. Oracle: test/oracle, dense profile search in R.
 */
export function joinInterval(data: CurveData, options: JoinIntervalOptions): JoinInterval {
  checkShape(data, "data", curveDataShape);
  checkShape(options, "options", joinIntervalOptionsShape, "invalid-option");
  const { family, level = 0.95, direction = "rising" } = options;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(
    family === "linear-plateau" || family === "quadratic-plateau",
    "invalid-option",
    `only plateau curves have a join, got "${family}"`,
  );
  const prepared = prepareData(data);
  const fit = fitPrepared(family, prepared, direction);
  check(fit.rss !== null, "not-estimable", `${family} cannot be fitted: ${fit.reason}`);
  check(fit.dofResidual > 0, "not-estimable", "there are no residual degrees of freedom to judge scatter by");
  const cutoff = fit.rss * (1 + fQuantile(level, 1, fit.dofResidual) / fit.dofResidual);

  const { design } = prepared;
  const response = joinResponse(design, prepared.y);
  const c = response.total - cutoff;
  const rising = direction === "rising";
  const power = family === "linear-plateau" ? 1 : 2;
  const ranges: Range[] = [
    ...acceptedJoins(
      design,
      response.sums,
      power,
      (n, q) => [withinCutoff(n, q, c), Array.from(n)],
      (n, q) => c <= 0 || ((n > 0 || !rising) && n * n >= c * q),
    ),
  ];
  const firstIntervalInside = ranges.some(([from]) => from <= 0);
  let straightLineInside = ranges.some(([, to]) => to >= 1);
  if (power === 2) {
    const far = reciprocalRanges(quadraticMoments(design, response.sums), c, rising);
    straightLineInside = far.some(([from]) => from <= 0);
    for (const [from, to] of [...far].reverse()) {
      const last = ranges[ranges.length - 1];
      const upper = from <= 0 ? Number.POSITIVE_INFINITY : 1 / from;
      if (last && last[1] >= 1 && to >= 1) ranges[ranges.length - 1] = [last[0], upper];
      else ranges.push([1 / to, upper]);
    }
  }
  const toDensity = (u: number): number => design.low + design.span * u;
  const pieces = ranges.map(([from, to], i) => ({
    lower: i === 0 && firstIntervalInside ? null : toDensity(from),
    upper: i === ranges.length - 1 && straightLineInside ? null : toDensity(to),
  }));
  const lower = pieces[0]?.lower ?? null;
  const upper = pieces[pieces.length - 1]?.upper ?? null;
  return {
    lower,
    upper,
    lowerOpen: lower === null,
    upperOpen: upper === null,
    level,
    method: "profile",
    pieces,
    firstIntervalInside,
    straightLineInside,
  };
}
