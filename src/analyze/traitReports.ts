import { crowdingSlope } from "../standability/crowdingSlope.ts";
import { type BrokenLineFit, fitBrokenLine } from "../standability/fitBrokenLine.ts";
import { fitRatings } from "../standability/fitRatings.ts";
import type { Plot, Trial } from "../trial/trial.ts";
import { deriveSeed } from "./deriveSeed.ts";
import type { OnAxes } from "./result.ts";
import type { RatingReport, TraitDecline, TraitReport } from "./standability.ts";

/** Trials simulated for the test of a broken line: p-values in steps of a thousandth. */
const SIMULATIONS = 999;

/** Traits that say how plants stand, each as a broken line, a straight one and a crowding slope. */
export function traitReports(
  { standTraits }: Trial,
  plots: readonly Plot[],
  level: number,
  seed: number,
  axes: (density: number | null) => OnAxes,
): TraitReport[] {
  return standTraits.flatMap(({ name, measure, unit }) => {
    const { density, value: trait, block } = columnOf(plots, name);
    if (trait.length === 0) return [];
    const data = { density, trait, block };
    const brokenLine = fitBrokenLine(data, { level, simulations: SIMULATIONS, seed: deriveSeed(seed, name, null) });
    const crowding = trait.every((value) => value > 0) ? crowdingSlope(data, { level }) : null;
    const mean = trait.reduce((sum, value) => sum + value, 0) / trait.length;
    const decline = declineOf(brokenLine, crowding, 1 - level, axes);
    return [{ name, measure, unit, plots: trait.length, mean, brokenLine, crowding, decline }];
  });
}

/** Ratings on a stated scale against density. */
export function ratingReports({ ratings }: Trial, plots: readonly Plot[], level: number): RatingReport[] {
  return ratings.flatMap(({ name, scale, worst }) => {
    const { density, value: rating, block } = columnOf(plots, name);
    if (rating.length === 0) return [];
    const fit = fitRatings({ density, rating, block }, { worse: worst === scale[1] ? "higher" : "lower", level });
    return [{ name, scale, worst, plots: rating.length, fit, middle: (scale[0] + scale[1]) / 2 }];
  });
}

function columnOf(plots: readonly Plot[], name: string): { density: number[]; value: number[]; block: string[] } {
  const density: number[] = [];
  const value: number[] = [];
  const block: string[] = [];
  for (const plot of plots) {
    const found = plot.traits.find(([own]) => own === name)?.[1];
    if (typeof found !== "number" || plot.density === null) continue;
    density.push(plot.density);
    value.push(found);
    block.push(JSON.stringify([plot.environment, plot.block]));
  }
  return { density, value, block };
}

function declineOf(
  line: BrokenLineFit,
  crowding: TraitReport["crowding"],
  alpha: number,
  axes: (density: number | null) => OnAxes,
): TraitDecline {
  const nowhere = { density: null, axes: axes(null), interval: null } as const;
  const { left, right } = line.slopes;
  const broken =
    line.status === "converged" && line.pValue !== null && line.pValue <= alpha && left !== null && right !== null;
  if (broken && right < 0 && right < left) {
    return { kind: "break", density: line.break, axes: axes(line.break), interval: line.interval };
  }
  if (crowding === null || crowding.slope === null || crowding.pValue === null) return { kind: "untested", ...nowhere };
  if (crowding.pValue > alpha) return { kind: "none", ...nowhere };
  return { kind: crowding.slope < 0 ? "throughout" : "rises", ...nowhere };
}
