import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import {
  type BreakCandidate,
  breakCandidates,
  breaksWithGain,
  brokenLineDesign,
  levelSums,
  project,
  sumOfSquares,
} from "../numeric/brokenLine.ts";
import { fQuantile } from "../numeric/distributions.ts";
import { brokenLineCoefficients } from "./brokenLineCoefficients.ts";
import { brokenLineTest } from "./brokenLineTest.ts";
import { numberBlocks } from "./numberBlocks.ts";

/** A measured trait (stalk diameter, rind strength, height …) per plot; parallel arrays. */
export interface TraitInput {
  readonly density: ArrayLike<number>;
  readonly trait: ArrayLike<number>;
  /** Block or environment of each plot; default: one block. */
  readonly block?: ArrayLike<string | number>;
}

/** What `TraitInput` must look like. */
export const traitInputShape: { readonly [property: string]: Shape } = {
  density: "numbers",
  trait: "numbers",
  block: "labels?",
};

export interface FitBrokenLineOptions {
  /** Level of the interval; default 0.95. */
  readonly level?: number;
  /** Trials simulated under a straight line for the test; default 9999. */
  readonly simulations?: number;
  /** Start of the random numbers; default 1. */
  readonly seed?: number;
}

/** What `FitBrokenLineOptions` must look like. */
export const fitBrokenLineOptionsShape: { readonly [property: string]: Shape } = {
  level: "number?",
  simulations: "count?",
  seed: "number?",
};

/** Straight line against broken line: does the trait change course at some density, and where? JSON-safe. */
export interface BrokenLineFit {
  readonly schema: "standcurve/broken-line/1";
  /**
   * `converged`: the break is the least-squares one. `break-not-identified`: only the lowest, or only the highest, density
   * leaves the line, so any break next to it fits alike; `break` is the inner end of that stretch. `perfect`: the line
   * leaves no residual. `not-estimable`: fewer than four densities, or too few plots.
   */
  readonly status: "converged" | "break-not-identified" | "perfect" | "not-estimable";
  /** Density at which the two lines meet, in the unit of the data. */
  readonly break: number | null;
  /** Null on a tested density, where the sum of squares has a corner. */
  readonly breakError: number | null;
  /** All breaks not rejected by F(1, dofResidual); often several pieces, often open. */
  readonly interval: Interval | null;
  /** Change of the trait per unit of density below and above the break. */
  readonly slopes: { readonly left: number | null; readonly right: number | null };
  readonly slopeErrors: { readonly left: number | null; readonly right: number | null };
  /** Level of the average block on the left line at density 0. */
  readonly intercept: number | null;
  readonly rss: number | null;
  readonly sigma: number | null;
  readonly nobs: number;
  /** Plots - blocks - 3. */
  readonly dofResidual: number;
  /** The straight line through the same plots. */
  readonly straight: {
    readonly intercept: number;
    readonly slope: number;
    readonly slopeError: number | null;
    readonly rss: number;
  } | null;
  /** ((rss straight - rss) / 2) / (rss / dofResidual); its distribution is simulated, not F. */
  readonly statistic: number | null;
  /** Chance of a statistic this large when the trait follows a straight line. */
  readonly pValue: number | null;
  readonly test: { readonly simulations: number; readonly seed: number } | null;
  /** Other breaks that fit best among their neighbours, best first. */
  readonly localMinima: readonly { readonly break: number; readonly rss: number }[];
  readonly range: readonly [number, number];
  readonly note: string | null;
}

/**
 * Broken line: trait = block level + left slope * x below the break, right slope beyond it, joined at the break.
 *
 * The least-squares break is found exactly, interval by interval between tested densities: no starting value, no iteration.
 * The interval inverts the profile F test and may consist of several pieces. The test against a straight line compares the
 * largest F over all breaks with trials simulated under a straight line with the same densities and blocks, so its size is
 * the nominal one for normal errors, which that of a plain F(2, dof) is not.
 *
 * @throws AnalysisError `length-mismatch`, `invalid-data`, `invalid-option`
 * @example
 * const x = [1, 2, 3, 4, 5, 6];
 * fitBrokenLine({ density: x, trait: x.map((d) => 20 - Math.max(d - 3.5, 0)) }).status; // => "converged"
 *
 * Source: Hudson (1966), JASA 61, 1097-1129 (exact search); Davies (1987), Biometrika 74(1), 33-43 (a break that exists only
 * under the alternative). Oracle: test/oracle/segmented_share.json.
 */
export function fitBrokenLine(input: TraitInput, options: FitBrokenLineOptions = {}): BrokenLineFit {
  checkShape(input, "input", traitInputShape);
  checkShape(options, "options", fitBrokenLineOptionsShape, "invalid-option");
  const { level = 0.95, simulations = 9999, seed = 1 } = options;
  const n = input.density.length;
  check(n > 0, "invalid-data", "density is empty");
  check(input.trait.length === n, "length-mismatch", `density has ${n} values but trait has ${input.trait.length}`);
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(
    Number.isInteger(simulations) && simulations >= 99,
    "invalid-option",
    `simulations must be a whole number of at least 99, got ${simulations}`,
  );
  for (let i = 0; i < n; i++) {
    check(
      Number.isFinite(input.density[i]),
      "invalid-data",
      `density[${i}] must be a finite number, got ${input.density[i]}`,
    );
    check(
      Number.isFinite(input.trait[i]),
      "invalid-data",
      `trait[${i}] must be a finite number, got ${input.trait[i]}`,
    );
  }
  const density = Float64Array.from(input.density);
  const y = Float64Array.from(input.trait);
  const { index, labels } = numberBlocks(input.block, n);
  const [low, high] = [Math.min(...density), Math.max(...density)];
  const span = high - low;
  const dofResidual = n - labels.length - 3;
  const frame = { ...emptyFit, nobs: n, dofResidual: Math.max(0, dofResidual), range: [low, high] as const };
  if (span === 0) return { ...frame, note: "All plots have one density." };
  const design = brokenLineDesign(
    density.map((x) => (x - low) / span),
    index,
    labels.length,
  );
  if (!(design.centredSquare > 1e-12 * n)) return { ...frame, note: "No block holds two densities." };
  const projected = project(y, design);
  const rss0 = sumOfSquares(projected);
  const line = brokenLineCoefficients(design, y, null);
  const straight = {
    intercept: line.level - (line.left / span) * low,
    slope: line.left / span,
    slopeError: n - labels.length - 1 > 0 ? Math.sqrt((rss0 / (n - labels.length - 1)) * line.vcov[0]) / span : null,
    rss: rss0,
  };
  if (design.levels.length < 4) return { ...frame, straight, note: "A break needs at least four densities." };
  if (dofResidual < 1) return { ...frame, straight, note: "There are too few plots for a break." };
  const size = sumOfSquares(y.map((value) => value - y[0]));
  if (rss0 <= 1e-24 * size) {
    return { ...frame, status: "perfect", straight, rss: rss0, note: "The straight line passes through every plot." };
  }

  const sums = levelSums(projected, design);
  const candidates = breakCandidates(design, sums);
  if (candidates.length === 0) return { ...frame, straight, note: "Density is confounded with blocks." };
  const best = candidates.reduce((a, b) => (b.gain > a.gain * (1 + 1e-12) ? b : a));
  const rss = Math.max(0, sumOfSquares(projected) - best.gain);
  const fit = brokenLineCoefficients(design, y, best.at);
  // The difference above loses digits when the break explains nearly everything; the residuals themselves do not.
  const exactRss = fit.rss;
  const s2 = exactRss / dofResidual;
  const toDensity = (u: number) => low + span * u;
  const identified = best.where === "interior" || best.where === "level";
  const smooth = best.where === "interior" && fit.vcov.length === 9;
  const cut = s2 * fQuantile(level, 1, dofResidual);
  // A fit without residual accepts its own break only, and rounding may lose even that.
  const accepted = breaksWithGain(design, sums, rss0 - exactRss - cut);
  const statistic = exactRss > 0 ? (rss0 - exactRss) / 2 / s2 : null;
  const test = statistic === null ? null : brokenLineTest(design, statistic, dofResidual, simulations, seed);
  const error = (weights: readonly number[]) =>
    smooth && s2 > 0 ? Math.sqrt(s2 * form(fit.vcov, weights)) / span : null;
  return {
    ...frame,
    status: identified ? "converged" : "break-not-identified",
    break: toDensity(best.at),
    breakError: smooth && s2 > 0 ? Math.sqrt(s2 * form(fit.vcov, [0, 0, 1])) * span : null,
    interval: breakInterval(accepted.length > 0 ? accepted : [[best.at, best.at]], toDensity, level),
    slopes: { left: fit.left / span, right: (fit.left + fit.change) / span },
    slopeErrors: { left: error([1, 0, 0]), right: error([1, 1, 0]) },
    intercept: fit.level - (fit.left / span) * low,
    rss: exactRss,
    sigma: Math.sqrt(s2),
    straight,
    statistic,
    pValue: test,
    test: test === null ? null : { simulations, seed },
    localMinima: localMinima(candidates, best, rss0, rss).map((c) => ({ break: toDensity(c.at), rss: rss0 - c.gain })),
    note: identified
      ? null
      : `Only the ${best.where === "first" ? "lowest" : "highest"} density leaves the line, so the place of the break is not identified.`,
  };
}

const emptyFit = {
  schema: "standcurve/broken-line/1",
  status: "not-estimable",
  break: null,
  breakError: null,
  interval: null,
  slopes: { left: null, right: null },
  slopeErrors: { left: null, right: null },
  intercept: null,
  rss: null,
  sigma: null,
  straight: null,
  statistic: null,
  pValue: null,
  test: null,
  localMinima: [],
  note: null,
} as const;

function form(v: Float64Array, g: readonly number[]): number {
  let sum = 0;
  for (let i = 0; i < 3; i++) for (let j = 0; j < 3; j++) sum += g[i] * v[i * 3 + j] * g[j];
  return sum;
}

function breakInterval(parts: [number, number][], toDensity: (u: number) => number, level: number): Interval {
  const pieces = parts.map(([from, to]) => ({
    lower: from <= 0 ? null : toDensity(from),
    upper: to >= 1 ? null : toDensity(to),
  }));
  const lower = pieces[0]?.lower ?? null;
  const upper = pieces.at(-1)?.upper ?? null;
  const several = pieces.length > 1 ? { pieces } : {};
  return { lower, upper, lowerOpen: lower === null, upperOpen: upper === null, level, method: "profile", ...several };
}

/** Candidates that beat both neighbours, without the winner. */
function localMinima(candidates: BreakCandidate[], best: BreakCandidate, rss0: number, rss: number): BreakCandidate[] {
  const margin = 1e-11 * Math.max(rss, 1e-12 * rss0);
  return candidates
    .filter((c, i) => {
      const left = candidates[i - 1]?.gain ?? -Infinity;
      const right = candidates[i + 1]?.gain ?? -Infinity;
      return c !== best && c.gain >= left + margin && c.gain >= right + margin;
    })
    .sort((a, b) => b.gain - a.gain);
}
