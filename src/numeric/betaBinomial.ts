import { exp, log } from "../core/elementary.ts";

/**
 * Cumulative probabilities of a beta-binomial count: entry k is P(count <= k), k = 0 .. plants; the last is 1.
 *
 * Successive probabilities have the ratio
 * `(n - k) (p + k theta) / ((k + 1) (q + (n - k - 1) theta))`, theta = icc / (1 - icc), q = 1 - p; they are summed on the
 * log scale from the first and then normalised, so nothing overflows. icc = 0 is the binomial.
 *
 * @param plants - n, a whole number
 * @param share - p, 0 <= p <= 1
 * @param icc - intraclass correlation, 0 <= icc <= 1
 *
 * Source: product form of the distribution, as in Prentice (1986), JASA 81, 321-327.
 */
export function betaBinomialCdf(plants: number, share: number, icc: number): Float64Array {
  const cdf = new Float64Array(plants + 1);
  const rest = 1 - share;
  if (share <= 0) return cdf.fill(1);
  if (rest <= 0 || icc >= 1) {
    // All plants alike: none with probability q, else all.
    cdf.fill(Math.max(rest, 0));
    cdf[plants] = 1;
    return cdf;
  }
  const theta = icc / (1 - icc);
  let logWeight = 0;
  let greatest = 0;
  for (let k = 0; k < plants; k++) {
    logWeight += log(((plants - k) * (share + k * theta)) / ((k + 1) * (rest + (plants - k - 1) * theta)));
    cdf[k + 1] = logWeight;
    if (logWeight > greatest) greatest = logWeight;
  }
  let total = 0;
  for (let k = 0; k <= plants; k++) {
    total += exp(cdf[k] - greatest);
    cdf[k] = total;
  }
  for (let k = 0; k < plants; k++) cdf[k] /= total;
  cdf[plants] = 1;
  return cdf;
}

/** Smallest k whose cumulative probability exceeds `u`, 0 <= u < 1: the count for a uniform number. */
export function countAt(cdf: Float64Array, u: number): number {
  let low = 0;
  let high = cdf.length - 1;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (cdf[middle] > u) high = middle;
    else low = middle + 1;
  }
  return low;
}
