import { AnalysisError } from "../core/errors.ts";
import type { RandomStream } from "../core/random.ts";
import { shuffle } from "./shuffle.ts";

/** Random orders tried before the chain of swaps takes over. */
const TRIES = 5000;

/**
 * A random order of `items` that `isAllowed` accepts.
 *
 * Orders are drawn uniformly and thrown away until one is allowed, so every allowed order is equally likely. Where the rule
 * leaves so few that this fails, an allowed order is found by swaps that reduce the number of clashes, and then mixed by 50
 * swaps for each item that keep it allowed (symmetric proposals, so uniform over the orders that swaps can reach).
 *
 * @param clashes - number of broken rules in an order; 0 means allowed
 * @throws AnalysisError `not-offered` when no allowed order is found
 */
export function drawOrder<T>(
  items: readonly T[],
  clashes: (order: readonly T[]) => number,
  random: RandomStream,
  what: string,
): { readonly order: T[]; readonly method: "uniform" | "swap-chain" } {
  const order = [...items];
  for (let attempt = 0; attempt < TRIES; attempt++) {
    if (clashes(shuffle(order, random)) === 0) return { order, method: "uniform" };
  }
  repair(order, clashes, random, what);
  for (let i = 0; i < 50 * order.length; i++) trySwap(order, clashes, 0, random);
  return { order, method: "swap-chain" };
}

function repair<T>(order: T[], clashes: (order: readonly T[]) => number, random: RandomStream, what: string): void {
  for (let restart = 0; restart < 20; restart++) {
    shuffle(order, random);
    let now = clashes(order);
    for (let i = 0; i < 400 * order.length && now > 0; i++) now = trySwap(order, clashes, now, random);
    if (now === 0) return;
  }
  throw new AnalysisError(
    "not-offered",
    `no order of ${what} keeps equal neighbours apart; relax the neighbour rule or change the shape of the blocks`,
  );
}

/** Swaps two places when that leaves at most `limit` clashes; returns the clashes then. */
function trySwap<T>(order: T[], clashes: (order: readonly T[]) => number, limit: number, random: RandomStream): number {
  const i = random.below(order.length);
  const j = random.below(order.length);
  const swap = (): void => {
    const kept = order[i];
    order[i] = order[j];
    order[j] = kept;
  };
  swap();
  const after = clashes(order);
  if (after <= limit) return after;
  swap();
  return limit;
}
