import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { binomialLinks } from "../fit/fitBinomialLinks.ts";
import { chiSquareQuantile, fQuantile } from "../numeric/distributions.ts";
import { acceptedSet } from "./acceptedSet.ts";
import { averageShare, shareCrossing } from "./averageShare.ts";
import { bootstrapLimits, type LimitBootstrap, percentileInterval } from "./limitBootstrap.ts";
import { profileStatistic, waldStatistic } from "./limitStatistic.ts";
import type { LodgingFit } from "./lodgingFit.ts";
import { type NoneLodged, noneLodged } from "./noneLodged.ts";

export interface StandabilityLimitOptions {
  /** Share of lodged plants that is still accepted, 0 < tolerated < 1; default 0.10 (harvest-first threshold, common practice). */
  readonly tolerated?: number;
  /** How the interval is made; default "bootstrap" where the spread between plots is estimated from counts, else "profile". */
  readonly method?: "bootstrap" | "fieller" | "profile" | "percentile";
  /** Default 0.95. */
  readonly level?: number;
  /** Resamples of the bootstrap methods; default 999. */
  readonly resamples?: number;
  /** Start of the random numbers of the bootstrap methods; default 1. */
  readonly seed?: number;
  /** Correlation between plants of a plot to assume when nothing lodged; default 0 (independent plants). */
  readonly assumedIcc?: number;
}

/** What `StandabilityLimitOptions` must look like. */
export const standabilityLimitOptionsShape: { readonly [property: string]: Shape } = {
  tolerated: "number?",
  method: "text?",
  level: "number?",
  resamples: "count?",
  seed: "number?",
  assumedIcc: "number?",
};

/** The highest density at which the lodged share, averaged over blocks, stays within the tolerated share. */
export interface StandabilityLimit {
  readonly schema: "standcurve/standability-limit/1";
  /**
   * `interior`: inside the tested range; `below-range`: even the lowest tested density lodges more; `above-range`: the
   * highest tested density still stands; `none`: no such limit can be named (`reason`).
   */
  readonly kind: "interior" | "below-range" | "above-range" | "none";
  /** The limit, in the unit of the densities; null unless `interior`. */
  readonly density: number | null;
  /** Where the fitted curve passes the tolerated share even if that is outside the tested range; not a recommendation. */
  readonly crossing: number | null;
  readonly tolerated: number;
  /** Lowest and highest tested density. */
  readonly range: readonly [number, number];
  /** Where the limit may lie, inside the tested range; open (null) ends reach beyond it. Null when there is no fit. */
  readonly interval: Interval | null;
  readonly reason: string | null;
  /** What was seen when no plant lodged. */
  readonly noneLodged: NoneLodged | null;
  readonly bootstrap: LimitBootstrap | null;
}

const methods: readonly string[] = ["bootstrap", "fieller", "profile", "percentile"];

/**
 * Standability limit: the density at which the lodged share reaches `tolerated`, with an interval.
 *
 * The share is averaged over blocks (plants of all blocks alike), not over link values. The interval is the set of densities
 * x for which "the share at x is the tolerated one" is not rejected. The test uses the distance in standard errors
 * ("fieller") or the drop of deviance ("profile"), with F(1, dof) when the dispersion is estimated and chi-square otherwise.
 * "bootstrap" is fieller with the cut-off taken from a parametric bootstrap that keeps the plot-to-plot spread: the F cut-off
 * is too small when plots differ much (over 32 simulated designs the bootstrap cut-off covers 93.6-96.9 %, fieller 92.2-96.5 %,
 * profile 89.2-96.2 %; where shares only rise from 1 to 20 %, 92.2-96.4, 85.2-96.8 and 80.6-96.2 %; bench/coverage-lodging.md). "percentile" gives plain bootstrap percentiles, for comparison. Nothing is extrapolated: an
 * end outside the tested range is open. A set of several pieces lists them.
 *
 * When nothing lodged, the upper bound for the share decides: see `NoneLodged`.
 *
 * @param fit - from `fitLodging`
 * @throws AnalysisError `invalid-option`; `not-offered` for a bootstrap of shares without counts
 * @example
 * const fit = fitLodging({ density: [24, 28, 32, 36, 40], lodged: [6, 9, 17, 26, 44], examined: [200, 200, 200, 200, 200] });
 * standabilityLimit(fit).density.toFixed(3); // => "33.563"
 *
 * Source: Fieller (1954), JRSS B 16(2), 175-185; Cox & Hinkley (1974), Theoretical Statistics, section 7.2 (inverting a
 * test); McCullagh & Nelder (1989), section 4.5 (F for estimated dispersion). Oracle: test/oracle/binomial_share.json.
 */
export function standabilityLimit(fit: LodgingFit, options: StandabilityLimitOptions = {}): StandabilityLimit {
  checkShape(fit, "fit", "standcurve/lodging-fit/1");
  checkShape(options, "options", standabilityLimitOptionsShape, "invalid-option");
  const { tolerated = 0.1, level = 0.95, resamples = 999, seed = 1, assumedIcc = 0 } = options;
  const method =
    options.method ?? (fit.dispersionModel !== "binomial" && fit.data.examined !== null ? "bootstrap" : "profile");
  check(tolerated > 0 && tolerated < 1, "invalid-option", `tolerated must be between 0 and 1, got ${tolerated}`);
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(methods.includes(method), "invalid-option", `method must be one of ${methods.join(", ")}, got "${method}"`);
  const range = [Math.min(...fit.data.density), Math.max(...fit.data.density)] as const;
  const base = {
    schema: "standcurve/standability-limit/1",
    tolerated,
    range,
    crossing: null,
    density: null,
    interval: null,
    reason: null,
    noneLodged: null,
    bootstrap: null,
  } as const;

  if (fit.status === "none-lodged") return { ...base, ...limitWhenNone(fit, tolerated, level, assumedIcc, range) };
  if (fit.status === "all-lodged")
    return { ...base, kind: "below-range", reason: "Every plant lodged at every tested density." };
  const working = fit.working;
  if (working === null)
    return { ...base, kind: "none", reason: `The lodging fit gave no estimate (status ${fit.status}).` };

  const link = binomialLinks[fit.link];
  const blocks = working.blocks.length;
  const toDensity = (z: number) => working.centre + working.spread * z;
  const z = shareCrossing(working.theta, blocks, tolerated, link);
  const kind = place(
    averageShare(working.theta, blocks, -1, link),
    averageShare(working.theta, blocks, 1, link),
    tolerated,
  );
  const reason =
    kind === "none"
      ? "The fitted share falls as density rises and passes the tolerated share, so no highest density can be named."
      : working.theta[blocks] <= 0
        ? "The fitted share does not rise with density."
        : null;
  const crossing = z === null ? null : toDensity(z);
  const answer = { ...base, kind, reason, crossing, density: kind === "interior" ? crossing : null };
  let limit = cutoff(fit, level);
  let bootstrap: LimitBootstrap | null = null;
  if (method === "bootstrap" || method === "percentile") {
    const { limits, summary } = bootstrapLimits(fit, { tolerated, level, resamples, seed });
    if (method === "percentile")
      return { ...answer, interval: percentileInterval(limits, level, toDensity), bootstrap: summary };
    bootstrap = summary;
    limit = summary.cutoff ?? Infinity;
  }
  const statistic = method === "profile" ? profileStatistic(fit, tolerated) : waldStatistic(fit, tolerated);
  const pieces = acceptedSet(statistic, limit, searchPoints(z));
  const name = method === "bootstrap" ? "fieller-bootstrap" : method;
  return { ...answer, interval: inDensities(pieces, kind, range, toDensity, level, name), bootstrap };
}

/** Cut-off of the test: F when the dispersion or the correlation is estimated, chi-square when variances are known. */
export function cutoff(fit: LodgingFit, level: number): number {
  return fit.dispersionModel === "binomial" || fit.dofResidual < 1
    ? chiSquareQuantile(level, 1)
    : fQuantile(level, 1, fit.dofResidual);
}

/** Where the tolerated share lies against the shares at the two ends of the tested range. */
export function place(low: number, high: number, tolerated: number): StandabilityLimit["kind"] {
  if (low <= tolerated && high < tolerated) return "above-range";
  if (low > tolerated && high > tolerated) return "below-range";
  return low <= high ? "interior" : "none";
}

/** The tested range on the working scale, cut into 40 steps, with the estimate among the points. */
function searchPoints(z: number | null): number[] {
  const points = Array.from({ length: 41 }, (_, i) => -1 + i / 20);
  if (z !== null && z > -1 && z < 1) points.push(z);
  return points.sort((a, b) => a - b);
}

function inDensities(
  pieces: readonly { lower: number | null; upper: number | null }[],
  kind: StandabilityLimit["kind"],
  range: readonly [number, number],
  toDensity: (z: number) => number,
  level: number,
  method: string,
): Interval {
  const convert = (z: number | null) => (z === null ? null : toDensity(z));
  const found = pieces.map(({ lower, upper }) => ({ lower: convert(lower), upper: convert(upper) }));
  // With the estimate outside the range the set goes on there, whether or not part of it is inside.
  if (kind === "above-range" && found.at(-1)?.upper !== null) found.push({ lower: range[1], upper: null });
  if (kind === "below-range" && found[0]?.lower !== null) found.unshift({ lower: null, upper: range[0] });
  const lower = found[0]?.lower ?? null;
  const upper = found.at(-1)?.upper ?? null;
  return {
    lower,
    upper,
    lowerOpen: lower === null,
    upperOpen: upper === null,
    level,
    method,
    ...(found.length > 1 ? { pieces: found } : {}),
  };
}

function limitWhenNone(
  fit: LodgingFit,
  tolerated: number,
  level: number,
  assumedIcc: number,
  range: readonly [number, number],
): Pick<StandabilityLimit, "kind" | "reason" | "interval" | "noneLodged"> {
  const bound = noneLodged(fit.data, tolerated, level, assumedIcc);
  const stands = bound.densities.filter((d) => d.upper !== null && d.upper <= tolerated);
  const lower = stands.length > 0 ? stands[stands.length - 1].density : null;
  const interval = {
    lower,
    upper: null,
    lowerOpen: lower === null,
    upperOpen: true,
    level,
    method: "clopper-pearson-one-sided",
  };
  return lower === range[1]
    ? { kind: "above-range", reason: bound.statement, interval, noneLodged: bound }
    : {
        kind: "none",
        reason: `${bound.statement} That is too few plants to place the limit.`,
        interval,
        noneLodged: bound,
      };
}
