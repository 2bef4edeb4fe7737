import { checkShape } from "../core/checkShape.ts";
import { log } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { tQuantile, tTwoSided } from "../numeric/distributions.ts";
import { type TraitInput, traitInputShape } from "./fitBrokenLine.ts";
import { numberBlocks } from "./numberBlocks.ts";

/** How strongly a plant trait shrinks as plants crowd. */
export interface CrowdingSlope {
  readonly schema: "standcurve/crowding-slope/1";
  readonly status: "converged" | "not-estimable";
  /** d ln(trait) / d ln(density): 0, crowding leaves the trait alone; -0.5 for a diameter keeps cross-section per area constant. */
  readonly slope: number | null;
  readonly standardError: number | null;
  readonly interval: Interval | null;
  /** Two-sided, against no change. */
  readonly pValue: number | null;
  readonly nobs: number;
  readonly dofResidual: number;
}

/**
 * Slope of ln(trait) on ln(density), blocks removed, by least squares.
 *
 * @param input - density and trait must be above 0
 * @throws AnalysisError `length-mismatch`; `invalid-data` for values at or below 0
 * @example
 * crowdingSlope({ density: [1, 4, 16], trait: [8, 4, 2] }).slope.toFixed(3); // => "-0.500"
 *
 * Source: least squares on logarithms; -0.5 follows from density * diameter^2 = constant.
 */
export function crowdingSlope(input: TraitInput, options: { readonly level?: number } = {}): CrowdingSlope {
  checkShape(input, "input", traitInputShape);
  const { density, trait, block } = input;
  checkShape(options, "options", { level: "number?" }, "invalid-option");
  const { level = 0.95 } = options;
  const n = density.length;
  check(n > 0, "invalid-data", "density is empty");
  check(trait.length === n, "length-mismatch", `density has ${n} values but trait has ${trait.length}`);
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  const { index, labels } = numberBlocks(block, n);
  const size = new Float64Array(labels.length);
  const meanX = new Float64Array(labels.length);
  const meanY = new Float64Array(labels.length);
  const x = new Float64Array(n);
  const y = new Float64Array(n);
  for (let i = 0; i < n; i++) {
    check(
      density[i] > 0 && Number.isFinite(density[i]),
      "invalid-data",
      `density[${i}] must be above 0, got ${density[i]}`,
    );
    check(trait[i] > 0 && Number.isFinite(trait[i]), "invalid-data", `trait[${i}] must be above 0, got ${trait[i]}`);
    x[i] = log(density[i]);
    y[i] = log(trait[i]);
    size[index[i]]++;
  }
  for (let i = 0; i < n; i++) {
    meanX[index[i]] += x[i] / size[index[i]];
    meanY[index[i]] += y[i] / size[index[i]];
  }
  let [xx, xy, yy] = [0, 0, 0];
  for (let i = 0; i < n; i++) {
    const dx = x[i] - meanX[index[i]];
    const dy = y[i] - meanY[index[i]];
    xx += dx * dx;
    xy += dx * dy;
    yy += dy * dy;
  }
  const dofResidual = Math.max(0, n - labels.length - 1);
  const base = { schema: "standcurve/crowding-slope/1", nobs: n, dofResidual } as const;
  if (!(xx > 1e-12 * n))
    return { ...base, status: "not-estimable", slope: null, standardError: null, interval: null, pValue: null };
  const slope = xy / xx;
  const rss = Math.max(0, yy - slope * xy);
  const standardError = dofResidual > 0 ? Math.sqrt(rss / dofResidual / xx) : null;
  if (standardError === null)
    return { ...base, status: "converged", slope, standardError, interval: null, pValue: null };
  const reach = standardError * tQuantile((1 + level) / 2, dofResidual);
  const interval = {
    lower: slope - reach,
    upper: slope + reach,
    lowerOpen: false,
    upperOpen: false,
    level,
    method: "t",
  };
  const pValue = standardError > 0 ? tTwoSided(slope / standardError, dofResidual) : null;
  return { ...base, status: "converged", slope, standardError, interval, pValue };
}
