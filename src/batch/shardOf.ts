import { checkShape } from "../core/checkShape.ts";
import { check } from "../core/errors.ts";
import { hashText } from "../core/hash.ts";
import { shown } from "../core/shown.ts";
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
  checkShape(group, "group", { hybrid: "text", environment: "text|null" });
  check(Number.isInteger(count) && count >= 1, "invalid-option", `count must be an integer >= 1, got ${shown(count)}`);
  return Number.parseInt(hashText(groupKey(group)).slice(0, 12), 16) % count;
}
