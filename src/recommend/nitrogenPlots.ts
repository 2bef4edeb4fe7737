import { AnalysisError } from "../core/errors.ts";
import type { Plot } from "../trial/trial.ts";
import { fitNitrogenSurface, type NitrogenSurface } from "./nitrogenSurface.ts";

/** Headers of a nitrogen column among the traits. */
const nitrogenHeader =
  /^(?:n|nitrogen)(?:[\s_-]*(?:rate|applied|level|fertili[sz]er))?(?:[\s_(-]*(?:lb|kg|k)[\s_/-]*(?:ac|acre|a|ha)\)?)?$/i;

/**
 * Surface over density and nitrogen of one hybrid's plots, when they have a nitrogen column with three rates or more.
 *
 * @param plots - of one hybrid; those excluded or without density or yield are left out
 * @returns null without such a factor; `reason` when there is one and no surface
 */
export function nitrogenOf(plots: readonly Plot[]): {
  readonly surface: NitrogenSurface | null;
  readonly reason: string | null;
} {
  const rows = plots.flatMap((plot) => {
    if (plot.excluded !== null || plot.density === null || plot.yield === null) return [];
    const trait = plot.traits.find(([name, value]) => typeof value === "number" && nitrogenHeader.test(name.trim()));
    return trait === undefined
      ? []
      : [{ plot, density: plot.density, yield: plot.yield, nitrogen: trait[1] as number }];
  });
  if (new Set(rows.map(({ nitrogen }) => nitrogen)).size < 3) return { surface: null, reason: null };
  try {
    const surface = fitNitrogenSurface({
      density: rows.map(({ density }) => density),
      nitrogen: rows.map(({ nitrogen }) => nitrogen),
      yield: rows.map((row) => row.yield),
      block: rows.map(({ plot }) => JSON.stringify([plot.environment, plot.block])),
    });
    return { surface, reason: null };
  } catch (error) {
    if (!(error instanceof AnalysisError)) throw error;
    return { surface: null, reason: `The surface over density and nitrogen could not be fitted: ${error.message}.` };
  }
}
