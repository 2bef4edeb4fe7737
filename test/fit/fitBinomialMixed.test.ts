import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { fitBinomial } from "../../src/fit/fitBinomial.ts";
import { logit } from "../../src/fit/fitBinomialLinks.ts";
import { fitBinomialMixed } from "../../src/fit/fitBinomialMixed.ts";
import { logGamma } from "../../src/numeric/distributions.ts";
import { normalQuadrature } from "../../src/numeric/gaussHermite.ts";
import { assertDigits } from "../assertDigits.ts";
import extra from "../oracle/lodging/extra.json" with { type: "json" };
import { referenceModels } from "./binomialReference.ts";

const sim07 = referenceModels().find(({ model }) => model.id === "sim07")!.columns as Record<string, number[]>;
const labels = sim07.block as unknown as string[];
const group = Int32Array.from(labels, (b) => Number(b.slice(1)) - 1);
const design = Float64Array.from({ length: 56 }, (_, k) => (k % 2 === 0 ? 1 : (sim07.density[k >> 1] - 90) / 30));
const problem = {
  design,
  columns: 2,
  events: Float64Array.from(sim07.lodged),
  trials: Float64Array.from(sim07.plants),
  link: logit,
};
const coefficientSum = sim07.lodged.reduce(
  (s, k, i) => s + logGamma(sim07.plants[i] + 1) - logGamma(k + 1) - logGamma(sim07.plants[i] - k + 1),
  0,
);

test("the quadrature rule integrates the moments of the standard normal", () => {
  for (const n of [7, 25, 41]) {
    const { nodes, weights } = normalQuadrature(n);
    const moment = (power: number) => nodes.reduce((sum, u, k) => sum + weights[k] * u ** power, 0);
    // 1, 1, 3, 15, 105: (2 k - 1)!!
    [1, 1, 3, 15, 105].forEach((expected, k) => void assertDigits(moment(2 * k), expected, 11));
    expect(Math.abs(moment(3))).toBeLessThan(1e-12);
  }
});

test("estimates, errors and log-likelihood are those of R by numerical integration; lme4 agrees to its own accuracy", () => {
  const fit = fitBinomialMixed(problem, group, 4);
  const { exact, aghq25 } = extra.mixed;
  expect(fit.status).toBe("converged");
  [0, 1].forEach((j) => void assertDigits(fit.coef[j], exact.coef[j], 9));
  assertDigits(fit.sd, exact.sd, 9);
  assertDigits(fit.value + coefficientSum, exact.loglik, 10);
  const vcov = fit.vcov as Float64Array;
  // The reference takes its second derivatives numerically: 7 digits.
  assertDigits(Math.sqrt(vcov[0]), exact.se[0], 7);
  assertDigits(Math.sqrt(vcov[4]), exact.se[1], 7);
  // lme4 stops its optimiser near 1e-6.
  [0, 1].forEach((j) => void assertDigits(fit.coef[j], aghq25.coef[j], 5));
  assertDigits(fit.sd, aghq25.sd, 5);
});

test("more nodes change nothing, group order changes nothing", () => {
  const fit = fitBinomialMixed(problem, group, 4);
  const more = fitBinomialMixed(problem, group, 4, 45);
  assertDigits(more.value, fit.value, 12);
  assertDigits(more.sd, fit.sd, 9);
  const turned = fitBinomialMixed(
    problem,
    group.map((g) => 3 - g),
    4,
  );
  assertDigits(turned.sd, fit.sd, 9);
  assertDigits(turned.levels[0], fit.levels[3], 8);
});

test("groups that differ no more than chance give a standard deviation of 0 and the plain fit", () => {
  const random = streamRandom(2, 0);
  const even = sim07.plants.map((m, i) => {
    const p = 1 / (1 + Math.exp(1.2 - 2.4 * design[2 * i + 1]));
    // Less spread than binomial: expected counts, rounded at random.
    return Math.floor(m * p + random.next());
  });
  const fit = fitBinomialMixed({ ...problem, events: Float64Array.from(even) }, group, 4);
  const plain = fitBinomial({ ...problem, events: Float64Array.from(even) });
  expect(fit.sd).toBe(0);
  expect(fit.status).toBe("converged");
  assertDigits(fit.coef[1], plain.coef[1], 12);
});
