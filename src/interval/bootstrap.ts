import { check } from "../core/errors.ts";
import { streamRandom } from "../core/random.ts";
import { type Family, type InnerFamily, innerFamilies, isInner } from "../curves/family.ts";
import { type CurveComparison, comparePrepared } from "../fit/compareCurves.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { fitPrepared } from "../fit/fitCurve.ts";
import { type CurveData, type PreparedData, prepareData } from "../fit/fitData.ts";
import { fitRows } from "../fit/leverage.ts";
import { kernelFamilies, refitKernel } from "../numeric/refitKernel.ts";
import { type BootstrapDistribution, summarise } from "./limits.ts";
import { residualSampler } from "./sampler.ts";

export interface BootstrapOptions {
  /** Families refitted and chosen from in every replicate; one family: no choice. Default: the five inner ones. */
  readonly families?: readonly Family[];
  /** Start of the random numbers, integer >= 0; default 1. */
  readonly seed?: number;
  /** Number of replicates; default 2000. */
  readonly resamples?: number;
  readonly scheme?: "residual";
  /** Level of the intervals; default 0.95. */
  readonly level?: number;
  /** Seed cost per stand unit / grain price; adds the economic optimum. */
  readonly priceRatio?: number;
  /** Reference densities; adds the flex score. */
  readonly between?: readonly [number, number];
  /** Return every replicate as well; default false. */
  readonly keep?: boolean;
}

/** Replicates one by one; an optimum at or beyond an end of the range is that end, no response is null. */
export interface BootstrapReplicates {
  readonly family: readonly InnerFamily[];
  readonly agronomic: readonly (number | null)[];
  readonly economic: readonly (number | null)[] | null;
  readonly flexScore: readonly (number | null)[] | null;
}

export interface BootstrapResult {
  readonly schema: "standcurve/bootstrap/1";
  readonly scheme: "residual";
  readonly seed: number;
  readonly resamples: number;
  /** Replicates a stream: stream s makes replicates s * size … , so any split over workers gives the same numbers. */
  readonly streamSize: number;
  /** Family whose fitted values and residuals are resampled. */
  readonly base: Family;
  readonly families: readonly InnerFamily[];
  /** How often each family was chosen. */
  readonly chosen: Readonly<Record<string, number>>;
  readonly agronomic: BootstrapDistribution;
  readonly economic: BootstrapDistribution | null;
  readonly flexScore: BootstrapDistribution | null;
  readonly replicates: BootstrapReplicates | null;
}

const STREAM_SIZE = 1000;

/**
 * Selection-inclusive residual bootstrap: every replicate draws new yields, refits all families exactly and chooses again.
 *
 * New yields are the fitted values of the chosen curve plus residuals drawn with replacement, each divided by sqrt(1 - h)
 * for its leverage h and centred; blocks and densities stay as they are. Replicates whose optimum is at an end of the range,
 * or that do not respond at all, are counted and kept.
 *
 * @throws AnalysisError `invalid-option` for bad counts, seeds or levels
 * @throws AnalysisError `not-offered` for a smooth family: only exact refits are resampled
 * @throws AnalysisError `not-estimable` when no family can be fitted or there are no residual degrees of freedom
 *
 * Source: Davison & Hinkley (1997), Bootstrap Methods and their Application, algorithm 6.1 and eq. 6.9.
 */
export function bootstrapCurves(data: CurveData, options: BootstrapOptions = {}): BootstrapResult {
  return bootstrapPrepared(prepareData(data), options);
}

/** The same for data that were checked before; `comparison` saves fitting them again. */
export function bootstrapPrepared(
  data: PreparedData,
  options: BootstrapOptions,
  comparison?: CurveComparison,
): BootstrapResult {
  const { seed = 1, resamples = 2000, level = 0.95, priceRatio, between, keep = false, scheme = "residual" } = options;
  check(Number.isSafeInteger(seed) && seed >= 0, "invalid-option", `seed must be an integer >= 0, got ${seed}`);
  check(
    Number.isInteger(resamples) && resamples >= 1 && resamples <= 10_000_000,
    "invalid-option",
    `resamples must be an integer from 1 to 10,000,000, got ${resamples}`,
  );
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(scheme === "residual", "invalid-option", `unknown scheme "${scheme}"`);
  const families = usable(options.families ?? innerFamilies, data);
  const base = baseFit(data, families, comparison);
  check(
    base.dofResidual > 0,
    "not-estimable",
    "there are no residual degrees of freedom, so residuals say nothing about scatter",
  );

  const { design } = data;
  const m = design.levels.length;
  const kernel = refitKernel(design);
  const sampler = residualSampler(data, fitRows(data, base));
  const pick = families.map((family) => kernelFamilies.indexOf(family));
  const penalty = Float64Array.from(families, (family) => penaltyFactor(data, family));
  const scalars = scalarReader(data, kernel.shape, between);
  const r = (priceRatio ?? 0) * design.span;
  // Of families whose AICc agree to 1e-6 the first is taken, as `compareCurves` does.
  const notTied = Math.exp(-1e-6 / design.nobs);

  const chosen = new Int32Array(resamples);
  const agronomic = new Float64Array(resamples);
  const economic = priceRatio === undefined ? null : new Float64Array(resamples);
  const flex = between === undefined ? null : new Float64Array(resamples);
  const sums = new Float64Array(m);
  for (let start = 0, stream = 0; start < resamples; start += STREAM_SIZE, stream++) {
    const random = streamRandom(seed, stream);
    const end = Math.min(start + STREAM_SIZE, resamples);
    for (let i = start; i < end; i++) {
      const total = sampler.draw(random, sums);
      kernel.fit(sums);
      let best = 0;
      if (pick.length > 1) {
        let least = Number.POSITIVE_INFINITY;
        for (let f = 0; f < pick.length; f++) {
          const criterion = Math.max(total - kernel.gain[pick[f]], 0) * penalty[f];
          if (criterion < least * notTied) {
            least = criterion;
            best = f;
          }
        }
      }
      chosen[i] = best;
      agronomic[i] = scalars.optimum(pick[best], 0);
      if (economic) economic[i] = scalars.optimum(pick[best], r);
      if (flex) flex[i] = scalars.flexScore(pick[best], sampler.level());
    }
  }

  const counts: Record<string, number> = Object.fromEntries(families.map((family) => [family, 0]));
  for (const f of chosen) counts[families[f]]++;
  const toDensity = (u: number): number =>
    u <= 0 ? design.levels[0] : u >= 1 ? design.levels[m - 1] : design.low + design.span * u;
  const range = { low: 0, high: 1 };
  return {
    schema: "standcurve/bootstrap/1",
    scheme,
    seed,
    resamples,
    streamSize: STREAM_SIZE,
    base: base.family,
    families,
    chosen: counts,
    agronomic: summarise(agronomic, level, range, toDensity),
    economic: economic && summarise(economic, level, range, toDensity),
    flexScore: flex && summarise(flex, level, null, (value) => value),
    replicates: keep
      ? {
          family: Array.from(chosen, (f) => families[f]),
          agronomic: plain(agronomic, toDensity),
          economic: economic && plain(economic, toDensity),
          flexScore: flex && plain(flex, (value) => value),
        }
      : null,
  };
}

function plain(values: Float64Array, scale: (value: number) => number): (number | null)[] {
  return Array.from(values, (value) => (Number.isNaN(value) ? null : scale(value)));
}

function usable(families: readonly Family[], data: PreparedData): InnerFamily[] {
  check(families.length > 0, "invalid-option", "families is empty; name at least one");
  const smooth = families.filter((family) => !isInner(family));
  check(smooth.length === 0, "not-offered", `only exact families are resampled; leave out ${smooth.join(", ")}`);
  const inner = families.filter(isInner).filter((family) => fitPrepared(family, data).status === "converged");
  check(inner.length > 0, "not-estimable", `none of ${families.join(", ")} can be fitted to these plots`);
  if (inner.length === 1) return inner;
  const ranked = inner.filter((family) => Number.isFinite(penaltyFactor(data, family)));
  check(ranked.length > 0, "not-estimable", "there are too few plots to compare families by AICc in every replicate");
  return ranked;
}

function baseFit(
  data: PreparedData,
  families: readonly InnerFamily[],
  comparison: CurveComparison | undefined,
): CurveFit {
  if (families.length === 1) return fitPrepared(families[0], data);
  const { fits, best } = comparison ?? comparePrepared(data, { families });
  const fit = fits.find((candidate) => candidate.family === best);
  return fit ?? fitPrepared(families[0], data);
}

/** exp(penalty / n): comparing RSS times this ranks like AICc = n ln(RSS / n) + penalty, without a logarithm. */
function penaltyFactor(data: PreparedData, family: InnerFamily): number {
  const n = data.design.nobs;
  const shape = family === "flat" ? 0 : family === "linear" ? 1 : 2;
  const k = data.design.blocks + shape + 1;
  const room = n - k - 1;
  return room > 0 ? Math.exp((2 * k + (2 * k * (k + 1)) / room) / n) : Number.POSITIVE_INFINITY;
}

/**
 * Reads optimum and flex score off the kernel's shapes, on the scaled axis. An optimum is NaN without response, <= 0 at or
 * below the lowest density, >= 1 at or above the highest; NaN never leaves this file.
 */
function scalarReader(
  data: PreparedData,
  shape: Float64Array,
  between: readonly [number, number] | undefined,
): { optimum(family: number, r: number): number; flexScore(family: number, level: number): number } {
  const { design } = data;
  const { scaled, low, span, blocks, blockWeight } = design;
  // Weight of each level in the mean over blocks of block means, for the level of the average block.
  const share = new Float64Array(scaled.length);
  for (let i = 0; i < design.nobs; i++) {
    share[design.level[i]] += data.weight[i] / blockWeight[design.block[i]] / blocks;
  }
  const meanU = scaled.reduce((sum, u, l) => sum + share[l] * u, 0);
  const meanV = scaled.reduce((sum, u, l) => sum + share[l] * u * u, 0);
  const [x1, x2] = between ?? [1, 2];
  const u1 = (x1 - low) / span;
  const u2 = (x2 - low) / span;
  const logRatio = Math.log(x2 / x1);
  const rise = (join: number, u: number, power: number): number => (u < join ? (join - u) ** power : 0);

  function optimum(family: number, r: number): number {
    switch (family) {
      case 0:
        return r > 0 ? 0 : Number.NaN;
      case 1:
        return shape[0] > r ? 1 : 0;
      case 2:
        if (shape[2] < 0) return (r - shape[1]) / (2 * shape[2]);
        return shape[1] + shape[2] > r ? 1 : 0;
      case 3:
        if (shape[3] === 0) return r > 0 ? 0 : Number.NaN;
        return shape[3] > r ? shape[4] : 0;
      default:
        if (shape[6] === Number.POSITIVE_INFINITY) return shape[0] > r ? 1 : 0;
        if (shape[5] === 0) return r > 0 ? 0 : Number.NaN;
        return shape[6] - r / (2 * shape[5]);
    }
  }

  /** `grand`: mean over blocks of the replicate's block means. */
  function flexScore(family: number, grand: number): number {
    let y1 = grand;
    let y2 = grand;
    if (family === 1 || (family === 4 && shape[6] === Number.POSITIVE_INFINITY)) {
      y1 += shape[0] * (u1 - meanU);
      y2 += shape[0] * (u2 - meanU);
    } else if (family === 2) {
      y1 += shape[1] * (u1 - meanU) + shape[2] * (u1 * u1 - meanV);
      y2 += shape[1] * (u2 - meanU) + shape[2] * (u2 * u2 - meanV);
    } else if (family > 2) {
      const power = family - 2;
      const rate = shape[family === 3 ? 3 : 5];
      const join = shape[family === 3 ? 4 : 6];
      let meanRise = 0;
      for (let l = 0; l < scaled.length; l++) meanRise += share[l] * rise(join, scaled[l], power);
      y1 += rate * (meanRise - rise(join, u1, power));
      y2 += rate * (meanRise - rise(join, u2, power));
    }
    return y1 > 0 && y2 > 0 ? 100 * (1 - Math.log(y2 / y1) / logRatio) : Number.NaN;
  }

  return { optimum, flexScore };
}
