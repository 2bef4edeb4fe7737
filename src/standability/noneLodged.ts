import { log10, pow } from "../core/elementary.ts";
import type { LodgingData } from "./lodgingFit.ts";
import { effectivePlants, upperBoundWhenNone } from "./proportionInterval.ts";

/** What a trial without any lodged plant still says. */
export interface NoneLodged {
  /** Plants looked at in all plots; null when only shares were given. */
  readonly examined: number | null;
  /** One-sided upper bound for the share over all plots; null without counts. */
  readonly upper: number | null;
  readonly level: number;
  /** "none of 600 plants: below 0.5 % at 95 %". */
  readonly statement: string;
  /**
   * Per tested density, ascending: the plants in plots of that density or denser, and the bound they give. They may be
   * pooled because lodging does not fall as density rises, so the share at this density is the smallest among them.
   */
  readonly densities: readonly { readonly density: number; readonly examined: number; readonly upper: number | null }[];
}

/**
 * Upper bounds for the lodged share when no plant lodged, overall and per density.
 *
 * @param assumedIcc - correlation between plants of a plot: n plants then count as n / (1 + (n - 1) icc)
 */
export function noneLodged(data: LodgingData, tolerated: number, level: number, assumedIcc: number): NoneLodged {
  const densities = [...new Set(data.density)].sort((a, b) => a - b);
  const { examined } = data;
  if (examined === null) {
    return {
      examined: null,
      upper: null,
      level,
      statement: `No lodging in ${data.density.length} plots; without counts no bound below ${plain(tolerated)} can be given.`,
      densities: densities.map((density) => ({ density, examined: 0, upper: null })),
    };
  }
  const pooled = (from: number) => {
    let plants = 0;
    let effective = 0;
    data.density.forEach((density, i) => {
      if (density < from) return;
      plants += examined[i];
      effective += effectivePlants(examined[i], assumedIcc);
    });
    return { plants, upper: upperBoundWhenNone(effective, level) };
  };
  const all = pooled(densities[0]);
  const assumption = assumedIcc > 0 ? `, with a correlation of ${assumedIcc} between plants of a plot` : "";
  return {
    examined: all.plants,
    upper: all.upper,
    level,
    statement: `none of ${all.plants} plants: below ${roundedUp(all.upper)} at ${plain(level)}${assumption}`,
    densities: densities.map((density) => {
      const { plants, upper } = pooled(density);
      return { density, examined: plants, upper };
    }),
  };
}

/** Percent with two significant digits, never below the share: "0.5 %". */
function roundedUp(share: number): string {
  const percent = share * 100;
  const unit = pow(10, 1 - Math.floor(log10(percent)));
  return `${Number((Math.ceil(percent * unit * (1 - 1e-12)) / unit).toPrecision(2))} %`;
}

function plain(share: number): string {
  return `${Number((share * 100).toPrecision(12))} %`;
}
