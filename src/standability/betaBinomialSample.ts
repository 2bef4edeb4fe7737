import type { RandomStream } from "../core/random.ts";

/**
 * Number lodged among `plants` plants of one plot with mean share `share` and intraclass correlation `icc`.
 *
 * Urn scheme: the next plant lodges with probability (share + lodged theta) / (1 + seen theta), theta = icc / (1 - icc);
 * the total is exactly beta-binomial, and binomial at icc = 0.
 *
 * Source: Eggenberger & Polya (1923), ZAMM 3(4), 279-289.
 */
export function betaBinomialSample(plants: number, share: number, icc: number, random: RandomStream): number {
  if (icc >= 1) return random.next() < share ? plants : 0;
  const theta = icc / (1 - icc);
  let lodged = 0;
  for (let seen = 0; seen < plants; seen++) {
    if (random.next() * (1 + seen * theta) < share + lodged * theta) lodged++;
  }
  return lodged;
}
