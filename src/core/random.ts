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
  check(
    Number.isSafeInteger(seed) && seed >= 0 && Number.isInteger(stream) && stream >= 0 && stream < 4294967296,
    "invalid-option",
    `seed must be an integer from 0 to 2^53 - 1 and stream one from 0 to 2^32 - 1; got ${shown(seed)} and ${shown(stream)}`,
  );
  let a = seed >>> 0;
  let b = Math.floor(seed / 4294967296) >>> 0;
  let c = stream >>> 0;
  let counter = 1;
  let spare = 0;
  let hasSpare = false;

  function uint32(): number {
    const t = (((a + b) | 0) + counter) | 0;
    counter = (counter + 1) | 0;
    a = b ^ (b >>> 9);
    b = (c + (c << 3)) | 0;
    c = (((c << 21) | (c >>> 11)) + t) | 0;
    return t >>> 0;
  }
  for (let i = 0; i < 16; i++) uint32();

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
        return spare;
      }
      for (;;) {
        const u = 2 * next() - 1;
        const v = 2 * next() - 1;
        const s = u * u + v * v;
        if (s > 0 && s < 1) {
          const factor = Math.sqrt((-2 * log(s)) / s);
          spare = v * factor;
          hasSpare = true;
          return u * factor;
        }
      }
    },
  };
}
