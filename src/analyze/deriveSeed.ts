import { hashText } from "../core/hash.ts";

/** Integer below 2^48 from a seed and names, so that no curve's numbers depend on the others. */
export function deriveSeed(seed: number, hybrid: string, environment: string | null): number {
  return Number.parseInt(hashText(JSON.stringify([seed, hybrid, environment])).slice(0, 12), 16);
}
