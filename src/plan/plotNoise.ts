import type { Shape } from "../core/checkShape.ts";
import { checkShape } from "../core/checkShape.ts";
import { pow } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { YieldUnit } from "../trial/trial.ts";
import { type LengthUnit, type Measure, metresPer } from "../trial/units.ts";

/**
 * Where the standard deviation between plots of a block comes from: the figure itself; a coefficient of variation; an earlier
 * analysis; or the length of the strips.
 */
export type SigmaSource =
  | number
  | { readonly cvPercent: number; readonly meanYield: number }
  | { readonly analysis: AnalysedScatter; readonly hybrid?: string }
  | {
      readonly stripLength: Measure<LengthUnit>;
      /** A strip length whose standard deviation is known on such land. */
      readonly reference?: { readonly length: Measure<LengthUnit>; readonly sigma: number };
      /** sigma is proportional to length^-exponent; default 0.5. */
      readonly exponent?: number;
    };

/** The part of a `TrialAnalysis` that says how much plots scatter. */
export interface AnalysedScatter {
  readonly hybrids: readonly {
    readonly hybrid: string;
    readonly pooled:
      | { readonly kind: "not-estimable" }
      | {
          readonly kind: "analysed";
          readonly chosen: string;
          readonly comparison: {
            readonly fits: readonly {
              readonly family: string;
              readonly sigma: number | null;
              readonly dofResidual: number;
            }[];
          };
        };
  }[];
}

/** What `AnalysedScatter` must look like. */
export const analysedScatterShape: { readonly [property: string]: Shape } = { hybrids: "list" };

/** A standard deviation with the story behind it. */
export interface PlotNoise {
  /** Standard deviation between plots of one block, yield units. */
  readonly sigma: number;
  readonly source: string;
  readonly notes: readonly string[];
}

/** Wuest et al. (1994) by way of an extension sheet: LSD(0.05) with 3 replicates fell from 10 to 5 bu/ac from 250 to 1,000 ft. */
const WHEAT = { feet: 250, lsd: 10, longFeet: 1000 } as const;
/** Two-sided 5 % point of t with 4 degrees of freedom (3 treatments x 3 blocks): the sheet does not say how many there were. */
const T_FOUR = 2.7764451051977934;

/**
 * Settles the plot standard deviation of a plan.
 *
 * Strips: sigma(L) = sigma(ref) (L ref / L)^exponent. The exponent 0.5 is that of wheat uniformity trials, where a fourfold
 * length halved the least significant difference; without a reference their own level is taken (bu/ac only) and said.
 *
 * @throws AnalysisError `invalid-option` for a figure that is not positive or a source that cannot be used
 *
 * Source: Wuest, Miller, Guy, Karow, Roseberg & Alldredge (1994), cited in the extension literature for strip length.
 * @example
 * plotNoise({ cvPercent: 5, meanYield: 200 }, "bu/ac").sigma; // => 10
 */
export function plotNoise(from: SigmaSource, yieldUnit: YieldUnit): PlotNoise {
  if (typeof from === "number") {
    check(from > 0 && Number.isFinite(from), "invalid-option", `sigma must be > 0, got ${from}`);
    return { sigma: from, source: "given", notes: [] };
  }
  checkShape(from, "sigma", "object", "invalid-option");
  checkShape(yieldUnit, "yieldUnit", "text", "invalid-option");
  if ("cvPercent" in from) {
    checkShape(from, "sigma", { cvPercent: "number", meanYield: "number" }, "invalid-option");
    const { cvPercent, meanYield } = from;
    check(
      cvPercent > 0 && cvPercent < 100 && meanYield > 0,
      "invalid-option",
      `sigma needs 0 < cvPercent < 100 and meanYield > 0, got ${cvPercent} and ${meanYield}`,
    );
    return {
      sigma: (cvPercent / 100) * meanYield,
      source: `CV of ${cvPercent} % at ${meanYield} ${yieldUnit}`,
      notes: ["a CV falls as the mean yield rises, whatever the scatter: use the CV and the mean of the same trials"],
    };
  }
  if ("analysis" in from) return scatterOf(from.analysis, from.hybrid);
  return stripNoise(from, yieldUnit);
}

function scatterOf(analysis: AnalysedScatter, hybrid: string | undefined): PlotNoise {
  let squares = 0;
  let dof = 0;
  for (const { hybrid: name, pooled } of analysis.hybrids) {
    if (pooled.kind !== "analysed" || (hybrid !== undefined && name !== hybrid)) continue;
    const fit = pooled.comparison.fits.find((one) => one.family === pooled.chosen);
    if (fit === undefined || fit.sigma === null) continue;
    squares += fit.sigma * fit.sigma * fit.dofResidual;
    dof += fit.dofResidual;
  }
  check(
    dof > 0 && squares > 0,
    "invalid-option",
    `the analysis has no residual scatter${hybrid === undefined ? "" : ` for hybrid "${hybrid}"`}`,
  );
  return {
    sigma: Math.sqrt(squares / dof),
    source: `earlier analysis, ${dof} degrees of freedom`,
    notes:
      dof < 15
        ? [`a standard deviation from ${dof} degrees of freedom may well be a third too small or too large`]
        : [],
  };
}

function stripNoise(
  { stripLength, reference, exponent = 0.5 }: Extract<SigmaSource, { stripLength: unknown }>,
  yieldUnit: YieldUnit,
): PlotNoise {
  checkShape(stripLength, "stripLength", { value: "number", unit: "text" }, "invalid-option");
  const metres = metresOf(stripLength, "stripLength");
  check(exponent >= 0 && exponent <= 1, "invalid-option", `exponent must be from 0 to 1, got ${exponent}`);
  check(
    reference !== undefined || yieldUnit === "bu/ac",
    "invalid-option",
    `without a reference strip, sigma from strip length is known in bu/ac only; the plan is in ${yieldUnit}`,
  );
  const notes: string[] = [];
  let base = WHEAT.lsd / (T_FOUR * Math.sqrt(2 / 3));
  let baseMetres = WHEAT.feet * metresPer.ft;
  if (reference === undefined) {
    notes.push(
      "the level is that of wheat uniformity trials (LSD 10 bu/ac with 3 replicates of 250 ft; 4 degrees of freedom assumed): a figure from your own land is better",
    );
  } else {
    baseMetres = metresOf(reference.length, "reference.length");
    base = reference.sigma;
    check(base > 0, "invalid-option", `reference.sigma must be > 0, got ${base}`);
  }
  const ratio = metres / baseMetres;
  if (ratio < 0.5 || ratio > WHEAT.longFeet / WHEAT.feet)
    notes.push("the rule was seen between 250 and 1,000 ft; this strip is outside that range of lengths");
  return {
    sigma: base * pow(ratio, -exponent),
    source: `strips of ${stripLength.value} ${stripLength.unit}`,
    notes,
  };
}

function metresOf({ value, unit }: Measure<LengthUnit>, name: string): number {
  check(
    value > 0 && Number.isFinite(value) && Object.hasOwn(metresPer, unit),
    "invalid-option",
    `${name} must be a measure such as { value: 750, unit: "ft" }, got ${value} ${unit}`,
  );
  return value * metresPer[unit];
}
