import { checkShape, type Shape } from "../core/checkShape.ts";
import { exp, log } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import type { Interval } from "../core/interval.ts";
import { logSlopes, slopeInterval } from "./crowdingResponseSlopes.ts";
import { componentValues, type EarComponent, type EarRow, earComponentNames } from "./earComponentsRows.ts";
import { type EarSampling, samplingGuidance } from "./earComponentsSampling.ts";
import { ratioSet } from "./earComponentsShares.ts";

export interface EarComponentsOptions {
  /** Level of all intervals; default 0.95. */
  readonly level?: number;
  /** A flex score found otherwise (from a fitted curve) to be split in the same proportions; by hybrid. */
  readonly flexScore?: Readonly<Record<string, number>>;
  /** Precision wanted of each component's mean in one plot, as a share, for the sampling guidance; default 0.05. */
  readonly precision?: number;
}

/** What `EarComponentsOptions` must look like. */
export const earComponentsOptionsShape: { readonly [property: string]: Shape } = {
  level: "number?",
  flexScore: "any?",
  precision: "number?",
};

/** One component's part in how yield per plant falls with density. */
export interface ComponentPart {
  readonly component: EarComponent;
  /** What it stands for: prolificacy (and barrenness), girth, length, depth. */
  readonly meaning: "prolificacy" | "girth" | "length" | "depth";
  /** d ln(component) / d ln(density). */
  readonly slope: number;
  readonly standardError: number | null;
  /** Of this slope by itself. */
  readonly interval: Interval | null;
  /** All four hold together at the level (Bonferroni). */
  readonly jointInterval: Interval | null;
  /** Points of the flex score it carries: -100 x slope; the four add up exactly to `flexScore`. */
  readonly points: number;
  /** Share of the whole response, and its interval (all four together); an open end means "not bounded by these plots". */
  readonly share: number | null;
  readonly shareInterval: Interval | null;
  /** Points of the flex score given in the options, in the same proportion; null without one. */
  readonly pointsOfGiven: number | null;
}

/** Means of one density. */
export interface DensityComponents {
  readonly density: number;
  readonly plots: number;
  readonly earsPerPlant: number;
  readonly rowsPerEar: number;
  readonly kernelsPerRow: number;
  /** mg. */
  readonly kernelMass: number;
  /** Grain per plant from the components, g (mean of plots). */
  readonly grainPerPlant: number;
  /** Share of plants without an ear, at least 1 - ears per plant; 0 when there are second ears enough to hide it. */
  readonly barrenAtLeast: number;
}

/** Agreement of component yield with weighed yield. */
export interface Closure {
  readonly plots: number;
  /** Geometric mean of component yield / weighed yield: 1 is perfect. */
  readonly ratio: number;
  /** Slope of the log ratio on log density: 0 when the components explain the whole response. */
  readonly slope: number | null;
  readonly interval: Interval | null;
}

export interface HybridComponents {
  readonly hybrid: string;
  readonly status: "converged" | "not-estimable";
  readonly nobs: number;
  readonly dofResidual: number;
  readonly densities: readonly DensityComponents[];
  /** In the order ears per plant, rows, kernels per row, kernel mass; empty when not estimable. */
  readonly parts: readonly ComponentPart[];
  /** Slope of ln(grain per plant) on ln(density): the exact sum of the parts' slopes. */
  readonly total: { readonly slope: number; readonly interval: Interval | null } | null;
  /** 100 x the compensation elasticity of the log-log line: -100 x total slope. */
  readonly flexScore: number | null;
  /** Null when no plot was weighed. */
  readonly closure: Closure | null;
  readonly sampling: EarSampling;
}

export interface EarComponents {
  readonly schema: "standcurve/ear-components/1";
  readonly level: number;
  readonly hybrids: readonly HybridComponents[];
  readonly notes: readonly string[];
}

/**
 * Why yield per plant falls as density rises: an exact split over ears per plant, rows per ear, kernels per row and kernel mass.
 *
 * ln(grain per plant) = ln(ears/plant) + ln(rows/ear) + ln(kernels/row) + ln(kernel mass), so least-squares slopes on ln(density) over the
 * same plots add exactly. -100 x the sum is the flex score of the log-log line; each part carries its own points. Shares are ratios
 * of slopes with Fieller sets; joint intervals hold for all four parts together.
 *
 * @param rows - one a plot (or a density mean); kernel mass in mg
 * @throws AnalysisError `invalid-data` when a row breaks a rule (all of them are listed); `invalid-option`
 * @example
 * const rows = [24, 28, 32].map((density) => ({ density, earsPerPlant: 1, rowsPerEar: 16, kernelsPerRow: 912 / density, kernelMass: 300 }));
 * earComponents(rows).hybrids[0].flexScore.toFixed(6); // => "100.000000"
 *
 * Source: identity of yield components; shares: Fieller (1954), JRSS B 16, 175-185.
 */
export function earComponents(rows: readonly EarRow[], options: EarComponentsOptions = {}): EarComponents {
  checkShape(rows, "rows", "objects");
  checkShape(options, "options", earComponentsOptionsShape, "invalid-option");
  const { level = 0.95, precision = 0.05 } = options;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(precision > 0 && precision < 1, "invalid-option", `precision must be between 0 and 1, got ${precision}`);
  const values = componentValues(rows);
  const hybrids = [...new Set(values.map(({ hybrid }) => hybrid))].map((hybrid) =>
    oneHybrid(
      hybrid,
      values.filter((row) => row.hybrid === hybrid),
      level,
      precision,
      givenScore(options, hybrid),
    ),
  );
  return {
    schema: "standcurve/ear-components/1",
    level,
    hybrids,
    notes: [
      "Rows are set before kernels per row, and those before kernel mass: an early component that gives way points to early stress.",
      "Count from the milk stage (R3) on: earlier counts are too high, because kernels still abort.",
    ],
  };
}

function givenScore({ flexScore }: EarComponentsOptions, hybrid: string): number | null {
  return flexScore !== undefined && Object.hasOwn(flexScore, hybrid) ? flexScore[hybrid] : null;
}

const meanings = ["prolificacy", "girth", "length", "depth"] as const;

type Values = ReturnType<typeof componentValues>[number];

function oneHybrid(
  hybrid: string,
  rows: readonly Values[],
  level: number,
  precision: number,
  given: number | null,
): HybridComponents {
  const density = rows.map((row) => row.density);
  const block = rows.map((row) => row.block);
  const fit = logSlopes(
    density,
    earComponentNames.map((name) => rows.map((row) => row[name])),
    block,
    earComponentNames,
  );
  const base = {
    hybrid,
    nobs: rows.length,
    dofResidual: fit?.dofResidual ?? 0,
    densities: byDensity(rows),
    closure: closureOf(rows, level),
    sampling: samplingGuidance(rows, precision),
  };
  if (fit === null) return { ...base, status: "not-estimable", parts: [], total: null, flexScore: null };
  const { slopes, vcov, dofResidual } = fit;
  const total = slopes.reduce((sum, slope) => sum + slope, 0);
  const each = 1 - (1 - level) / slopes.length;
  const rowSums = vcov?.map((row) => row.reduce((sum, v) => sum + v, 0)) ?? null;
  const totalVariance = rowSums?.reduce((sum, v) => sum + v, 0) ?? null;
  const parts = slopes.map((slope, j): ComponentPart => {
    const variance = vcov?.[j][j] ?? null;
    const share = total === 0 ? null : slope / total;
    return {
      component: earComponentNames[j],
      meaning: meanings[j],
      slope,
      standardError: variance === null ? null : Math.sqrt(variance),
      interval: variance === null ? null : slopeInterval(slope, variance, dofResidual, level, level),
      jointInterval: variance === null ? null : slopeInterval(slope, variance, dofResidual, level, each),
      points: -100 * slope,
      share,
      shareInterval:
        variance === null || rowSums === null || totalVariance === null
          ? null
          : ratioSet(slope, total, variance, rowSums[j], totalVariance, dofResidual, level, each),
      pointsOfGiven: given === null || share === null ? null : given * share,
    };
  });
  return {
    ...base,
    status: "converged",
    parts,
    total: {
      slope: total,
      interval: totalVariance === null ? null : slopeInterval(total, totalVariance, dofResidual, level, level),
    },
    flexScore: -100 * total,
  };
}

function byDensity(rows: readonly Values[]): DensityComponents[] {
  const levels = [...new Set(rows.map(({ density }) => density))].sort((a, b) => a - b);
  return levels.map((density) => {
    const own = rows.filter((row) => row.density === density);
    const mean = (of: (row: Values) => number): number => own.reduce((sum, row) => sum + of(row), 0) / own.length;
    const earsPerPlant = mean((row) => row.earsPerPlant);
    return {
      density,
      plots: own.length,
      earsPerPlant,
      rowsPerEar: mean((row) => row.rowsPerEar),
      kernelsPerRow: mean((row) => row.kernelsPerRow),
      kernelMass: mean((row) => row.kernelMass),
      grainPerPlant: mean(grainPerPlant),
      barrenAtLeast: Math.max(0, 1 - earsPerPlant),
    };
  });
}

/** g. */
function grainPerPlant({ earsPerPlant, rowsPerEar, kernelsPerRow, kernelMass }: Values): number {
  return (earsPerPlant * rowsPerEar * kernelsPerRow * kernelMass) / 1000;
}

function closureOf(rows: readonly Values[], level: number): Closure | null {
  const weighed = rows.filter((row) => row.weighedPerPlant !== null);
  if (weighed.length === 0) return null;
  const ratios = weighed.map((row) => grainPerPlant(row) / (row.weighedPerPlant as number));
  const fit = logSlopes(
    weighed.map(({ density }) => density),
    [ratios],
    weighed.map(({ block }) => block),
    ["ratio"],
  );
  const slope = fit?.slopes[0] ?? null;
  return {
    plots: weighed.length,
    ratio: exp(ratios.reduce((sum, ratio) => sum + log(ratio), 0) / ratios.length),
    slope,
    interval:
      fit?.vcov == null || slope === null ? null : slopeInterval(slope, fit.vcov[0][0], fit.dofResidual, level, level),
  };
}
