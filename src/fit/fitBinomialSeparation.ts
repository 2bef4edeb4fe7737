/** Why the maximum-likelihood estimate does not exist. */
export interface Separation {
  /**
   * `no-events`, `all-events`: nothing to fit. `density`: some density divides plots without any event from plots where
   * every unit had it (or the only mixed plots stand at that one density), so the slope is infinite. `block`: a whole
   * block has no event, or only events, so that block's own level is infinite.
   */
  readonly kind: "no-events" | "all-events" | "density" | "block";
  /** For `density`: sign of the infinite slope. */
  readonly direction: "rising" | "falling" | null;
  /** For `density` and one block: the highest density with a failure and the lowest with an event (or the reverse when falling). */
  readonly gap: readonly [number, number] | null;
  /** For `block`: indices of the blocks concerned. */
  readonly blocks: readonly number[];
}

/**
 * Exact test for separation of counts by one density, with a free level for every block.
 *
 * The estimate is finite if and only if no line block + sign * x keeps every plot with an event on or above 0 and every
 * plot with a failure on or below 0 (Albert & Anderson 1984). With one density that means, for a rising slope: in every
 * block the highest density with a failure does not exceed the lowest density with an event. No optimiser is run, so there
 * is no threshold on fitted values to choose.
 *
 * @param density - shape [n]
 * @param events - shape [n], 0 <= events <= trials
 * @param trials - shape [n], > 0
 * @param block - index of the block of each row, 0 .. blocks - 1
 * @returns null when the estimate exists
 *
 * Source: Albert & Anderson (1984), Biometrika 71(1), 1-10.
 */
export function separation(
  density: ArrayLike<number>,
  events: ArrayLike<number>,
  trials: ArrayLike<number>,
  block: ArrayLike<number>,
  blocks: number,
): Separation | null {
  const n = density.length;
  // Per block: the densities spanned by plots with an event and by plots with a failure.
  const span = (has: (i: number) => boolean) => {
    const low = new Float64Array(blocks).fill(Infinity);
    const high = new Float64Array(blocks).fill(-Infinity);
    for (let i = 0; i < n; i++) {
      if (!has(i)) continue;
      low[block[i]] = Math.min(low[block[i]], density[i]);
      high[block[i]] = Math.max(high[block[i]], density[i]);
    }
    return { low, high };
  };
  const event = span((i) => events[i] > 0);
  const failure = span((i) => events[i] < trials[i]);
  const none = (side: { low: Float64Array }, b: number) => side.low[b] === Infinity;
  const indices = Array.from({ length: blocks }, (_, b) => b);
  const base = { direction: null, gap: null, blocks: [] };

  if (indices.every((b) => none(event, b))) return { ...base, kind: "no-events" };
  if (indices.every((b) => none(failure, b))) return { ...base, kind: "all-events" };
  for (const direction of ["rising", "falling"] as const) {
    const [below, above] = direction === "rising" ? [failure, event] : [event, failure];
    if (!indices.every((b) => below.high[b] <= above.low[b])) continue;
    const gap = blocks === 1 ? ([below.high[0], above.low[0]] as const) : null;
    return { ...base, kind: "density", direction, gap };
  }
  const lonely = indices.filter((b) => none(event, b) || none(failure, b));
  return lonely.length > 0 ? { ...base, kind: "block", blocks: lonely } : null;
}
