import { expect, test } from "vitest";
import { checkedRatio, netPrice, priceRatio } from "../../src/core/economics.ts";
import {
  economicOptimum,
  fitCurve,
  mixedOptimum,
  optimumInterval,
  partialBudget,
  quantityInterval,
} from "../../src/index.ts";
import { fitMixedResponse } from "../../src/mixed/fitMixedResponse.ts";
import { assertDigits } from "../assertDigits.ts";

test("the price ratios of published seed and maize prices, bu per 1,000 seeds", () => {
  // Unit of 80,000 kernels and grain prices as printed by Indiana, Michigan, Iowa, Ohio and Illinois extension notes.
  const printed = [
    [200, 6.5, 0.385],
    [275, 5.6, 0.614],
    [300, 5, 0.75],
    [240, 3.75, 0.8],
    [300, 4.5, 0.833],
  ];
  for (const [unit, grainPrice, expected] of printed) {
    // Three digits are printed.
    expect(Math.abs(priceRatio({ grainPrice, seedCost: unit / 80 }) - expected)).toBeLessThan(0.0006);
  }
  // Indiana: $200 a unit, $6.50, 95 % of the seeds grow.
  assertDigits(priceRatio({ grainPrice: 6.5, seedCost: 2.5, establishment: 0.95 }), 0.40486, 5);
});

const data = {
  density: [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43],
  yield: [173, 190, 199, 204, 197, 188, 178, 186, 203, 199, 201, 192, 170, 188, 196, 206, 195, 190],
  block: [1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2, 3, 3, 3, 3, 3, 3],
};
const fine = { grainPrice: 4.5, seedCost: 3.75, establishment: 0.95, yieldCost: 0.4 };
const broken = [
  { grainPrice: 0 },
  { grainPrice: -1 },
  { grainPrice: Number.NaN },
  { grainPrice: Number.POSITIVE_INFINITY },
  { seedCost: -0.01 },
  { seedCost: Number.NaN },
  { seedCost: Number.POSITIVE_INFINITY },
  { establishment: 0 },
  { establishment: 1.51 },
  { establishment: Number.NaN },
  { yieldCost: -0.1 },
  { yieldCost: 4.5 },
  { yieldCost: Number.NaN },
];

test("every door that takes prices keeps the same rule", () => {
  const fit = fitCurve("quadratic", data);
  const mixed = fitMixedResponse(
    { ...data, environment: data.density.map((_, i) => `E${i % 3}`) },
    { curve: "quadratic" },
  );
  const doors = [
    (prices: typeof fine) => priceRatio(prices),
    (prices: typeof fine) => economicOptimum(fit, prices).priceRatio,
    (prices: typeof fine) => optimumInterval(data, { target: "economic", method: "fieller", ...prices }),
    (prices: typeof fine) => mixedOptimum(mixed, { prices }).priceRatio,
    (prices: typeof fine) => quantityInterval(data, { kind: "economic-optimum", prices }),
  ];
  for (const door of doors) expect(() => door(fine)).not.toThrow();
  for (const door of doors) {
    for (const one of broken)
      expect(() => door({ ...fine, ...one }), JSON.stringify(one)).toThrow(
        expect.objectContaining({ code: "invalid-option" }),
      );
  }
  for (const yieldCost of [-0.1, 4.5])
    expect(() => partialBudget({ addedSeed: 1, seedCost: 3.75, addedYield: 1, grainPrice: 4.5, yieldCost })).toThrow(
      /yieldCost/,
    );
  expect(netPrice({ grainPrice: 4.5, yieldCost: 0.5 })).toBe(4);
  for (const ratio of [-1, Number.NaN, Number.POSITIVE_INFINITY])
    expect(() => checkedRatio(ratio)).toThrow(/priceRatio/);
});
