import { hashText } from "../core/hash.ts";
import { groupKey } from "./groupRows.ts";

/**
 * The share of the work, 0 … count - 1, that a group belongs to: the first 48 bits of the SHA-256 of its key modulo count. The same on
 * every machine and in every run, so that shards never overlap and need not talk to one another.
 *
 * @example
 * shardOf({ hybrid: "Amber 12", environment: null }, 4) === shardOf({ hybrid: "amber 12", environment: null }, 4); // => true
 */
export function shardOf(
  group: { readonly hybrid: string; readonly environment: string | null },
  count: number,
): number {
  return Number.parseInt(hashText(groupKey(group)).slice(0, 12), 16) % count;
}
