import { log } from "./elementary.ts";
import { check } from "./errors.ts";
import { shown } from "./shown.ts";

/**
 * A seeded stream of random numbers. Streams with the same seed and different numbers are independent for all practical
 * purposes, so work can be cut into numbered blocks and spread over workers without changing the answer.
 */
export interface RandomStream {
  /** Uniform integer in [0, 2^32). */
  uint32(): number;
  /** Uniform in [0, 1) with 53 random bits. */
  next(): number;
  /** Uniform integer in [0, n), 1 <= n <= 2^21 (the bias is below 2^-11 of one part in n). */
  below(n: number): number;
  /** Standard normal, by the polar method of Marsaglia and Bray (1964). */
  normal(): number;
}

/**
 * Stream number `stream` of the generator started at `seed`.
 *
 * The generator is sfc32 (Doty-Humphrey, PractRand): 128 bits of state, a 32-bit counter that makes every cycle at least
 * 2^32 long, only integer additions, shifts and xors, so the same numbers on every engine. The state is filled with the
 * two halves of the seed and the stream number, then stirred for 16 rounds.
 *
 * @param seed - integer, 0 <= seed <= 2^53 - 1
 * @param stream - integer, 0 <= stream < 2^32
 * @example
 * streamRandom(1, 0).uint32() === streamRandom(1, 0).uint32(); // => true
 */
export function streamRandom(seed: number, stream: number): RandomStream {
  const state = randomState(seed, stream);
  const spare = new Float64Array(1);
  let hasSpare = false;

  function uint32(): number {
    return nextInt32(state) >>> 0;
  }

  function next(): number {
    const high = uint32() >>> 5;
    const low = uint32() >>> 6;
    return (high * 67108864 + low) / 9007199254740992;
  }

  return {
    uint32,
    next,
    below: (n) => Math.floor((uint32() * n) / 4294967296),
    normal() {
      if (hasSpare) {
        hasSpare = false;
        return spare[0];
      }
      for (;;) {
        const u = 2 * next() - 1;
        const v = 2 * next() - 1;
        const s = u * u + v * v;
        if (s > 0 && s < 1) {
          const factor = Math.sqrt((-2 * log(s)) / s);
          spare[0] = v * factor;
          hasSpare = true;
          return u * factor;
        }
      }
    },
  };
}

/**
 * State of the generator at the start of a stream, for loops that write the generator out: a, b, c and the counter; shape [4]. Integers of 32
 * bits in a typed array stay integers, in variables of a closure V8 would box them: several times the time of a draw.
 */
export function randomState(seed: number, stream: number): Int32Array {
  check(
    Number.isSafeInteger(seed) && seed >= 0 && Number.isInteger(stream) && stream >= 0 && stream < 4294967296,
    "invalid-option",
    `seed must be an integer from 0 to 2^53 - 1 and stream one from 0 to 2^32 - 1; got ${shown(seed)} and ${shown(stream)}`,
  );
  const state = Int32Array.of(seed, Math.floor(seed / 4294967296), stream, 1);
  for (let i = 0; i < 16; i++) nextInt32(state);
  return state;
}

/** One step of sfc32; the 32 bits drawn, as a signed integer. */
function nextInt32(state: Int32Array): number {
  const a = state[0];
  const b = state[1];
  const c = state[2];
  const counter = state[3];
  const t = (((a + b) | 0) + counter) | 0;
  state[3] = (counter + 1) | 0;
  state[0] = b ^ (b >>> 9);
  state[1] = (c + (c << 3)) | 0;
  state[2] = (((c << 21) | (c >>> 11)) + t) | 0;
  return t;
}
