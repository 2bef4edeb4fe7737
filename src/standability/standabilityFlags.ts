import { checkShape, type Shape } from "../core/checkShape.ts";
import { exp, expm1, log, log1p } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { binomialLinks } from "../fit/fitBinomialLinks.ts";
import { normalQuantile, normalUpper, tQuantile, tUpper } from "../numeric/distributions.ts";
import { quadraticForm } from "../numeric/glm.ts";
import { averageLink } from "./averageShare.ts";
import { eachReplicate } from "./eachReplicate.ts";
import type { LodgingFit } from "./lodgingFit.ts";
import { effectivePlants } from "./proportionInterval.ts";

export interface StandabilityFlagsOptions {
  /** Share of lodged plants that is still accepted; default 0.10. */
  readonly tolerated?: number;
  /** Default 0.95. */
  readonly level?: number;
  /** "bootstrap": studentised parametric bootstrap; "wald": t or normal. Default as for `standabilityLimit`. */
  readonly method?: "bootstrap" | "wald";
  /** Default 999. */
  readonly resamples?: number;
  /** Default 1. */
  readonly seed?: number;
  /** Correlation between plants of a plot to assume when nothing, or everything, lodged; default 0. */
  readonly assumedIcc?: number;
}

/** What `StandabilityFlagsOptions` must look like. */
export const standabilityFlagsOptionsShape: { readonly [property: string]: Shape } = {
  tolerated: "number?",
  level: "number?",
  method: "text?",
  resamples: "count?",
  seed: "number?",
  assumedIcc: "number?",
};

/**
 * Verdict on one density, by the probability that its lodged share exceeds the tolerated one: at most 5 % `stands`, up to
 * 50 % `likely-stands`, below 95 % `likely-lodges`, from 95 % `lodges`. The cut points are our convention.
 */
export type StandabilityState = "stands" | "likely-stands" | "likely-lodges" | "lodges";

export interface StandabilityFlag {
  readonly density: number;
  readonly plots: number;
  /** Sums over the plots of this density; lodged is the mean share, examined null, when plants were not counted. */
  readonly lodged: number;
  readonly examined: number | null;
  /** Fitted share, averaged over blocks. */
  readonly share: number;
  readonly interval: Interval;
  /** Probability that the share exceeds the tolerated one (confidence distribution of the fit). */
  readonly probability: number;
  readonly state: StandabilityState;
}

export interface StandabilityFlags {
  readonly schema: "standcurve/standability-flags/1";
  readonly tolerated: number;
  readonly level: number;
  readonly method: "bootstrap" | "wald" | "exact";
  /** Ascending densities; empty when there is no fit (`reason`). */
  readonly flags: readonly StandabilityFlag[];
  /** Lowest tested density whose lower end, estimate, upper end of the share exceeds the tolerated share; null: none does. */
  readonly firstAbove: {
    readonly lower: number | null;
    readonly estimate: number | null;
    readonly upper: number | null;
  };
  readonly reason: string | null;
}

/**
 * Estimated lodged share of every tested density, with its interval, the probability that it exceeds the tolerated share,
 * and a verdict.
 *
 * The interval is estimate +- cut-off x standard error on the link scale, carried back to shares. With "bootstrap" the
 * cut-off and the probability come from the studentised replicates of a parametric bootstrap, otherwise from t (dispersion
 * estimated) or the normal. When no plant lodged (or every one) the exact bound of Clopper and Pearson is used, pooling the
 * plots of this density and denser (or thinner), since lodging does not fall as density rises.
 *
 * @throws AnalysisError `invalid-option`; `not-offered` for a bootstrap of shares without counts
 * @example
 * const fit = fitLodging({ density: [20, 25, 30, 35, 40], lodged: [1, 2, 6, 20, 45], examined: [100, 100, 100, 100, 100] });
 * standabilityFlags(fit).flags.map(({ state }) => state)[0]; // => "stands"
 *
 * Source: Efron & Tibshirani (1993), An Introduction to the Bootstrap, section 12.5; Schweder & Hjort (2016), Confidence,
 * Likelihood, Probability, chapter 3 (confidence distribution).
 */
export function standabilityFlags(fit: LodgingFit, options: StandabilityFlagsOptions = {}): StandabilityFlags {
  checkShape(fit, "fit", "standcurve/lodging-fit/1");
  checkShape(options, "options", standabilityFlagsOptionsShape, "invalid-option");
  const { tolerated = 0.1, level = 0.95, resamples = 999, seed = 1, assumedIcc = 0 } = options;
  check(tolerated > 0 && tolerated < 1, "invalid-option", `tolerated must be between 0 and 1, got ${tolerated}`);
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  const usual = fit.dispersionModel !== "binomial" && fit.data.examined !== null ? "bootstrap" : "wald";
  const method = options.method ?? usual;
  check(
    method === "bootstrap" || method === "wald",
    "invalid-option",
    `method must be "bootstrap" or "wald", got "${method}"`,
  );

  const base = { schema: "standcurve/standability-flags/1", tolerated, level } as const;
  const rows = observed(fit);
  if (fit.status === "none-lodged" || fit.status === "all-lodged") {
    const nobody = fit.status === "none-lodged";
    if (fit.data.examined === null) {
      const reason = `${nobody ? "No lodging" : "Full lodging"} in every plot; without counts no bound can be given.`;
      return { ...base, method: "exact", flags: [], firstAbove: firstAbove([], tolerated), reason };
    }
    const flags = rows.map((row) => exactFlag(fit, row, nobody, tolerated, level, assumedIcc));
    return {
      ...base,
      method: "exact",
      flags,
      firstAbove: firstAbove(flags, tolerated),
      reason: fit.notes.at(-1) ?? null,
    };
  }
  if (fit.working === null) {
    const reason = `The lodging fit gave no estimate (status ${fit.status}).`;
    return { ...base, method, flags: [], firstAbove: firstAbove([], tolerated), reason };
  }
  const spread = method === "bootstrap" ? bootstrapSpread(fit, rows, resamples, seed) : null;
  const flags = rows.map((row, d) => fittedFlag(fit, row, tolerated, level, spread ? spread[d] : null));
  return { ...base, method, flags, firstAbove: firstAbove(flags, tolerated), reason: null };
}

type Row = Pick<StandabilityFlag, "density" | "plots" | "lodged" | "examined">;

function observed({ data: { density, lodged, examined } }: LodgingFit): Row[] {
  const levels = [...new Set(density)].sort((a, b) => a - b);
  return levels.map((level) => {
    const plots = density.flatMap((x, i) => (x === level ? [i] : []));
    const total = (values: readonly number[]) => plots.reduce((sum, i) => sum + values[i], 0);
    return {
      density: level,
      plots: plots.length,
      lodged: examined ? total(lodged) : total(lodged) / plots.length,
      examined: examined ? total(examined) : null,
    };
  });
}

function stateOf(probability: number): StandabilityState {
  if (probability <= 0.05) return "stands";
  if (probability <= 0.5) return "likely-stands";
  return probability < 0.95 ? "likely-lodges" : "lodges";
}

/** Estimate and standard error of the average share on the link scale. */
function linkEstimate(fit: LodgingFit, density: number): { eta: number; error: number; z: number } {
  const working = fit.working!;
  const blocks = working.blocks.length;
  const gradient = new Float64Array(blocks + 1);
  const z = (density - working.centre) / working.spread;
  const eta = averageLink(working.theta, blocks, z, binomialLinks[fit.link], gradient);
  return { eta, error: Math.sqrt(fit.scale * quadraticForm(working.vcov.flat(), blocks + 1, gradient)), z };
}

/** Studentised replicates (estimate - truth) / standard error per density, ascending. */
function bootstrapSpread(fit: LodgingFit, rows: readonly Row[], resamples: number, seed: number): Float64Array[] {
  const blocks = fit.working!.blocks.length;
  const link = binomialLinks[fit.link];
  const places = rows.map(({ density }) => linkEstimate(fit, density));
  const spread = rows.map(() => new Float64Array(resamples));
  const gradient = new Float64Array(blocks + 1);
  eachReplicate(fit, resamples, seed, ({ lodged, theta, vcov, scale }, r) => {
    places.forEach(({ eta, z }, d) => {
      // Without any lodged plant the estimate is below every truth; such a replicate widens the interval upwards.
      let t = lodged === "all" ? Infinity : -Infinity;
      if (lodged === "some" && vcov.length > 0) {
        const miss = averageLink(theta, blocks, z, link, gradient) - eta;
        t = miss / Math.sqrt(scale * quadraticForm(vcov, blocks + 1, gradient));
        if (Number.isNaN(t)) t = 0;
      }
      spread[d][r] = t;
    });
  });
  return spread.map((values) => values.sort());
}

function fittedFlag(
  fit: LodgingFit,
  row: Row,
  tolerated: number,
  level: number,
  spread: Float64Array | null,
): StandabilityFlag {
  const link = binomialLinks[fit.link];
  const { eta, error } = linkEstimate(fit, row.density);
  const target = link.link(tolerated);
  let reach: number;
  let probability: number;
  if (spread) {
    const rank = Math.ceil((spread.length + 1) * level) - 1;
    const sizes = Float64Array.from(spread, Math.abs).sort();
    reach = rank < sizes.length ? sizes[rank] * error : Infinity;
    const bound = (eta - target) / error;
    probability = (spread.filter((t) => t < bound).length + 0.5) / (spread.length + 1);
  } else {
    const known = fit.dispersionModel === "binomial" || fit.dofResidual < 1;
    reach = error * (known ? normalQuantile((1 + level) / 2) : tQuantile((1 + level) / 2, fit.dofResidual));
    const t = (target - eta) / error;
    probability = known ? normalUpper(t) : tUpper(t, fit.dofResidual);
  }
  const interval = shareInterval(
    link.inverse(eta - reach),
    link.inverse(eta + reach),
    level,
    spread ? "studentised-bootstrap" : "wald",
  );
  return { ...row, share: link.inverse(eta), interval, probability, state: stateOf(probability) };
}

function exactFlag(
  fit: LodgingFit,
  row: Row,
  nobody: boolean,
  tolerated: number,
  level: number,
  assumedIcc: number,
): StandabilityFlag {
  let plants = 0;
  fit.data.density.forEach((density, i) => {
    const counts = nobody ? density >= row.density : density <= row.density;
    if (counts) plants += effectivePlants(fit.data.examined![i], assumedIcc);
  });
  const bound = -expm1(log1p(-level) / plants);
  const interval = nobody
    ? shareInterval(0, bound, level, "clopper-pearson-one-sided")
    : shareInterval(1 - bound, 1, level, "clopper-pearson-one-sided");
  const probability = nobody ? exp(plants * log1p(-tolerated)) : -expm1(plants * log(tolerated));
  return { ...row, share: nobody ? 0 : 1, interval, probability, state: stateOf(probability) };
}

function shareInterval(lower: number, upper: number, level: number, method: string): Interval {
  return { lower, upper, lowerOpen: false, upperOpen: false, level, method };
}

function firstAbove(flags: readonly StandabilityFlag[], tolerated: number): StandabilityFlags["firstAbove"] {
  const first = (value: (flag: StandabilityFlag) => number) =>
    flags.find((flag) => value(flag) > tolerated)?.density ?? null;
  return {
    lower: first((flag) => flag.interval.lower ?? 0),
    estimate: first((flag) => flag.share),
    upper: first((flag) => flag.interval.upper ?? 1),
  };
}
