import { randomState } from "../core/random.ts";
import type { PreparedData } from "../fit/fitData.ts";
import type { FitRows } from "../fit/leverage.ts";
import { accumulator } from "./accumulator.ts";

/** Draws the yields of one replicate, reduced at once to what a refit needs. */
export interface Sampler {
  /** Starts the numbered random stream; draws follow one another from there. */
  begin(seed: number, stream: number): void;
  /** Draws yields; what a refit needs of them is in `moments` until the next draw. */
  draw(): void;
  /**
   * Level sums of the last draw with blocks projected out, shape [m], then its total sum of squares within blocks, then the mean over
   * blocks of its block means.
   */
  readonly moments: Float64Array;
}

/** A residual sampler that can also be told which residual every plot gets. */
export interface ResidualSampler extends Sampler {
  /** As `draw`, with plot i given the residual of the pool numbered indices[i]; shape [n]. */
  drawGiven(indices: ArrayLike<number>): void;
}

/**
 * Residual bootstrap: fitted values plus residuals drawn with replacement from all plots.
 *
 * Each residual r_i sqrt(w_i) is divided by sqrt(1 - h_i), so that its variance is that of an error, and the pool is centred;
 * a draw for plot i is divided by sqrt(w_i). Plots with h_i = 1 have no residual to give and are left out of the pool.
 *
 * The generator is that of `core/random.ts` written out in the loop: a call a draw would cost more than the draw. A test
 * holds the two to the same numbers.
 *
 * Source: Davison & Hinkley (1997), section 6.2.3.
 */
export function residualSampler(
  data: PreparedData,
  rows: FitRows,
  pool: Float64Array = residualPool(rows, data.weight),
): ResidualSampler {
  const { drawn, finish, moments } = accumulator(data, rows);

  // a, b, c and counter of sfc32, see core/random.ts. In variables of the closure V8 would box every number: 6 times the time.
  const state = new Int32Array(4);

  function begin(seed: number, stream: number): void {
    state.set(randomState(seed, stream));
  }

  function draw(): void {
    drawFrom(pool, state, drawn);
    finish();
  }

  function drawGiven(indices: ArrayLike<number>): void {
    for (let i = 0; i < drawn.length; i++) drawn[i] = pool[indices[i]];
    finish();
  }

  return { begin, draw, drawGiven, moments };
}

/** Fills `drawn` from the pool, with replacement: `below` of `core/random.ts` for every plot. */
function drawFrom(pool: Float64Array, state: Int32Array, drawn: Float64Array): void {
  const scale = pool.length / 4294967296;
  let a = state[0];
  let b = state[1];
  let c = state[2];
  let counter = state[3];
  for (let i = 0; i < drawn.length; i++) {
    const t = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (((c << 21) | (c >>> 11)) + t) | 0;
    drawn[i] = pool[((t >>> 0) * scale) | 0];
  }
  state[0] = a;
  state[1] = b;
  state[2] = c;
  state[3] = counter;
}

/** Leverage-adjusted, centred residuals on the scale of one unit of weight. */
export function residualPool({ residuals, leverage }: FitRows, weight: Float64Array): Float64Array {
  const kept: number[] = [];
  for (let i = 0; i < residuals.length; i++) {
    if (leverage[i] < 1 - 1e-9) kept.push((residuals[i] * Math.sqrt(weight[i])) / Math.sqrt(1 - leverage[i]));
  }
  const mean = kept.reduce((sum, value) => sum + value, 0) / kept.length;
  return Float64Array.from(kept, (value) => value - mean);
}
