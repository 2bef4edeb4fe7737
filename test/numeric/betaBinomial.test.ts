import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { betaBinomialCdf, countAt } from "../../src/numeric/betaBinomial.ts";
import { binomialCdf, logBeta, logGamma } from "../../src/numeric/distributions.ts";
import { betaBinomialSample } from "../../src/standability/betaBinomialSample.ts";
import { assertDigits } from "../assertDigits.ts";

test("the table agrees with the gamma-function form of the distribution", () => {
  for (const [n, p, icc] of [
    [20, 0.1, 0.05],
    [100, 0.03, 0.15],
    [7, 0.9, 0.5],
    [250, 0.4, 0.01],
  ]) {
    const theta = icc / (1 - icc);
    const cdf = betaBinomialCdf(n, p, icc);
    let sum = 0;
    for (let k = 0; k <= n; k++) {
      const choose = logGamma(n + 1) - logGamma(k + 1) - logGamma(n - k + 1);
      sum += Math.exp(choose + logBeta(k + p / theta, n - k + (1 - p) / theta) - logBeta(p / theta, (1 - p) / theta));
      // logBeta at 100 and more costs the check about three digits.
      assertDigits(cdf[k], sum, 10);
    }
  }
});

test("without correlation it is the binomial; with full correlation, all plants or none", () => {
  const cdf = betaBinomialCdf(40, 0.2, 0);
  for (let k = 0; k < 40; k++) assertDigits(cdf[k], binomialCdf(k, 40, 0.2), 11);
  expect([...betaBinomialCdf(3, 0.25, 1)]).toEqual([0.75, 0.75, 0.75, 1]);
  expect([...betaBinomialCdf(2, 0, 0.1)]).toEqual([1, 1, 1]);
  expect([...betaBinomialCdf(2, 1, 0.1)]).toEqual([0, 0, 1]);
});

test("counts drawn from the table and from the urn have mean n p and variance n p q (1 + (n - 1) icc)", () => {
  const [n, p, icc] = [50, 0.15, 0.08];
  const cdf = betaBinomialCdf(n, p, icc);
  for (const urn of [false, true]) {
    const random = streamRandom(3, urn ? 1 : 0);
    const draws = Array.from({ length: 20_000 }, () =>
      urn ? betaBinomialSample(n, p, icc, random) : countAt(cdf, random.next()),
    );
    const mean = draws.reduce((s, k) => s + k, 0) / draws.length;
    const variance = draws.reduce((s, k) => s + (k - mean) ** 2, 0) / draws.length;
    const expected = n * p * (1 - p) * (1 + (n - 1) * icc);
    expect(Math.abs(mean - n * p)).toBeLessThan(4 * Math.sqrt(expected / draws.length));
    // The variance of a variance of 20,000 skewed draws: about 1.3 % standard error.
    expect(Math.abs(variance / expected - 1)).toBeLessThan(0.05);
  }
});

test("countAt inverts the table", () => {
  const cdf = Float64Array.of(0.2, 0.5, 0.5, 1);
  expect([0, 0.19, 0.2, 0.49, 0.5, 0.999].map((u) => countAt(cdf, u))).toEqual([0, 0, 1, 1, 3, 3]);
});

test("ten thousand plants neither overflow nor underflow; share and correlation at their ends", () => {
  // symmetric: P(X <= n / 2 - 1) = (1 - P(n / 2)) / 2
  const cdf = betaBinomialCdf(10_000, 0.5, 0.2);
  assertDigits(cdf[4999] + cdf[5000], 1, 11);
  expect(cdf[10_000]).toBe(1);
  // theta = 1, p = 1/2: the uniform's neighbour a = b = 1/2, the arcsine law: P(X = 0) of n = 2 is 3/8
  assertDigits(betaBinomialCdf(2, 0.5, 0.5)[0], 3 / 8, 14);
  assertDigits(betaBinomialCdf(2, 0.5, 0.5)[1], 5 / 8, 14);
  // a = b = 1, icc = 1 / 3: every count alike
  betaBinomialCdf(9, 0.5, 1 / 3).forEach((v, k) => void assertDigits(v, (k + 1) / 10, 13));
  expect([...betaBinomialCdf(2, -0.1, 0.1)]).toEqual([1, 1, 1]);
  expect([...betaBinomialCdf(2, 0.3, 1.5)]).toEqual([0.7, 0.7, 1]);
  expect([...betaBinomialCdf(0, 0.3, 0.1)]).toEqual([1]);
});
