import { exp } from "../core/elementary.ts";

/** A state that may be true: a curve, and how the places deviate from it. */
export interface LossState {
  /** Share of belief before the new plots, > 0; need not add to 1. */
  readonly weight: number;
  /** Expected yield at the new densities less their average, one list for each new place; shape [places][densities]. */
  readonly expected: readonly Float64Array[];
  /** Loss by planting each candidate density; shape [candidates]. */
  readonly loss: Float64Array;
}

/**
 * The decision that loses least on average over what is still possible.
 *
 * After new plots a state keeps the weight
 *
 *     w exp(-sum over places of blocks / (2 sigma^2) sum over densities of (mean - expected)^2)
 *
 * with means and expected yields taken from their average in each place, so that block levels drop out (they have a flat prior and each block
 * holds every density). The candidate with the least weighted loss is planted. Such a rule cannot be made worse on average by more plots; the
 * optimum of whichever curve AICc happens to choose can, for it takes one curve for certain and forgets what the others would lose.
 *
 * @param states - at least one; all with as many places and candidates
 * @returns `now()`: position of the best candidate before any new plot; `after(deviations, blocks, sigma)`: position after plots whose means,
 * less their average, are `deviations`, shape [places][densities]
 * @example
 * const states = [
 *   { weight: 2, expected: [Float64Array.of(-1, 1)], loss: Float64Array.of(5, 0) },
 *   { weight: 1, expected: [Float64Array.of(1, -1)], loss: Float64Array.of(0, 8) },
 * ];
 * const rule = leastLoss(states);
 * rule.now(); // => 1
 * rule.after([Float64Array.of(0.5, -0.5)], [4], 2); // => 0
 *
 * Source: Raiffa & Schlaifer (1961), Applied Statistical Decision Theory, ch. 4 (terminal decision by posterior expected loss).
 */
export function leastLoss(states: readonly LossState[]): {
  readonly now: () => number;
  readonly after: (deviations: readonly Float64Array[], blocks: readonly number[], sigma: number) => number;
} {
  const count = states.length;
  const candidates = states[0].loss.length;
  // By candidate, so that one sum runs through neighbouring numbers.
  const losses = new Float64Array(candidates * count);
  states.forEach(({ loss }, s) => {
    for (let c = 0; c < candidates; c++) losses[c * count + s] = loss[c];
  });
  const prior = Float64Array.from(states, ({ weight }) => weight);
  const weights = new Float64Array(count);
  const live = new Int32Array(count);

  /** Position of the least weighted loss: every fifth candidate, then those about the best of them. */
  const cheapest = (): number => {
    const heaviest = weights.reduce((most, weight) => Math.max(most, weight), 0);
    let some = 0;
    for (let s = 0; s < count; s++) if (weights[s] > NEGLIGIBLE * heaviest) live[some++] = s;
    let best = -1;
    let least = Number.POSITIVE_INFINITY;
    const look = (c: number): void => {
      const from = c * count;
      let sum = 0;
      for (let k = 0; k < some; k++) sum += weights[live[k]] * losses[from + live[k]];
      if (sum < least) {
        least = sum;
        best = c;
      }
    };
    for (let c = 0; c < candidates; c += COARSE) look(c);
    const [first, last] = [Math.max(best - COARSE + 1, 0), Math.min(best + COARSE - 1, candidates - 1)];
    for (let c = first; c <= last; c++) if (c % COARSE !== 0) look(c);
    return best;
  };
  return {
    now() {
      weights.set(prior);
      return cheapest();
    },
    after(deviations, blocks, sigma) {
      let nearest = Number.POSITIVE_INFINITY;
      for (let s = 0; s < count; s++) {
        const { expected } = states[s];
        let distance = 0;
        for (let e = 0; e < deviations.length; e++) {
          const seen = deviations[e];
          const told = expected[e];
          let squares = 0;
          for (let j = 0; j < seen.length; j++) squares += (seen[j] - told[j]) * (seen[j] - told[j]);
          distance += blocks[e] * squares;
        }
        weights[s] = distance / (2 * sigma * sigma);
        nearest = Math.min(nearest, weights[s]);
      }
      // Measured from the nearest state, so that not all weights vanish.
      for (let s = 0; s < count; s++) {
        const further = weights[s] - nearest;
        weights[s] = further > FAR ? 0 : prior[s] * exp(-further);
      }
      return cheapest();
    },
  };
}

/** States with less than this share of the heaviest one's weight decide nothing. */
const NEGLIGIBLE = 1e-6;

/** exp(-30) is beyond that whatever the weights before were (they differ by 1e6 at most). */
const FAR = 30;

/** Candidates looked at first: each fifth. */
const COARSE = 5;
