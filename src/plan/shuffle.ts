import type { RandomStream } from "../core/random.ts";

/**
 * Puts a list into random order, every order equally likely, in place.
 *
 * Source: Fisher & Yates, by Durstenfeld (1964), Communications of the ACM 7(7), 420.
 */
export function shuffle<T>(list: T[], random: RandomStream): T[] {
  for (let i = list.length - 1; i > 0; i--) {
    const j = random.below(i + 1);
    const kept = list[i];
    list[i] = list[j];
    list[j] = kept;
  }
  return list;
}
