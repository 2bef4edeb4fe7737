import { check } from "../core/errors.ts";

/** Numbers block labels from 0 in the order in which they appear; one block when none are given. */
export function numberBlocks(
  block: ArrayLike<string | number> | undefined,
  n: number,
): { index: Int32Array; labels: string[] } {
  if (!block) return { index: new Int32Array(n), labels: ["1"] };
  check(block.length === n, "length-mismatch", `density has ${n} values but block has ${block.length}`);
  const labels = [...new Set(Array.from(block, String))];
  const order = new Map(labels.map((label, i) => [label, i]));
  return { index: Int32Array.from(Array.from(block), (label) => order.get(String(label))!), labels };
}
