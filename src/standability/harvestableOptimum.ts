import { checkShape, type Shape } from "../core/checkShape.ts";
import { type Economics, priceRatio } from "../core/economics.ts";
import { check } from "../core/errors.ts";
import { type NearBest, nearBest } from "../derive/nearBest.ts";
import type { CurveFit } from "../fit/curveFit.ts";
import { fittedCurve } from "../fit/fittedCurve.ts";
import { greatestOnRange } from "./greatestOnRange.ts";
import {
  bootstrapHarvest,
  type HarvestBootstrap,
  type HarvestBootstrapOptions,
  type HarvestPlots,
  harvestBootstrapOptionsShape,
} from "./harvestBootstrap.ts";
import { lodgedShareCurve } from "./lodgedShare.ts";
import type { LodgingFit } from "./lodgingFit.ts";

export interface HarvestableInput {
  /** Finished curve of grain per area, everything harvested. */
  readonly gross: CurveFit;
  /** Lodging at harvest, on the same density axis. */
  readonly lodging: LodgingFit;
  /** Plots with yield and counts, for the joint bootstrap; without them no intervals are given. */
  readonly plots?: HarvestPlots;
}

/** What `HarvestableInput` must look like. */
export const harvestableInputShape: { readonly [property: string]: Shape } = {
  gross: "standcurve/curve-fit/1",
  lodging: "standcurve/lodging-fit/1",
  plots: "object?",
};

export interface HarvestableOptions extends HarvestBootstrapOptions {
  /** Share of a lodged plant's grain that is lost, 0 to 1; default 0.5, a convention to be replaced by local experience. */
  readonly lossShare?: number;
  /** Prices; without them only the agronomic optimum is given. */
  readonly economics?: Economics;
  /** Loss shares of the sensitivity table; default 0, 0.25, 0.5, 0.75, 1. */
  readonly lossShares?: readonly number[];
  /** Share of the best yield that counts as nearly as good; default 0.01. */
  readonly nearBestShare?: number;
}

/** What `HarvestableOptions` must look like. */
export const harvestableOptionsShape: { readonly [property: string]: Shape } = {
  ...harvestBootstrapOptionsShape,
  lossShare: "number?",
  economics: "object?",
  lossShares: "numbers?",
  nearBestShare: "number?",
};

/** One optimum of Y(x) (1 - loss p(x)), or with loss 0 of the gross curve. */
export interface HarvestOptimum {
  /** `lower-edge`, `upper-edge`: at an end of the tested range, or beyond it; `none`: the curve does not change with density. */
  readonly kind: "interior" | "lower-edge" | "upper-edge" | "none";
  readonly density: number | null;
  /** At that density (at the lowest when there is none): yield grown, lodged share, and yield brought in at the stated loss. */
  readonly grossYield: number;
  readonly lodgedShare: number;
  readonly harvestedYield: number;
  /** Net price x yield brought in - seed cost x rate; null without prices. */
  readonly return: number | null;
  /** Densities nearly as good in what is maximised: yield, or yield less seed cost in yield units. */
  readonly nearBest: NearBest | null;
}

/** Yield that can be harvested, beside the gross yield; JSON-safe. */
export interface HarvestableOptimum {
  readonly schema: "standcurve/harvestable-optimum/1";
  readonly lossShare: number;
  /** Densities tested for yield and for lodging. */
  readonly range: readonly [number, number];
  readonly gross: { readonly agronomic: HarvestOptimum; readonly economic: HarvestOptimum | null };
  readonly harvestable: { readonly agronomic: HarvestOptimum; readonly economic: HarvestOptimum | null };
  /** What planting the gross optimum would cost: harvested yield at the harvestable optimum minus that at the gross one. */
  readonly lossAtGross: number;
  readonly sensitivity: readonly {
    readonly lossShare: number;
    readonly agronomic: number | null;
    readonly economic: number | null;
  }[];
  readonly bootstrap: HarvestBootstrap | null;
  readonly notes: readonly string[];
}

/**
 * Optimum of the yield that can be harvested: H(x) = Y(x) (1 - lossShare p(x)), Y the gross curve, p the lodged share averaged
 * over blocks. Agronomic: largest H. Economic: largest net price x H - seed cost x rate.
 *
 * Nothing is extrapolated: the search stays where both yield and lodging were tested. With `plots` both submodels are
 * refitted on the same resampled plots for intervals.
 *
 * @throws AnalysisError `invalid-option` for a loss outside [0, 1] or bad prices; `not-estimable` when a submodel gave no
 * estimate or the two share no range of density
 * @example
 * const gross = fitCurve("quadratic", { density: [20, 25, 30, 35, 40], yield: [150, 175, 190, 195, 190] });
 * const lodging = fitLodging({ density: [20, 25, 30, 35, 40], lodged: [1, 2, 6, 20, 45], examined: [100, 100, 100, 100, 100] });
 * harvestableOptimum({ gross, lodging }).harvestable.agronomic.density < 35; // => true
 *
 * Source: product of two fitted curves; the loss share is the user's. Oracle: brute-force search in the test.
 */
export function harvestableOptimum(input: HarvestableInput, options: HarvestableOptions = {}): HarvestableOptimum {
  checkShape(input, "input", harvestableInputShape);
  const { gross, lodging, plots } = input;
  checkShape(options, "options", harvestableOptionsShape, "invalid-option");
  const { lossShare = 0.5, economics, lossShares = [0, 0.25, 0.5, 0.75, 1], nearBestShare = 0.01 } = options;
  for (const share of [lossShare, ...lossShares]) {
    check(share >= 0 && share <= 1, "invalid-option", `loss shares must be between 0 and 1, got ${share}`);
  }
  check(
    nearBestShare >= 0 && nearBestShare < 1,
    "invalid-option",
    `nearBestShare must be in [0, 1), got ${nearBestShare}`,
  );
  const range = commonRange(gross, lodging);
  const curve = fittedCurve(gross);
  const share = lodgedShareCurve(lodging);
  const corners = joins(gross);
  const price = economics ? priceRatio(economics) : 0;
  const net = economics ? economics.grainPrice - (economics.yieldCost ?? 0) : null;

  const harvested = (x: number, loss: number) => curve.mean(x) * (1 - loss * share(x));

  const optimum = (loss: number, r: number): HarvestOptimum => {
    const value = (x: number) => harvested(x, loss) - r * x;
    const { at, value: best } = greatestOnRange(value, range[0], range[1], corners);
    const flat = r === 0 && isFlat(value, range, best);
    const brought = harvested(at, lossShare);
    return {
      kind: flat ? "none" : at <= range[0] ? "lower-edge" : at >= range[1] ? "upper-edge" : "interior",
      density: flat ? null : at,
      grossYield: curve.mean(at),
      lodgedShare: share(at),
      harvestedYield: brought,
      return: net === null ? null : net * (brought - price * at),
      nearBest: flat
        ? null
        : nearBest(value, best, Math.abs(harvested(at, loss)) * nearBestShare, range, [at, ...corners]),
    };
  };
  const pair = (loss: number) => ({ agronomic: optimum(loss, 0), economic: economics ? optimum(loss, price) : null });
  const [standing, brought] = [pair(0), pair(lossShare)];
  return {
    schema: "standcurve/harvestable-optimum/1",
    lossShare,
    range,
    gross: standing,
    harvestable: brought,
    lossAtGross: Math.max(
      0,
      brought.agronomic.harvestedYield - harvested(standing.agronomic.density ?? range[0], lossShare),
    ),
    sensitivity: lossShares.map((loss) => {
      const { agronomic, economic } = pair(loss);
      return { lossShare: loss, agronomic: agronomic.density, economic: economic?.density ?? null };
    }),
    bootstrap: plots
      ? bootstrapHarvest(plots, lodging, { ...options, lossShare, price: economics ? price : null, range })
      : null,
    notes: notes(lodging, options.lossShare),
  };
}

function commonRange(gross: CurveFit, lodging: LodgingFit): readonly [number, number] {
  const low = Math.max(gross.range[0], Math.min(...lodging.data.density));
  const high = Math.min(gross.range[1], Math.max(...lodging.data.density));
  check(low < high, "not-estimable", `yield was tested from ${gross.range.join(" to ")}, lodging not there`);
  return [low, high];
}

/** Densities where the gross curve bends sharply. */
function joins({ curve }: CurveFit): number[] {
  return curve?.family === "linear-plateau" || curve?.family === "quadratic-plateau" ? [curve.theta[2]] : [];
}

function isFlat(value: (x: number) => number, [low, high]: readonly [number, number], best: number): boolean {
  const margin = 1e-12 * Math.abs(best);
  return [0, 0.3, 0.5, 0.8, 1].every((u) => best - value(low + u * (high - low)) <= margin);
}

function notes(lodging: LodgingFit, lossShare: number | undefined): string[] {
  const list = ["The lodged share is that at the date of the count; a later harvest usually finds more."];
  if (lossShare === undefined)
    list.push("Half of a lodged plant's grain is taken as lost by convention; state the local figure.");
  if (lodging.status === "none-lodged") list.push("Nothing lodged, so the harvestable optimum is the gross one.");
  if (lodging.status === "separation") list.push("The lodging counts are separated; the bias-reduced curve is used.");
  return list;
}
