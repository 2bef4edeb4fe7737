import type { Interval } from "../core/interval.ts";
import { type BinomialLink, binomialLinks } from "../fit/fitBinomialLinks.ts";
import { quadraticForm } from "../numeric/glm.ts";
import { averageLink, averageShare, shareCrossing } from "./averageShare.ts";
import { eachReplicate, type LodgingReplicate } from "./eachReplicate.ts";
import type { LodgingFit } from "./lodgingFit.ts";

/** What became of the replicates; the first two counts and those with a limit inside the range add up to `resamples`. */
export interface LimitBootstrap {
  readonly resamples: number;
  readonly seed: number;
  /** Replicates whose limit lies below the lowest, or above the highest, tested density. */
  readonly below: number;
  readonly above: number;
  /** Replicates with separated counts (refitted with reduced bias) or without any lodged plant. */
  readonly separated: number;
  /** Cut-off of the squared distance in standard errors, to compare with F(1, dof); null when not bounded. */
  readonly cutoff: number | null;
}

/** Limits of all replicates, and the cut-off that they give for `waldStatistic`. */
export function bootstrapLimits(
  fit: LodgingFit,
  { tolerated, level, resamples, seed }: { tolerated: number; level: number; resamples: number; seed: number },
): { limits: Float64Array; summary: LimitBootstrap } {
  const working = fit.working!;
  const link = binomialLinks[fit.link];
  const blocks = working.blocks.length;
  // The distance is studied where the limit is, or at the nearer end of the range.
  const z = Math.min(Math.max(shareCrossing(working.theta, blocks, tolerated, link) ?? 0, -1), 1);
  const truth = averageLink(working.theta, blocks, z, link, null);
  const limits = new Float64Array(resamples);
  const distances = new Float64Array(resamples);
  let separated = 0;
  eachReplicate(fit, resamples, seed, (replicate, r) => {
    if (replicate.separated) separated++;
    limits[r] = limitOf(replicate, blocks, tolerated, link);
    distances[r] = squaredDistance(replicate, blocks, z, truth, link);
  });
  limits.sort();
  distances.sort();
  // With this order statistic the test of one density has exactly the nominal size, were the fitted model the true one.
  const rank = Math.ceil((resamples + 1) * level) - 1;
  const cutoff = rank < resamples && Number.isFinite(distances[rank]) ? distances[rank] : null;
  const below = limits.filter((limit) => limit === -Infinity).length;
  const above = limits.filter((limit) => limit === Infinity).length;
  return { limits, summary: { resamples, seed, below, above, separated, cutoff } };
}

/** Percentile interval: an end between or among replicates outside the tested range is open. */
export function percentileInterval(limits: Float64Array, level: number, toDensity: (z: number) => number): Interval {
  const end = (p: number) => {
    const h = (limits.length - 1) * p; // type 7 quantile
    const [low, high] = [limits[Math.floor(h)], limits[Math.ceil(h)]];
    if (!Number.isFinite(low) || !Number.isFinite(high)) return null;
    return toDensity(low + (h - Math.floor(h)) * (high - low));
  };
  const [lower, upper] = [end((1 - level) / 2), end((1 + level) / 2)];
  return { lower, upper, lowerOpen: lower === null, upperOpen: upper === null, level, method: "bootstrap-percentile" };
}

/** ((estimate - truth) / standard error)^2 of the average share at z, on the link scale; infinite without an estimate. */
export function squaredDistance(
  replicate: LodgingReplicate,
  blocks: number,
  z: number,
  truth: number,
  link: BinomialLink,
): number {
  if (replicate.lodged !== "some" || replicate.vcov.length === 0) return Infinity;
  const gradient = new Float64Array(blocks + 1);
  const miss = averageLink(replicate.theta, blocks, z, link, gradient) - truth;
  const distance = (miss * miss) / (replicate.scale * quadraticForm(replicate.vcov, blocks + 1, gradient));
  return Number.isNaN(distance) ? Infinity : distance;
}

/** Highest z in [-1, 1] up to which the share stays tolerated; -Infinity below the range, Infinity above it. */
function limitOf({ lodged, theta }: LodgingReplicate, blocks: number, tolerated: number, link: BinomialLink): number {
  if (lodged !== "some") return lodged === "none" ? Infinity : -Infinity;
  if (averageShare(theta, blocks, -1, link) > tolerated) return -Infinity;
  if (averageShare(theta, blocks, 1, link) <= tolerated) return Infinity;
  return shareCrossing(theta, blocks, tolerated, link) ?? Infinity;
}
