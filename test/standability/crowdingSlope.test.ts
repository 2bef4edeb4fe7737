import { expect, test } from "vitest";
import { crowdingSlope } from "../../src/standability/crowdingSlope.ts";
import { assertDigits } from "../assertDigits.ts";

test("log-log slopes of grain per plant of eight hybrids (Carmer & Jackobs 1965)", () => {
  // Plot means, lb a hill at 2, 4, 6, 8 plants a hill, and the slopes computed from them in R.
  const rows: [number[], number][] = [
    [[1.176, 1.73, 1.98, 1.946], -0.615059],
    [[1.356, 2.03, 1.878, 1.804], -0.790567],
    [[1.298, 1.634, 1.458, 1.384], -0.953903],
    [[0.974, 1.93, 2.13, 1.806], -0.50745],
  ];
  const density = [2, 4, 6, 8];
  for (const [grain, expected] of rows) {
    const { slope } = crowdingSlope({ density, trait: grain.map((y, i) => y / density[i]) });
    assertDigits(slope, expected, 5); // printed with 6 decimals
  }
});

test("a diameter that keeps stalk cross-section per area constant has slope -0.5, blocks removed", () => {
  const density = [20, 30, 40, 20, 30, 40];
  const trait = density.map((x, i) => (i < 3 ? 100 : 120) * x ** -0.5);
  const fit = crowdingSlope({ density, trait, block: ["a", "a", "a", "b", "b", "b"] });
  assertDigits(fit.slope, -0.5, 12);
  expect(fit.dofResidual).toBe(3);
});

test("standard error and interval are those of the regression of logarithms", () => {
  // x = e^0, e^1, e^2, e^3 and ln y = 0, 1, 1, 2: slope 0.6, residual SS 0.2, Sxx 5, 2 df; t(0.975; 2) = 4.302653 (tables).
  const e = [0, 1, 2, 3].map(Math.exp);
  const fit = crowdingSlope({ density: e, trait: [0, 1, 1, 2].map(Math.exp) });
  assertDigits(fit.slope, 0.6, 12);
  assertDigits(fit.standardError, Math.sqrt(0.1 / 5), 12);
  assertDigits(fit.interval?.upper, 0.6 + 4.302653 * Math.sqrt(0.02), 7);
});

test("one density is not estimable, and values at or below 0 throw", () => {
  expect(crowdingSlope({ density: [5, 5], trait: [1, 2] }).status).toBe("not-estimable");
  expect(() => crowdingSlope({ density: [5, 0], trait: [1, 2] })).toThrow(
    expect.objectContaining({ code: "invalid-data" }),
  );
});
