import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { logit } from "../fit/fitBinomialLinks.ts";
import { fitOrdinal, type OrdinalSolution, ordinalSeparation } from "../fit/fitBinomialOrdinal.ts";
import { chiSquareUpper, normalQuantile } from "../numeric/distributions.ts";
import { quadraticForm } from "../numeric/glm.ts";
import { numberBlocks } from "./numberBlocks.ts";

/** One rating per plot; parallel arrays. */
export interface RatingsInput {
  readonly density: ArrayLike<number>;
  /** Numbers on an ordered scale, for example 1 to 9. */
  readonly rating: ArrayLike<number>;
  readonly block?: ArrayLike<string | number>;
}

/** What `RatingsInput` must look like. */
export const ratingsInputShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  rating: "numbers",
  block: "labels?",
};

export interface FitRatingsOptions {
  /** Which end of the scale is bad; default "higher". State it: scales run both ways in practice. */
  readonly worse?: "higher" | "lower";
  /** Default 0.95. */
  readonly level?: number;
}

/** What `FitRatingsOptions` must look like. */
export const fitRatingsOptionsShape: { readonly [property: string]: Shape } = { worse: "text?", level: "number?" };

/** Chance of a rating worse than `rating` at one tested density, averaged over blocks. */
export interface WorseShare {
  readonly density: number;
  readonly rating: number;
  readonly probability: number;
  /** Of the probability. */
  readonly standardError: number;
  readonly interval: Interval;
}

/** Proportional-odds fit of ratings against density; JSON-safe. */
export interface RatingsFit {
  readonly schema: "standcurve/ratings-fit/1";
  /**
   * `separation`: density or blocks divide the ratings completely, so the estimate is infinite; `one-rating`: all plots have
   * the same rating; `singular`: no block holds two densities; `iteration-limit`: do not use.
   */
  readonly status: "converged" | "separation" | "one-rating" | "singular" | "iteration-limit";
  readonly worse: "higher" | "lower";
  /** Ratings that occur, from best to worst. */
  readonly ratings: readonly number[];
  /** Change of the log odds of a worse rating per unit of density. */
  readonly slope: number | null;
  readonly slopeError: number | null;
  /** Likelihood-ratio test of no change with density. */
  readonly slopeTest: { readonly statistic: number; readonly dof: number; readonly pValue: number } | null;
  /** logit P(rating as good as `rating` or better) = cut - slope * density, for the average block. */
  readonly cuts: readonly { readonly rating: number; readonly cut: number; readonly standardError: number }[];
  /** Block minus average block; above 0 means worse. */
  readonly blockEffects: readonly { readonly block: string; readonly effect: number }[];
  readonly worseThan: readonly WorseShare[];
  readonly logLikelihood: number | null;
  readonly nobs: number;
  readonly note: string | null;
}

/**
 * Ordered ratings against density: logit P(rating as good as k or better) = cut_k - block - slope * density, one slope for
 * all cuts (proportional odds).
 *
 * Only ratings that occur get a cut. Give one rating per plot: several of one plot are not independent.
 *
 * @throws AnalysisError `length-mismatch`, `invalid-data`, `invalid-option`
 * @example
 * const fit = fitRatings({ density: [20, 20, 20, 28, 28, 28, 36, 36, 36], rating: [1, 2, 3, 1, 2, 4, 2, 3, 4] });
 * fit.status; // => "converged"
 *
 * Source: McCullagh (1980), JRSS B 42(2), 109-142. Oracle: test/oracle/ratings.json (R, MASS::polr).
 */
export function fitRatings(input: RatingsInput, options: FitRatingsOptions = {}): RatingsFit {
  checkShape(input, "input", ratingsInputShape);
  checkShape(options, "options", fitRatingsOptionsShape, "invalid-option");
  const { worse = "higher", level = 0.95 } = options;
  const n = input.density.length;
  check(n > 0, "invalid-data", "density is empty");
  check(input.rating.length === n, "length-mismatch", `density has ${n} values but rating has ${input.rating.length}`);
  check(worse === "higher" || worse === "lower", "invalid-option", `worse must be "higher" or "lower", got "${worse}"`);
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  for (let i = 0; i < n; i++) {
    check(
      Number.isFinite(input.density[i]),
      "invalid-data",
      `density[${i}] must be a finite number, got ${input.density[i]}`,
    );
    check(
      Number.isFinite(input.rating[i]),
      "invalid-data",
      `rating[${i}] must be a finite number, got ${input.rating[i]}`,
    );
  }
  const density = Array.from(input.density);
  const sign = worse === "higher" ? 1 : -1;
  const ratings = [...new Set(Array.from(input.rating))].sort((a, b) => sign * (a - b));
  const order = new Map(ratings.map((rating, k) => [rating, k]));
  const category = Int32Array.from(Array.from(input.rating), (rating) => order.get(rating)!);
  const { index, labels } = numberBlocks(input.block, n);

  const frame = { ...emptyFit, worse, ratings, nobs: n };
  if (ratings.length === 1) return { ...frame, status: "one-rating", note: `Every plot was rated ${ratings[0]}.` };
  const first = labels.map((_, b) => density[index.indexOf(b)]);
  if (!density.some((x, i) => x !== first[index[i]]))
    return { ...frame, status: "singular", note: "No block holds two densities." };
  const apart = ordinalSeparation(density, category, ratings.length, index, labels.length);
  if (apart) {
    const what =
      apart === "density"
        ? "Density divides the ratings without overlap"
        : "A block has only the best or only the worst ratings";
    return {
      ...frame,
      status: "separation",
      note: `${what}, so the estimate is infinite; count plots beyond one rating and use fitLodging.`,
    };
  }
  const [low, high] = [Math.min(...density), Math.max(...density)];
  const scale = { centre: (low + high) / 2, spread: (high - low) / 2 };
  const columns = labels.length;
  const design = new Float64Array(n * columns);
  for (let i = 0; i < n; i++) {
    design[i * columns] = (density[i] - scale.centre) / scale.spread;
    if (index[i] > 0) design[i * columns + index[i]] = 1; // the first block is the base
  }
  const fit = fitOrdinal({ design, columns, category, categories: ratings.length });
  if (fit.status !== "converged" || fit.vcov === null)
    return { ...frame, status: fit.status === "converged" ? "singular" : fit.status };
  return {
    ...frame,
    ...describe(fit, fit.vcov, ratings, labels, density, scale, level),
    slopeTest: testSlope(fit, design, columns, category, ratings.length),
  };
}

const emptyFit = {
  schema: "standcurve/ratings-fit/1",
  slope: null,
  slopeError: null,
  slopeTest: null,
  cuts: [],
  blockEffects: [],
  worseThan: [],
  logLikelihood: null,
  note: null,
} as const;

function testSlope(
  fit: OrdinalSolution,
  design: Float64Array,
  columns: number,
  category: Int32Array,
  categories: number,
): RatingsFit["slopeTest"] {
  const others = columns - 1;
  const without = Float64Array.from(
    { length: category.length * others },
    (_, k) => design[Math.floor(k / others) * columns + 1 + (k % others)],
  );
  const flat = fitOrdinal({ design: without, columns: others, category, categories });
  if (flat.status !== "converged") return null;
  const statistic = Math.max(0, 2 * (fit.logLikelihood - flat.logLikelihood));
  return { statistic, dof: 1, pValue: chiSquareUpper(statistic, 1) };
}

function describe(
  { cuts, coef, logLikelihood }: OrdinalSolution,
  vcov: Float64Array,
  ratings: readonly number[],
  labels: readonly string[],
  density: readonly number[],
  { centre, spread }: { readonly centre: number; readonly spread: number },
  level: number,
): Omit<RatingsFit, "schema" | "worse" | "ratings" | "nobs" | "note" | "slopeTest"> {
  const q = cuts.length + coef.length;
  const slopeAt = cuts.length;
  const blocks = labels.length;
  const effects = labels.map((_, b) => (b === 0 ? 0 : coef[b]));
  const average = effects.reduce((sum, effect) => sum + effect, 0) / blocks;
  const reach = normalQuantile((1 + level) / 2);
  const slope = coef[0] / spread;

  const cutRows = Array.from(cuts, (cut, k) => {
    const weights = new Float64Array(q);
    weights[k] = 1;
    weights[slopeAt] = centre / spread;
    for (let b = 1; b < blocks; b++) weights[slopeAt + b] = -1 / blocks;
    return {
      rating: ratings[k],
      cut: cut + slope * centre - average,
      standardError: Math.sqrt(quadraticForm(vcov, q, weights)),
    };
  });
  const worseThan = [...new Set(density)]
    .sort((a, b) => a - b)
    .flatMap((x) =>
      Array.from(cuts, (cut, k) => {
        const z = (x - centre) / spread;
        const gradient = new Float64Array(q);
        let probability = 0;
        effects.forEach((effect, b) => {
          const eta = coef[0] * z + effect - cut;
          probability += logit.inverse(eta) / blocks;
          const part = logit.slope(eta) / blocks;
          gradient[k] -= part;
          gradient[slopeAt] += part * z;
          if (b > 0) gradient[slopeAt + b] += part;
        });
        const standardError = Math.sqrt(quadraticForm(vcov, q, gradient));
        const eta = logit.link(probability);
        const half = (reach * standardError) / logit.slope(eta);
        const interval = {
          lower: logit.inverse(eta - half),
          upper: logit.inverse(eta + half),
          lowerOpen: false,
          upperOpen: false,
          level,
          method: "wald",
        };
        return { density: x, rating: ratings[k], probability, standardError, interval };
      }),
    );
  return {
    status: "converged",
    slope,
    slopeError: Math.sqrt(vcov[slopeAt * q + slopeAt]) / spread,
    cuts: cutRows,
    blockEffects: labels.map((block, b) => ({ block, effect: effects[b] - average })),
    worseThan,
    logLikelihood,
  };
}
