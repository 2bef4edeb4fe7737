import { checkShape, type Shape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { type Family, innerFamilies } from "../curves/family.ts";
import type { Trial } from "../trial/trial.ts";
import { convertDensity } from "../trial/units.ts";

/** Prices as the trade quotes them; converted to the trial's units inside. */
export interface Prices {
  /** Money per yield unit of the trial (per bushel when yields are bu/ac). */
  readonly grainPrice: number;
  /** Money per 1,000 seeds. */
  readonly seedCostPerThousand: number;
  /** Costs that grow with yield (drying, hauling), money per yield unit; default 0. */
  readonly yieldCost?: number;
}

export interface AnalyzeOptions {
  /** Families compared; default the five inner ones. Intervals and bootstrap always use the inner ones among them. */
  readonly families?: readonly Family[];
  /** Confidence level; default 0.95. */
  readonly level?: number;
  /** Start of the random numbers, integer >= 0; default 1. Each hybrid and environment gets its own streams from it. */
  readonly seed?: number;
  /**
   * Bootstrap replicates for each curve; default 2000; 0 leaves the bootstrap out. Lodging limits use 99 to 499 of them
   * (199 in a single environment), the joint refits of yield and lodging 99 to 299.
   */
  readonly resamples?: number;
  /** Reference densities of the flex score; default: the range tested for all hybrids. */
  readonly between?: readonly [number, number];
  /** Without prices there is no economic optimum. */
  readonly prices?: Prices;
  /** Share of the best yield that counts as nearly as good; default 0.01. */
  readonly nearBestShare?: number;
  /** Money per area that counts as nearly as good; default 1. */
  readonly nearBestLoss?: number;
  /** Size of a miss, density units; default 2,000 plants per acre. */
  readonly missBy?: number;
  /** Analyse each environment by itself too, when there are several; default true. */
  readonly byEnvironment?: boolean;
  /** Analyse lodging, stalk traits and ratings too, where they were recorded; default true. */
  readonly standability?: boolean;
  /**
   * What the decision over all environments hangs on: plots, blocks, densities and environments left out in turn, and checks of the
   * curve; default true.
   */
  readonly scrutiny?: boolean;
  /** Share of lodged plants that is still accepted, 0 < share < 1; default 0.10 (common practice, no source). */
  readonly toleratedLodging?: number;
  /** Share of a lodged plant's grain that is not harvested, 0 to 1; default 0.5, a convention: state the local figure. */
  readonly lossShare?: number;
  /** Fit mixed models over environments and hybrids too, where the data allow; default true. */
  readonly mixedModels?: boolean;
  /** Yield expected of the field, in the trial's yield unit: the response at that level is given too. */
  readonly yieldGoal?: number;
  /** Answer a yield goal outside the levels of the environments seen; default false. */
  readonly extrapolateYieldGoal?: boolean;
  /** Called after each curve with the number done, the number in all and what was done. */
  readonly onProgress?: (done: number, total: number, what: string) => void;
}

/** What `AnalyzeOptions` must look like. */
const analyzeOptionsShape: { readonly [property: string]: Shape } = {
  families: "labels?",
  level: "number?",
  seed: "number?",
  resamples: "count?",
  between: "numbers?",
  prices: "object?",
  nearBestShare: "number?",
  nearBestLoss: "number?",
  missBy: "number?",
  byEnvironment: "flag?",
  standability: "flag?",
  scrutiny: "flag?",
  toleratedLodging: "number?",
  lossShare: "number?",
  mixedModels: "flag?",
  yieldGoal: "number?",
  extrapolateYieldGoal: "flag?",
  onProgress: "function?",
  issues: "objects?",
};

/** Options with defaults filled in: what the result repeats. */
export interface AnalyzeSettings {
  readonly families: readonly Family[];
  readonly level: number;
  readonly seed: number;
  readonly resamples: number;
  readonly between: readonly [number, number] | null;
  readonly prices: Prices | null;
  readonly nearBestShare: number;
  readonly nearBestLoss: number;
  readonly missBy: number;
  readonly byEnvironment: boolean;
  readonly standability: boolean;
  readonly scrutiny: boolean;
  readonly toleratedLodging: number;
  readonly lossShare: number;
  readonly mixedModels: boolean;
  readonly yieldGoal: number | null;
  readonly extrapolateYieldGoal: boolean;
}

export function settle(trial: Trial, options: AnalyzeOptions): AnalyzeSettings {
  checkShape(options, "options", analyzeOptionsShape, "invalid-option");
  if (options.prices !== undefined)
    checkShape(
      options.prices,
      "prices",
      { grainPrice: "number", seedCostPerThousand: "number", yieldCost: "number?" },
      "invalid-option",
    );
  const settings = {
    families: options.families ?? innerFamilies,
    level: options.level ?? 0.95,
    seed: options.seed ?? 1,
    resamples: options.resamples ?? 2000,
    between: options.between ?? null,
    prices: options.prices ?? null,
    nearBestShare: options.nearBestShare ?? 0.01,
    nearBestLoss: options.nearBestLoss ?? 1,
    missBy: options.missBy ?? convertDensity(2000, "plants/ac", trial.densityUnit),
    byEnvironment: options.byEnvironment ?? true,
    standability: options.standability ?? true,
    scrutiny: options.scrutiny ?? true,
    toleratedLodging: options.toleratedLodging ?? 0.1,
    lossShare: options.lossShare ?? 0.5,
    mixedModels: options.mixedModels ?? true,
    yieldGoal: options.yieldGoal ?? null,
    extrapolateYieldGoal: options.extrapolateYieldGoal ?? false,
  };
  const { yieldGoal } = settings;
  check(
    yieldGoal === null || (yieldGoal > 0 && Number.isFinite(yieldGoal)),
    "invalid-option",
    `yieldGoal must be > 0, got ${yieldGoal}`,
  );
  check(
    yieldGoal === null || settings.mixedModels,
    "invalid-option",
    "yieldGoal needs the mixed models, but mixedModels is false",
  );
  const { toleratedLodging, lossShare } = settings;
  check(
    toleratedLodging > 0 && toleratedLodging < 1,
    "invalid-option",
    `toleratedLodging must be a share between 0 and 1 (10 % is 0.1), got ${toleratedLodging}`,
  );
  check(
    lossShare >= 0 && lossShare <= 1,
    "invalid-option",
    `lossShare must be a share from 0 to 1 (half is 0.5), got ${lossShare}`,
  );
  const { level, seed, resamples, missBy, prices } = settings;
  check(level > 0 && level < 1, "invalid-option", `level must be between 0 and 1, got ${level}`);
  check(Number.isSafeInteger(seed) && seed >= 0, "invalid-option", `seed must be an integer >= 0, got ${seed}`);
  check(
    Number.isInteger(resamples) && resamples >= 0,
    "invalid-option",
    `resamples must be an integer >= 0, got ${resamples}`,
  );
  check(missBy > 0, "invalid-option", `missBy must be > 0, got ${missBy}`);
  if (prices !== null) {
    check(prices.grainPrice > 0, "invalid-option", `prices.grainPrice must be > 0, got ${prices.grainPrice}`);
    check(
      prices.seedCostPerThousand >= 0,
      "invalid-option",
      `prices.seedCostPerThousand must be >= 0, got ${prices.seedCostPerThousand}`,
    );
  }
  return settings;
}
