import { checkShape } from "../core/checkShape.ts";
import { tQuantile } from "../numeric/distributions.ts";

/** Strips that would show a difference of yield between two rates. */
export interface StripDesign {
  /** Rates side by side in every replicate, ascending, rate unit. */
  readonly rates: readonly number[];
  /** Replicates (blocks with one strip of each rate, in random order); null when not even `most` would do. */
  readonly replicates: number | null;
  readonly most: number;
  /** Yield difference to be seen, between the present rate and the farthest one. */
  readonly difference: number;
  /** Standard deviation of one strip about its block and rate, yield units. */
  readonly sigma: number | null;
  /** Chance to see the difference, and the two-sided error level. */
  readonly power: number;
  readonly alpha: number;
  readonly reason: string;
}

/** More replicates than a grower will plant. */
const MOST = 40;

/**
 * Smallest number of replicates in which a difference is seen with the power: n with
 * difference >= (t(1 - alpha/2; n - 1) + t(power; n - 1)) sigma sqrt(2 / n).
 *
 * @param rates - to be grown side by side
 * @param difference - of yield, to be seen
 * @param sigma - residual standard deviation of one strip; null when unknown
 * @example
 * stripsFor([30, 34], 6, 5).replicates; // => 11
 *
 * Source: paired comparison, e.g. Cochran & Cox (1957), Experimental Designs, section 2.2. Levels of 10 to 15 % are advised for
 * on-farm trials (University of Nebraska-Lincoln extension).
 */
export function stripsFor(
  rates: readonly number[],
  difference: number,
  sigma: number | null,
  options: { readonly power?: number; readonly alpha?: number } = {},
): StripDesign {
  checkShape(rates, "rates", "numbers");
  checkShape(difference, "difference", "number", "invalid-option");
  checkShape(sigma, "sigma", "number|null");
  checkShape(options, "options", { power: "number?", alpha: "number?" }, "invalid-option");
  const { power = 0.8, alpha = 0.1 } = options;
  const base = { rates: [...rates].sort((a, b) => a - b), most: MOST, difference, sigma, power, alpha };
  if (sigma === null)
    return { ...base, replicates: null, reason: "The trial leaves no estimate of the scatter between plots." };
  for (let n = 3; n <= MOST; n++) {
    const reach = (tQuantile(1 - alpha / 2, n - 1) + tQuantile(power, n - 1)) * sigma * Math.sqrt(2 / n);
    if (reach <= Math.abs(difference)) {
      return { ...base, replicates: n, reason: "Strips are taken to scatter as the plots of the trial did." };
    }
  }
  return {
    ...base,
    replicates: null,
    reason: `Not even ${MOST} replicates would show so small a difference of yield: strips can still show stand, stalks and ears.`,
  };
}
