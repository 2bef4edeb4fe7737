import { checkShape, type Shape } from "../core/checkShape.ts";
import { expm1, log, square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { tTwoSided } from "../numeric/distributions.ts";
import { type LogSlopes, logSlopes, slopeInterval } from "./crowdingResponseSlopes.ts";

/** A plant trait over density, in parallel arrays of shape [n]. */
export interface CrowdingInput {
  /** Plants per area, any unit, > 0. */
  readonly density: ArrayLike<number>;
  /** Trait of the plants (stalk diameter, root mass, rind strength), > 0. */
  readonly trait: ArrayLike<number>;
  readonly block?: ArrayLike<string | number>;
  /** Compare these; default: one. */
  readonly hybrid?: ArrayLike<string>;
  /** Grain per area, > 0, to set the yield flex beside the crowding response. */
  readonly yield?: ArrayLike<number>;
}

/** What `CrowdingInput` must look like. */
export const crowdingInputShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  trait: "numbers",
  block: "labels?",
  hybrid: "labels?",
  yield: "numbers?",
};

export interface CrowdingOptions {
  /** Default 0.95. */
  readonly level?: number;
}

/** What `CrowdingOptions` must look like. */
export const crowdingOptionsShape: { readonly [property: string]: Shape } = { level: "number?" };

/** One hybrid's response to crowding, and what its yield does meanwhile. */
export interface HybridCrowding {
  readonly hybrid: string;
  readonly status: "converged" | "not-estimable";
  /** d ln(trait) / d ln(density): 0 leaves the trait alone; -0.5 for a diameter keeps stalk cross-section per area constant. */
  readonly slope: number | null;
  readonly standardError: number | null;
  readonly interval: Interval | null;
  /** Two-sided, against no change. */
  readonly pValue: number | null;
  /** Change of the trait, percent, for 10 % more plants. */
  readonly percentPerTenth: number | null;
  /** The same plots' yield; null when it was not given. */
  readonly yield: YieldFlex | null;
  /** Our words for the two together; null without yield or without intervals. */
  readonly reading: CrowdingReading | null;
  readonly nobs: number;
  readonly dofResidual: number;
}

export interface YieldFlex {
  /** d ln(yield per area) / d ln(density): above 0, more plants yield more. */
  readonly slope: number;
  readonly interval: Interval | null;
  /** 100 x the compensation elasticity, 100 (1 - slope): the flex score of the log-log line. */
  readonly flexScore: number;
}

/**
 * What yield and trait do as density rises, each "gains", "loses" or "holds" (its interval includes 0). A hybrid may gain yield while its
 * stalks thin: `yield: "gains", trait: "shrinks"`.
 */
export interface CrowdingReading {
  readonly yield: "gains" | "holds" | "loses";
  readonly trait: "grows" | "holds" | "shrinks";
  readonly words: string;
}

/** Difference of two hybrids' slopes. */
export interface CrowdingDifference {
  readonly first: string;
  readonly second: string;
  readonly difference: number;
  readonly interval: Interval;
  readonly pValue: number | null;
}

export interface CrowdingResponse {
  readonly schema: "standcurve/crowding-response/1";
  readonly level: number;
  /** Ascending slope: the most sensitive first. */
  readonly hybrids: readonly HybridCrowding[];
  /** All pairs, intervals widened for their number (Bonferroni). */
  readonly differences: readonly CrowdingDifference[];
}

/**
 * How strongly a plant trait responds to crowding: the slope of ln(trait) on ln(density), blocks taken out, for each hybrid, with the
 * differences between hybrids and, when yield is given, the yield flex of the same plots side by side.
 *
 * @throws AnalysisError `length-mismatch`; `invalid-data` for values that are not above 0; `invalid-option` for the level
 * @example
 * crowdingResponse({ density: [1, 4, 16], trait: [8, 4, 2] }).hybrids[0].slope.toFixed(3); // => "-0.500"
 *
 * Source: allometric slope by least squares on logarithms; -0.5 follows from density x diameter^2 = constant.
 */
export function crowdingResponse(input: CrowdingInput, options: CrowdingOptions = {}): CrowdingResponse {
  checkShape(input, "input", crowdingInputShape);
  checkShape(options, "options", crowdingOptionsShape, "invalid-option");
  const { level = 0.95 } = options;
  const n = input.density.length;
  check(n > 0, "invalid-data", "density is empty");
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  for (const name of ["trait", "block", "hybrid", "yield"] as const) {
    const values = input[name];
    check(
      values === undefined || values.length === n,
      "length-mismatch",
      `density has ${n} values but ${name} has ${values?.length}`,
    );
  }
  const names = [...new Set(input.hybrid ? Array.from(input.hybrid) : ["all"])];
  const fits = names.map((hybrid) => oneHybrid(input, hybrid, level));
  const hybrids = fits.map(({ report }) => report).sort((a, b) => (a.slope ?? 1e9) - (b.slope ?? 1e9));
  return { schema: "standcurve/crowding-response/1", level, hybrids, differences: differencesOf(fits, level) };
}

interface Fitted {
  readonly report: HybridCrowding;
  readonly slopes: LogSlopes | null;
}

function oneHybrid(input: CrowdingInput, hybrid: string, level: number): Fitted {
  const rows = Array.from({ length: input.density.length }, (_, i) => i).filter(
    (i) => input.hybrid === undefined || input.hybrid[i] === hybrid,
  );
  const pick = (values: ArrayLike<number>): number[] => rows.map((i) => values[i]);
  const { block } = input;
  const slopes = logSlopes(
    pick(input.density),
    [pick(input.trait), ...(input.yield ? [pick(input.yield)] : [])],
    block && rows.map((i) => block[i]),
    ["trait", "yield"],
  );
  const counts = { nobs: rows.length, dofResidual: slopes?.dofResidual ?? 0 };
  if (slopes === null) {
    const none = { slope: null, standardError: null, interval: null, pValue: null, percentPerTenth: null };
    return { slopes, report: { hybrid, status: "not-estimable", ...none, yield: null, reading: null, ...counts } };
  }
  const of = (t: number): { slope: number; error: number | null; interval: Interval | null } => {
    const slope = slopes.slopes[t];
    const variance = slopes.vcov?.[t][t] ?? null;
    return {
      slope,
      error: variance === null ? null : Math.sqrt(variance),
      interval: variance === null ? null : slopeInterval(slope, variance, slopes.dofResidual, level, level),
    };
  };
  const trait = of(0);
  const grain = input.yield === undefined ? null : of(1);
  const flex = grain && { slope: grain.slope, interval: grain.interval, flexScore: 100 * (1 - grain.slope) };
  return {
    slopes,
    report: {
      hybrid,
      status: "converged",
      slope: trait.slope,
      standardError: trait.error,
      interval: trait.interval,
      pValue: trait.error !== null && trait.error > 0 ? tTwoSided(trait.slope / trait.error, slopes.dofResidual) : null,
      percentPerTenth: 100 * expm1(trait.slope * log(1.1)),
      yield: flex,
      reading: flex && readingOf(flex.interval, trait.interval),
      ...counts,
    },
  };
}

function readingOf(grain: Interval | null, trait: Interval | null): CrowdingReading | null {
  if (grain === null || trait === null) return null;
  const way = ({ lower, upper }: Interval): -1 | 0 | 1 => ((lower as number) > 0 ? 1 : (upper as number) < 0 ? -1 : 0);
  const yields = (["loses", "holds", "gains"] as const)[way(grain) + 1];
  const plants = (["shrinks", "holds", "grows"] as const)[way(trait) + 1];
  const more = { gains: "gains yield", holds: "holds its yield", loses: "loses yield" }[yields];
  const link = yields === "gains" && plants === "shrinks" ? "but" : "and";
  return { yield: yields, trait: plants, words: `as density rises it ${more} ${link} the trait ${plants}` };
}

function differencesOf(fits: readonly Fitted[], level: number): CrowdingDifference[] {
  const known = fits.filter(({ slopes }) => slopes !== null && slopes.vcov !== null);
  const pairs = known.flatMap((first, i) => known.slice(i + 1).map((second) => [first, second] as const));
  const each = 1 - (1 - level) / Math.max(1, pairs.length);
  return pairs.map(([first, second]) => {
    const [a, b] = [first.slopes as LogSlopes, second.slopes as LogSlopes];
    const [va, vb] = [(a.vcov as number[][])[0][0], (b.vcov as number[][])[0][0]];
    const difference = a.slopes[0] - b.slopes[0];
    // Hybrids are fitted apart, each with its own scatter: Welch's degrees of freedom.
    const dof = square(va + vb) / ((va * va) / a.dofResidual + (vb * vb) / b.dofResidual);
    const usable = Number.isFinite(dof) ? dof : a.dofResidual + b.dofResidual;
    const error = Math.sqrt(va + vb);
    return {
      first: first.report.hybrid,
      second: second.report.hybrid,
      difference,
      interval: slopeInterval(difference, va + vb, usable, level, each),
      pValue: error > 0 ? tTwoSided(difference / error, usable) : null,
    };
  });
}
