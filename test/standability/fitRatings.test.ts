import { describe, expect, test } from "vitest";
import { fitRatings } from "../../src/standability/fitRatings.ts";
import { assertDigits } from "../assertDigits.ts";
import extra from "../oracle/lodging/extra.json" with { type: "json" };

const { density, rating, block } = extra.ratings.data;
const cuts = 5; // ratings 1, 2, 3, 4, 5 and 7 occur

test("slope, cuts, errors and log-likelihood are those of R's MASS::polr", () => {
  const fit = fitRatings({ density, rating });
  const { zeta_beta, se, vcov, loglik, polr_coef, polr_zeta, polr_loglik } = extra.ratings.plain;
  expect(fit.status).toBe("converged");
  expect(fit.ratings).toEqual([1, 2, 3, 4, 5, 7]);
  assertDigits(fit.slope, zeta_beta[cuts] / 8, 8);
  assertDigits(fit.slopeError, se[cuts] / 8, 7);
  assertDigits(fit.logLikelihood, loglik, 10);
  // z = (density - 32) / 8, so a cut at density 0 is zeta + 4 slope.
  fit.cuts.forEach(({ cut, standardError }, k) => {
    assertDigits(cut, zeta_beta[k] + 4 * zeta_beta[cuts], 8);
    const variance = vcov[k][k] + 16 * vcov[cuts][cuts] + 8 * vcov[k][cuts];
    assertDigits(standardError, Math.sqrt(variance), 7);
    // polr itself stops after about 9 digits.
    assertDigits(cut, polr_zeta[k] + 4 * Number(polr_coef), 8);
  });
  assertDigits(fit.logLikelihood, polr_loglik, 10);
});

test("with blocks: slope and block effects of polr, cuts for the average block, likelihood-ratio test", () => {
  const fit = fitRatings({ density, rating, block });
  const { zeta_beta, se, loglik } = extra.ratings.blocks;
  const effects = [0, zeta_beta[cuts + 1], zeta_beta[cuts + 2]];
  const average = (effects[1] + effects[2]) / 3;
  assertDigits(fit.slope, zeta_beta[cuts] / 8, 8);
  assertDigits(fit.slopeError, se[cuts] / 8, 7);
  fit.blockEffects.forEach(({ effect }, b) => void assertDigits(effect, effects[b] - average, 7));
  fit.cuts.forEach(({ cut }, k) => void assertDigits(cut, zeta_beta[k] - average + 4 * zeta_beta[cuts], 8));
  assertDigits(fit.slopeTest?.statistic, 2 * (loglik - extra.ratings.null_loglik_blocks), 8);
  assertDigits(
    fitRatings({ density, rating }).slopeTest?.statistic,
    2 * (extra.ratings.plain.loglik - extra.ratings.null_loglik),
    8,
  );
});

test("P(rating worse than k) and its standard error follow from the estimates by the delta method", () => {
  const fit = fitRatings({ density, rating });
  const { zeta_beta, vcov } = extra.ratings.plain;
  for (const row of fit.worseThan) {
    const k = fit.ratings.indexOf(row.rating);
    const z = (row.density - 32) / 8;
    const p = 1 / (1 + Math.exp(zeta_beta[k] - zeta_beta[cuts] * z));
    assertDigits(row.probability, p, 8);
    const variance = vcov[k][k] - 2 * z * vcov[k][cuts] + z * z * vcov[cuts][cuts];
    assertDigits(row.standardError, p * (1 - p) * Math.sqrt(variance), 6);
    expect(row.interval.lower!).toBeLessThan(row.probability);
    expect(row.interval.upper!).toBeGreaterThan(row.probability);
  }
  expect(fit.worseThan.length).toBe(5 * cuts);
});

test("a scale that runs the other way gives the same answer when its direction is stated", () => {
  const fit = fitRatings({ density, rating, block });
  const turned = fitRatings({ density, rating: rating.map((r) => 10 - r), block }, { worse: "lower" });
  assertDigits(turned.slope, fit.slope!, 10);
  turned.worseThan.forEach(({ probability }, i) => void assertDigits(probability, fit.worseThan[i].probability, 10));
  const misread = fitRatings({ density, rating: rating.map((r) => 10 - r), block });
  assertDigits(misread.slope, -fit.slope!, 10);
});

describe("no finite estimate: a status", () => {
  test("density divides the ratings", () => {
    const fit = fitRatings({ density: [1, 1, 2, 2, 3, 3], rating: [1, 1, 1, 4, 4, 6] });
    expect(fit.status).toBe("separation");
    expect(fit.slope).toBeNull();
  });

  test("a block with only the best ratings", () => {
    const fit = fitRatings({
      density: [1, 2, 3, 1, 2, 3, 1, 2, 3],
      rating: [2, 1, 3, 1, 3, 2, 1, 1, 1],
      block: ["a", "a", "a", "b", "b", "b", "c", "c", "c"],
    });
    expect(fit.status).toBe("separation");
    expect(fit.note).toContain("block");
  });

  test("one rating, one density", () => {
    expect(fitRatings({ density: [1, 2], rating: [3, 3] }).status).toBe("one-rating");
    expect(fitRatings({ density: [1, 1], rating: [3, 4] }).status).toBe("singular");
  });
});

test("the result survives JSON unchanged, and mistakes throw a code", () => {
  const fit = fitRatings({ density, rating, block });
  expect(JSON.parse(JSON.stringify(fit))).toEqual(fit);
  expect(() => fitRatings({ density: [1, 2], rating: [1] })).toThrow(
    expect.objectContaining({ code: "length-mismatch" }),
  );
  expect(() => fitRatings({ density: [1, 2], rating: [1, Number.NaN] })).toThrow(
    expect.objectContaining({ code: "invalid-data" }),
  );
});
