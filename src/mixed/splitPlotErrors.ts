import { square } from "../core/elementary.ts";
import type { Stratum, VarianceRow } from "./analyseStrata.ts";
import type { WholePlotFactor } from "./recogniseLayout.ts";
import type { VariancePlots } from "./varianceData.ts";

/** Standard errors of differences in a balanced split plot. */
export interface SplitPlotErrors {
  readonly wholePlotMeans: number;
  readonly subPlotMeans: number;
  readonly subWithinWhole: number;
  readonly wholeWithinOrAcrossSub: number;
  /** Satterthwaite degrees of freedom of `wholeWithinOrAcrossSub`. */
  readonly satterthwaiteDof: number;
  readonly dofWhole: number;
  readonly dofSub: number;
  /** (main-plot mean square - plot mean square) / sub-plots per main plot; negative values are shown as they are. */
  readonly wholePlotVariance: number;
}

/** The four errors of differences of a balanced split plot (Cochran & Cox 1957, section 7.14). */
export function splitErrors(
  strata: readonly Stratum[],
  plots: VariancePlots,
  wholePlot: WholePlotFactor,
  main: VarianceRow | null,
  sub: VarianceRow | null,
): SplitPlotErrors | null {
  if (main === null || sub === null || strata.length === 0) return null;
  const wholes = new Set(wholePlot === "hybrid" ? plots.hybrid : plots.density.map(String)).size;
  const subs = new Set(wholePlot === "hybrid" ? plots.density.map(String) : plots.hybrid).size;
  const perCell = plots.yield.length / (wholes * subs);
  const mixture = ((subs - 1) * sub.ms + main.ms) / subs;
  return {
    wholePlotMeans: Math.sqrt((2 * main.ms) / (perCell * subs)),
    subPlotMeans: Math.sqrt((2 * sub.ms) / (perCell * wholes)),
    subWithinWhole: Math.sqrt((2 * sub.ms) / perCell),
    wholeWithinOrAcrossSub: Math.sqrt((2 * mixture) / perCell),
    satterthwaiteDof:
      square((subs - 1) * sub.ms + main.ms) / (square((subs - 1) * sub.ms) / sub.df + (main.ms * main.ms) / main.df),
    dofWhole: main.df,
    dofSub: sub.df,
    wholePlotVariance: (main.ms - sub.ms) / subs,
  };
}
