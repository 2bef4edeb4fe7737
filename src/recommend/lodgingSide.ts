import { AnalysisError } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import { binomialLinks } from "../fit/fitBinomialLinks.ts";
import { averageShare } from "../standability/averageShare.ts";
import { fitLodging } from "../standability/fitLodging.ts";
import { lodgingCounts } from "../standability/lodgingCounts.ts";
import type { LodgingFit } from "../standability/lodgingFit.ts";
import { type StandabilityLimit, standabilityLimit } from "../standability/standabilityLimit.ts";
import type { DensityLimit } from "./densityLimit.ts";
import { lowerFactor, timesFactor } from "./normalDraws.ts";
import { onSeedingAxis } from "./onSeedingAxis.ts";
import type { RecommendOptions } from "./recommendOptions.ts";
import { streams } from "./responseDraws.ts";
import type { Scene } from "./scene.ts";
import type { SharedWork } from "./sharedWork.ts";

/** What standability says of a field: the limit, and the lodged share at any rate. */
export interface LodgingSide {
  readonly limit: DensityLimit;
  readonly tolerated: number;
  /** Lodged share at a rate by draw; null when it cannot be told. */
  readonly share: ((d: number, rate: number) => number) | null;
  readonly notes: readonly string[];
  /** True when lodging was looked at at all. */
  readonly known: boolean;
}

/**
 * Standability limit of a field: the lowest over the kinds of lodging that were counted.
 *
 * Fits given in the options come first, then the one that the analysis keeps, then the plots of the trial. A limit of the analysis for
 * the same tolerated share and level is taken as it is, so that both say the same.
 */
export function lodgingSide(scene: Scene, options: RecommendOptions, shared: SharedWork): LodgingSide {
  const tolerated = scene.field.toleratedLodging ?? 0.1;
  const notes: string[] = [];
  const plots = [scene.main.hybrid, scene.main.environment];
  const { fits, found } = shared.once(["lodging", ...plots], () => {
    const said: string[] = [];
    return { fits: fitsFor(scene, options, said), found: said };
  });
  notes.push(...found);
  const sides = fits.map((fit, i) => ({
    limit: toRate(
      scene,
      shared.once(["limit", ...plots, i, tolerated], () => limitOf(scene, fit, tolerated, options)),
    ),
    share: shareOf(
      scene,
      fit,
      shared.once(["thetas", ...plots, i], () => thetaDraws(scene, fit)),
    ),
  }));
  if (sides.length === 0) {
    const saved = scene.main.standability?.lodging.find(({ kind }) => kind !== "push" && kind !== "pinch");
    if (saved !== undefined) return sideWithoutCounts(scene, saved.limit, tolerated, notes);
    const tested = scene.main.standability?.lodging.some(({ kind }) => kind === "push" || kind === "pinch") === true;
    const basis = tested
      ? "Stalks were tested but lodged plants were not counted, so standability sets no limit here."
      : "No lodging counts were given, so standability was not checked.";
    const limit: DensityLimit = { name: "standability", kind: "none", rate: null, stand: null, interval: null, basis };
    return { limit, tolerated, share: null, notes, known: false };
  }
  const order = { "at-lowest": 0, at: 1, "at-highest": 2, none: 3 };
  const lowest = sides.reduce((a, b) => {
    const [x, y] = [order[a.limit.kind], order[b.limit.kind]];
    return y < x || (x === y && (b.limit.rate ?? 0) < (a.limit.rate ?? 0)) ? b : a;
  });
  return { ...lowest, tolerated, notes, known: true };
}

/** Lodging was counted, but the analysis, saved by an early version, holds the limit alone: it serves for its own tolerated share. */
function sideWithoutCounts(
  scene: Scene,
  saved: StandabilityLimit,
  tolerated: number,
  notes: readonly string[],
): LodgingSide {
  const again = "the saved analysis does not keep the counts: analyse the trial again";
  if (saved.tolerated === tolerated) {
    const limit = toRate(scene, saved);
    const basis = `${limit.basis} The lodged share at other rates cannot be told, as ${again}.`;
    return { limit: { ...limit, basis }, tolerated, share: null, notes, known: true };
  }
  const [asked, kept] = [tolerated, saved.tolerated].map((share) => `${Number((100 * share).toPrecision(3))} %`);
  const basis = `Lodging was counted, but a limit for ${asked} lodged cannot be told from that for ${kept}, as ${again}.`;
  const limit: DensityLimit = { name: "standability", kind: "none", rate: null, stand: null, interval: null, basis };
  return { limit, tolerated, share: null, notes, known: false };
}

function fitsFor(scene: Scene, options: RecommendOptions, notes: string[]): readonly LodgingFit[] {
  if (options.lodging !== undefined) return [options.lodging].flat();
  const kept = scene.main.standability?.lodgingFit ?? null;
  if (kept === null) return fitsFromTrial(scene, options, notes);
  notes.push(...(scene.main.standability?.lodging[0]?.notes ?? []));
  return [kept];
}

function limitOf(scene: Scene, fit: LodgingFit, tolerated: number, options: RecommendOptions): StandabilityLimit {
  const { standability } = scene.main;
  const own = standability?.lodging[0]?.limit;
  const same = fit === standability?.lodgingFit && own?.tolerated === tolerated && own.bootstrap !== null;
  if (same && own.interval?.level === scene.level && options.resamples === undefined) return own;
  const { resamples = 499 } = options;
  const counted = fit.dispersionModel !== "binomial" && fit.data.examined !== null;
  return standabilityLimit(fit, {
    tolerated,
    level: scene.level,
    ...(resamples > 0 && counted
      ? { method: "bootstrap", resamples, seed: scene.main.seed % 4294967296 }
      : { method: "profile" }),
  });
}

function toRate(scene: Scene, limit: StandabilityLimit): DensityLimit {
  const percent = `${Number((100 * limit.tolerated).toPrecision(3))} %`;
  const { perRate, establishment } = scene;
  const [low, high] = scene.draws.range;
  const inside = limit.density !== null && limit.density > low && limit.density < high;
  const kind =
    limit.kind === "none"
      ? "none"
      : limit.kind === "below-range" || (limit.density !== null && limit.density <= low)
        ? "at-lowest"
        : inside
          ? "at"
          : "at-highest";
  const x = kind === "none" ? null : kind === "at" ? (limit.density as number) : kind === "at-lowest" ? low : high;
  const basis =
    kind === "at"
      ? `Fitted to the lodging counts: ${percent} of the plants are expected to lodge here.`
      : kind === "at-lowest"
        ? `More than ${percent} lodge even at the lowest tested density.`
        : kind === "at-highest"
          ? `No more than ${percent} are expected to lodge up to the highest tested density.`
          : (limit.reason ?? "The lodging counts do not place a limit.");
  return {
    name: "standability",
    kind,
    rate: x === null ? null : x / perRate,
    stand: x === null || establishment === null ? null : standOf(scene, x / perRate),
    interval: limit.interval && onSeedingAxis(limit.interval, kind === "at" ? x : null, scene.perRateEstimate),
    basis,
  };
}

/** Plants per area (rate unit) behind a rate. */
export function standOf({ establishment }: Scene, rate: number): number | null {
  if (establishment === null) return null;
  return rate * (typeof establishment === "number" ? establishment : establishment.likely);
}

/** Levels and slope of a lodging fit by draw, from their normal distribution, in mirrored pairs; null without estimates. */
function thetaDraws(scene: Scene, { working, scale }: LodgingFit): Float64Array[] | null {
  if (working === null) return null;
  const p = working.blocks.length + 1;
  const factor = lowerFactor(working.vcov.slice(0, p).map((row) => row.slice(0, p).map((v) => v * scale)));
  const random = streamRandom(scene.main.seed, streams.inputs + 20);
  let step: Float64Array = new Float64Array(p);
  return Array.from({ length: scene.count }, (_, d) => {
    step = d % 2 === 0 ? timesFactor(factor, random, 1) : step.map((value) => 0 - value);
    return Float64Array.from(step, (value, j) => working.theta[j] + value);
  });
}

/** Lodged share at a rate by draw. */
function shareOf(scene: Scene, { working, link }: LodgingFit, thetas: Float64Array[] | null): LodgingSide["share"] {
  if (working === null || thetas === null) return null;
  const { centre, spread, blocks } = working;
  return (d, rate) =>
    averageShare(thetas[d], blocks.length, (rate * scene.perRateDraws[d] - centre) / spread, binomialLinks[link]);
}

/** Lodging of this hybrid's plots, in the environment of the curve: plants lodged in any way at the last count. */
function fitsFromTrial(scene: Scene, { trial }: RecommendOptions, notes: string[]): LodgingFit[] {
  if (trial === undefined) return [];
  const { hybrid, environment } = scene.main;
  const plots = trial.plots.filter(
    (plot) => plot.hybrid === hybrid && (environment === null || plot.environment === environment),
  );
  try {
    const counts = lodgingCounts(plots);
    if (new Set(counts.density).size < 2) return [];
    notes.push(...counts.notes);
    return [fitLodging(counts)];
  } catch (error) {
    if (!(error instanceof AnalysisError)) throw error;
    notes.push(`The lodging counts could not be used: ${error.message}.`);
    return [];
  }
}
