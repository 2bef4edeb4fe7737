import type { RandomStream } from "../core/random.ts";
import type { CheckedPlot } from "./checkedPlot.ts";
import { shuffle } from "./shuffle.ts";

/** How rates and hybrids lie along one axis of the field, within blocks. */
export interface PositionCheck {
  readonly axis: "row" | "column" | "order";
  /** Correlation of rate and position, block means taken out; null when one of them does not vary within blocks. */
  readonly rateCorrelation: number | null;
  /** Share of random layouts in which it is at least as far from 0. */
  readonly rateChance: number | null;
  /** What a trend of 1 yield unit for each step of position adds to the slope on rate, if nothing corrects for it. */
  readonly slopeBias: number | null;
  /** Share of random layouts in which the hybrids' mean positions lie at least as far apart; null for one hybrid or main plots. */
  readonly hybridChance: number | null;
}

/**
 * Compares rates and hybrids with positions by giving each block's treatments to its plots anew, many times.
 *
 * Main plots of a split-plot move as wholes in a field: then only rates within main plots are compared, within them.
 *
 * Source: permutation test within blocks; chance (k + 1) / (n + 1) as in Davison & Hinkley (1997), section 4.3.
 */
export function positionCheck(
  plots: readonly CheckedPlot[],
  axis: PositionCheck["axis"],
  position: readonly number[],
  permutations: number,
  random: RandomStream,
): PositionCheck {
  const split = plots.some((plot) => plot.mainPlot != null);
  const groups = new Map<string, number[]>();
  plots.forEach((plot, i) => {
    const key = JSON.stringify([String(plot.block), plot.mainPlot ?? null]);
    const list = groups.get(key);
    if (list) list.push(i);
    else groups.set(key, [i]);
  });
  const centred = centre(position, groups);
  const rates = centre(
    plots.map((plot) => plot.seedingRate as number),
    groups,
  );
  const squares = (list: readonly number[]): number => list.reduce((sum, value) => sum + value * value, 0);
  const [spread, rateSpread] = [squares(centred), squares(rates)];
  const varies = spread > 1e-12 && rateSpread > 1e-12;
  const hybrids = plots.map((plot) => plot.hybrid);
  const comparesHybrids = !split && spread > 1e-12 && new Set(hybrids).size > 1;

  const cross = (order: readonly number[]): number => {
    let sum = 0;
    for (let i = 0; i < order.length; i++) sum += rates[order[i]] * centred[i];
    return sum;
  };
  const apart = (order: readonly number[]): number => {
    const sums = new Map<string | null, { sum: number; count: number }>();
    for (let i = 0; i < order.length; i++) {
      const one = sums.get(hybrids[order[i]]) ?? { sum: 0, count: 0 };
      sums.set(hybrids[order[i]], { sum: one.sum + centred[i], count: one.count + 1 });
    }
    let total = 0;
    for (const { sum, count } of sums.values()) total += (sum * sum) / count;
    return total;
  };
  const order = plots.map((_, i) => i);
  const observed = cross(order);
  const observedApart = apart(order);
  let asFar = 0;
  let asApart = 0;
  for (let p = 0; p < permutations && (varies || comparesHybrids); p++) {
    for (const places of groups.values()) {
      const shuffled = shuffle([...places], random);
      places.forEach((place, i) => {
        order[place] = shuffled[i];
      });
    }
    if (varies && Math.abs(cross(order)) >= Math.abs(observed) * (1 - 1e-9)) asFar++;
    if (comparesHybrids && apart(order) >= observedApart * (1 - 1e-9)) asApart++;
  }
  return {
    axis,
    rateCorrelation: varies ? observed / Math.sqrt(spread * rateSpread) : null,
    rateChance: varies ? (asFar + 1) / (permutations + 1) : null,
    slopeBias: varies ? observed / rateSpread : null,
    hybridChance: comparesHybrids ? (asApart + 1) / (permutations + 1) : null,
  };
}

function centre(values: readonly number[], groups: ReadonlyMap<string, readonly number[]>): number[] {
  const out = [...values];
  for (const places of groups.values()) {
    const mean = places.reduce((sum, i) => sum + values[i], 0) / places.length;
    for (const i of places) out[i] = values[i] - mean;
  }
  return out;
}
