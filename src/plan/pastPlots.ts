import { square } from "../core/elementary.ts";
import { check } from "../core/errors.ts";
import { curveOf } from "../curves/catalogue.ts";
import { prepareData } from "../fit/fitData.ts";
import { joinResponse } from "../numeric/joinDesign.ts";
import { blockKey, isUsable } from "../trial/layout.ts";
import type { Trial } from "../trial/trial.ts";
import type { AnalysedCurve } from "./analysedTrial.ts";

/** What has been grown already, reduced to what a fit together with new plots needs. */
export interface PastPlots {
  /** `plots`: the trial's own plots; `fitted-curve`: rebuilt from the chosen curve and its residual sum of squares. */
  readonly basis: "plots" | "fitted-curve";
  /** Rows of the design; shape [n] each. */
  readonly density: readonly number[];
  readonly block: readonly number[];
  readonly weight: readonly number[];
  /** Blocks that the rows stand for (rows may be weighted) and plots that they stand for. */
  readonly rowBlocks: number;
  readonly blocks: number;
  readonly plots: number;
  /** Level sum of yields minus block means, by density. */
  readonly sums: ReadonlyMap<number, number>;
  readonly total: number;
}

/** From the plots of one hybrid of a trial. */
export function pastFromTrial(trial: Trial, hybrid: string): PastPlots {
  const plots = trial.plots.filter(isUsable).filter((plot) => plot.hybrid === hybrid);
  check(plots.length > 0, "invalid-option", `the trial given has no usable plot of "${hybrid}"`);
  const data = prepareData({
    density: plots.map((plot) => plot.density),
    yield: plots.map((plot) => plot.yield),
    block: plots.map(blockKey),
    weight: plots.map((plot) => plot.weight),
  });
  const { sums, total } = joinResponse(data.design, data.y);
  return {
    basis: "plots",
    density: [...data.x],
    block: [...data.block],
    weight: [...data.weight],
    rowBlocks: data.design.blocks,
    blocks: data.design.blocks,
    plots: plots.length,
    sums: new Map(Array.from(sums, (sum, l) => [data.design.levels[l], sum])),
    total,
  };
}

/**
 * From an analysis alone: its densities equally replicated, level means on the chosen curve, scatter as its residuals.
 *
 * Other families then fit a little worse, beside the chosen one, than they did on the plots.
 */
export function pastFromAnalysis(curve: AnalysedCurve): PastPlots {
  const fit = curve.comparison.fits.find((one) => one.family === curve.chosen);
  check(
    fit?.curve != null && fit.rss !== null,
    "not-estimable",
    `the chosen curve of ${curve.hybrid} cannot be used to rebuild its plots`,
  );
  const { family, theta } = fit.curve;
  const { densities, plots } = curve;
  const weight = plots / densities.length;
  const means = densities.map((x) => curveOf(family).mean(x, theta));
  const grand = means.reduce((sum, value) => sum + value, 0) / means.length;
  const sums = new Map(densities.map((x, l) => [x, weight * (means[l] - grand)]));
  return {
    basis: "fitted-curve",
    density: densities,
    block: densities.map(() => 0),
    weight: densities.map(() => weight),
    rowBlocks: 1,
    blocks: curve.blocks,
    plots,
    sums,
    total: fit.rss + means.reduce((sum, value) => sum + weight * square(value - grand), 0),
  };
}
