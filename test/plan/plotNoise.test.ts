import { expect, test } from "vitest";
import { planBudget } from "../../src/plan/planBudget.ts";
import { plotNoise } from "../../src/plan/plotNoise.ts";
import { meanOf, quantileOf, shareOf } from "../../src/plan/share.ts";
import { assertDigits } from "../assertDigits.ts";

test("scatter from a CV is that share of the mean yield", () => {
  expect(plotNoise({ cvPercent: 5, meanYield: 200 }, "bu/ac").sigma).toBe(10);
});

test("scatter from strip length reproduces the published fall of the LSD from 10 to 5 bu/ac, 250 to 1,000 ft", () => {
  const lsd = (feet: number): number =>
    plotNoise({ stripLength: { value: feet, unit: "ft" } }, "bu/ac").sigma * 2.7764451051977934 * Math.sqrt(2 / 3);
  assertDigits(lsd(250), 10, 12);
  assertDigits(lsd(1000), 5, 12);
  expect(() => plotNoise({ stripLength: { value: 250, unit: "ft" } }, "t/ha")).toThrow(/reference/);
});

test("a strip of one's own is the better reference, in any unit", () => {
  const reference = { length: { value: 100, unit: "m" }, sigma: 0.4 } as const;
  assertDigits(plotNoise({ stripLength: { value: 400, unit: "m" }, reference }, "t/ha").sigma, 0.2, 12);
  assertDigits(
    plotNoise({ stripLength: { value: 400, unit: "m" }, reference, exponent: 0.25 }, "t/ha").sigma,
    0.4 / Math.SQRT2,
    12,
  );
});

test("scatter from an analysis pools the chosen curves by degrees of freedom", () => {
  const hybrid = (sigma: number, dofResidual: number) =>
    ({
      hybrid: `H${sigma}`,
      pooled: {
        kind: "analysed",
        chosen: "quadratic",
        comparison: { fits: [{ family: "quadratic", sigma, dofResidual }] },
      },
    }) as const;
  const analysis = {
    hybrids: [hybrid(3, 10), hybrid(6, 20), { hybrid: "bad", pooled: { kind: "not-estimable" } } as const],
  };
  assertDigits(plotNoise({ analysis }, "bu/ac").sigma, Math.sqrt((9 * 10 + 36 * 20) / 30), 12);
  expect(plotNoise({ analysis, hybrid: "H3" }, "bu/ac").sigma).toBe(3);
  expect(() => plotNoise({ analysis, hybrid: "bad" }, "bu/ac")).toThrow(/scatter/);
});

test("the budget counts plots, ground, seed and money", () => {
  // By hand: 3 densities x 4 blocks x 2 hybrids = 24 plots of 30 ft x 10 ft = 7,200 sq ft = 0.1652893 ac;
  // seeds: (20 + 30 + 40) thousand/ac x 8 plots x 300 / 43,560 ac = 4,958.678; 24 x 15 + 50 + 4.958678 x 3.5 = 427.35537.
  const budget = planBudget([20, 30, 40], 4, 1, "1000 plants/ac", {
    plotLength: { value: 30, unit: "ft" },
    plotWidth: { value: 10, unit: "ft" },
    hybrids: 2,
    seedCostPerThousand: 3.5,
    costPerPlot: 15,
    costPerEnvironment: 50,
  });
  expect(budget.plots).toBe(24);
  expect(budget.area.unit).toBe("ac");
  assertDigits(budget.area.value, 7200 / 43560, 12);
  assertDigits(budget.seeds, (90_000 * 8 * 300) / 43560, 12);
  assertDigits(budget.cost, 24 * 15 + 50 + ((90_000 * 8 * 300) / 43560 / 1000) * 3.5, 12);
});

test("a share that never happened still has a simulation error", () => {
  const none = shareOf(0, 100);
  expect(none.value).toBe(0);
  // (k + 2) / (n + 4) = 2 / 104.
  assertDigits(none.error, Math.sqrt(((2 / 104) * (102 / 104)) / 104), 12);
  expect(shareOf(0, 0)).toEqual({ value: null, error: null, count: 0, of: 0 });
  expect(meanOf([])).toEqual({ value: null, error: null, of: 0 });
  expect(meanOf([1, 3]).error).toBe(1);
  expect(quantileOf([1, 2, 4], 0.75)).toBe(3);
});
