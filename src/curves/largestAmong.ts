import type { CurveOptimum } from "./curve.ts";

/**
 * Where `gain` is largest among the two ends and the inner candidates; the smallest density when several are equal.
 *
 * @param inner - stationary points; those outside (low, high) are ignored
 */
export function largestAmong(
  gain: (x: number) => number,
  inner: readonly number[],
  low: number,
  high: number,
): CurveOptimum {
  let best: CurveOptimum = { kind: "lower-edge", density: low };
  let most = gain(low);
  const candidates = [...inner].filter((x) => x > low && x < high).sort((a, b) => a - b);
  for (const density of candidates) {
    const value = gain(density);
    if (value > most) {
      most = value;
      best = { kind: "interior", density };
    }
  }
  return high > low && gain(high) > most ? { kind: "upper-edge", density: high } : best;
}
