import { check } from "../core/errors.ts";
import { type RandomStream, streamRandom } from "../core/random.ts";
import { type Family, isInner } from "../curves/family.ts";
import type { DensityUnit, YieldUnit } from "../trial/trial.ts";
import type { AnalysedScatter } from "./plotNoise.ts";
import type { TruthCurve } from "./truthCurves.ts";

/** One fit of an analysis, as far as planning needs it; a `CurveFit` is one. */
export interface AnalysedFit {
  readonly family: Family;
  readonly status: string;
  readonly curve: { readonly family: Family; readonly theta: readonly number[] } | null;
  readonly vcov: readonly (readonly number[])[] | null;
  readonly sigma: number | null;
  readonly rss: number | null;
  readonly dofResidual: number;
}

/** An analysed curve, as far as planning needs it; a `CurveAnalysis` is one. */
export interface AnalysedCurve {
  readonly kind: "analysed";
  readonly hybrid: string;
  readonly environments: number;
  readonly blocks: number;
  readonly plots: number;
  readonly densities: readonly number[];
  readonly chosen: Family;
  readonly meanYield: number;
  readonly comparison: {
    readonly fits: readonly AnalysedFit[];
    readonly ranking: readonly { readonly family: Family; readonly weight: number }[];
  };
  readonly agronomic: {
    readonly interval: {
      readonly lower: number | null;
      readonly upper: number | null;
      readonly lowerOpen: boolean;
      readonly upperOpen: boolean;
      readonly level: number;
    };
    readonly optimum: { readonly kind: string; readonly density: number | null };
  };
}

/** The parts of a `TrialAnalysis` that planning needs; every `TrialAnalysis` is one. */
export interface AnalysedTrial extends AnalysedScatter {
  readonly schema: string;
  readonly trial: { readonly densityUnit: DensityUnit; readonly yieldUnit: YieldUnit };
  readonly hybrids: readonly {
    readonly hybrid: string;
    readonly pooled: AnalysedCurve | { readonly kind: "not-estimable"; readonly reason: string };
    readonly environments: readonly (AnalysedCurve | { readonly kind: "not-estimable"; readonly reason: string })[];
  }[];
}

/** Families with less support than this are left out of the draws. */
const LEAST_WEIGHT = 0.005;

/** The analysed curve of one hybrid: the named one, or the only one. */
export function analysedCurve(analysis: AnalysedTrial, hybrid?: string): AnalysedCurve {
  const names = analysis.hybrids.map((one) => one.hybrid);
  check(
    hybrid !== undefined || names.length === 1,
    "invalid-option",
    `the analysis has ${names.length} hybrids; say which with hybrid: ${names.slice(0, 8).join(", ")}`,
  );
  const found = analysis.hybrids.find((one) => hybrid === undefined || one.hybrid === hybrid);
  check(found !== undefined, "invalid-option", `hybrid "${hybrid}" is not among ${names.slice(0, 8).join(", ")}`);
  const { pooled } = found;
  check(
    pooled.kind === "analysed",
    "not-estimable",
    `${found.hybrid} could not be analysed: ${pooled.kind === "analysed" ? "" : pooled.reason}`,
  );
  return pooled;
}

/**
 * Curves that an analysis leaves possible: for every family its Akaike weight, spread over draws from the normal distribution
 * with the fit's estimates and covariance.
 *
 * A fit without covariance (a limit, or no residual degrees of freedom) stands for itself alone. Draws of a plateau that does
 * not rise are drawn again, up to 50 times. The normal distribution is an approximation for the join of a plateau.
 *
 * @param draws - curves in all; default 200
 * @throws AnalysisError `not-estimable` when no inner family was fitted
 *
 * Source: Akaike weights as in Burnham & Anderson (2002), ch. 2; normal approximation of the posterior.
 */
export function posteriorCurves(
  analysis: AnalysedTrial,
  hybrid?: string,
  draws = 200,
  seed = 1,
): { readonly curves: readonly TruthCurve[]; readonly hybrid: string } {
  check(
    Number.isInteger(draws) && draws >= 1 && draws <= 100_000,
    "invalid-option",
    `draws must be an integer from 1 to 100,000, got ${draws}`,
  );
  const curve = analysedCurve(analysis, hybrid);
  const { fits, ranking } = curve.comparison;
  const usable = fits.flatMap((fit) => {
    const weight = ranking.find((rank) => rank.family === fit.family)?.weight ?? 0;
    return fit.curve !== null && fit.status === "converged" && isInner(fit.curve.family) && weight >= LEAST_WEIGHT
      ? [{ fit, weight }]
      : [];
  });
  check(usable.length > 0, "not-estimable", `no curve with an exact fit is supported for ${curve.hybrid}`);
  const total = usable.reduce((sum, { weight }) => sum + weight, 0);
  const random = streamRandom(seed, 0);
  const curves = usable.flatMap(({ fit, weight }) => drawFit(fit, weight / total, draws, random));
  return { curves, hybrid: curve.hybrid };
}

function drawFit(fit: AnalysedFit, weight: number, draws: number, random: RandomStream): TruthCurve[] {
  const { family, theta } = fit.curve as { family: Family; theta: readonly number[] };
  if (!isInner(family)) return [];
  const root = fit.vcov === null ? null : choleskyOf(fit.vcov);
  if (root === null || fit.vcov?.length !== theta.length) return [{ family, theta, weight }];
  const count = Math.max(1, Math.round(weight * draws));
  const bent = family === "linear-plateau" || family === "quadratic-plateau";
  return Array.from({ length: count }, () => {
    for (let attempt = 0; attempt < 50; attempt++) {
      const z = theta.map(() => random.normal());
      const drawn = theta.map((value, i) => value + root[i].reduce((sum, factor, j) => sum + factor * z[j], 0));
      if (!bent || (drawn[1] > 0 && drawn[2] > 0)) return { family, theta: drawn, weight: weight / count };
    }
    return { family, theta, weight: weight / count };
  });
}

/** Lower triangle L with L L' = a; null when a is not positive definite to working precision. */
function choleskyOf(a: readonly (readonly number[])[]): number[][] | null {
  const n = a.length;
  const root = a.map(() => new Array<number>(n).fill(0));
  // The level and the slope differ by orders of magnitude, so the matrix is scaled to a correlation first.
  const scale = a.map((row, i) => Math.sqrt(row[i]));
  if (!scale.every((value) => value > 0 && Number.isFinite(value))) return null;
  for (let i = 0; i < n; i++) {
    for (let j = 0; j <= i; j++) {
      let sum = a[i][j] / (scale[i] * scale[j]);
      for (let k = 0; k < j; k++) sum -= root[i][k] * root[j][k];
      if (i === j) {
        // Estimates of a curve far from density 0 are nearly collinear there; rounding may take the last pivot below zero.
        if (sum < -1e-8) return null;
        root[i][i] = Math.sqrt(Math.max(sum, 0));
      } else root[i][j] = root[j][j] > 0 ? sum / root[j][j] : 0;
    }
  }
  return root.map((row, i) => row.map((value) => value * scale[i]));
}
