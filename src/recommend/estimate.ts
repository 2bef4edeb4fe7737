import { streamRandom } from "../core/random.ts";

/** A figure as one number, or, when it is not exactly known, as the lowest, the most likely and the highest value. */
export type Estimate = number | EstimateRange;

export interface EstimateRange {
  readonly lowest: number;
  readonly likely: number;
  readonly highest: number;
}

/** The most likely value. */
export function likely(estimate: Estimate): number {
  return typeof estimate === "number" ? estimate : estimate.likely;
}

/** Value below which a share u of the triangular distribution lies; the number itself when it is exactly known. */
export function estimateQuantile(estimate: Estimate, u: number): number {
  if (typeof estimate === "number") return estimate;
  const { lowest, likely: mode, highest } = estimate;
  const span = highest - lowest;
  if (!(span > 0)) return mode;
  const left = (mode - lowest) / span;
  return u < left
    ? lowest + Math.sqrt(u * span * (mode - lowest))
    : highest - Math.sqrt((1 - u) * span * (highest - mode));
}

/**
 * One value a draw: the middle of each of `count` equal shares of the distribution, in shuffled order.
 *
 * The shuffle depends on seed and stream alone, so raising any figure of the estimate raises every draw or leaves it.
 */
export function estimateDraws(estimate: Estimate, count: number, seed: number, stream: number): Float64Array {
  if (typeof estimate === "number") return new Float64Array(count).fill(estimate);
  const random = streamRandom(seed, stream);
  const order = Float64Array.from({ length: count }, (_, i) => i);
  for (let i = count - 1; i > 0; i--) {
    const j = random.below(i + 1);
    [order[i], order[j]] = [order[j], order[i]];
  }
  return order.map((rank) => estimateQuantile(estimate, (rank + 0.5) / count));
}

/** The same figure multiplied by a factor > 0. */
export function scaled(estimate: Estimate, factor: number): Estimate {
  if (typeof estimate === "number") return estimate * factor;
  const { lowest, likely: mode, highest } = estimate;
  return { lowest: lowest * factor, likely: mode * factor, highest: highest * factor };
}
