import fc from "fast-check";
import { expect, test } from "vitest";
import { analyzeTrial, convertDensity, convertYield, cropTable, readTrial, type Trial } from "../../src/index.ts";
import type { Field } from "../../src/recommend/field.ts";
import { recommendRate } from "../../src/recommend/recommendRate.ts";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { lodgingCounts } from "../../src/standability/lodgingCounts.ts";
import { analysed, parabola, sampleTrial } from "./sampleTrial.ts";

/** Trials of different quality and shape; the properties must hold for all. */
const shapes = [
  parabola(205, 31, 0.07),
  (x: number): number => 200 - 2 * Math.max(30 - x, 0),
  (x: number): number => 210 - 0.12 * Math.max(33 - x, 0) ** 2,
  (x: number): number => 200 * (x / 28) * Math.exp(1 - x / 28),
];
const trials = shapes.flatMap((shape, k) =>
  [3, 9].map((sigma) => {
    const trial = sampleTrial(shape, { sigma, seed: 10 * k + sigma, blocks: 3, logit: (x) => -8 + 0.19 * x });
    const lodging = fitLodging(lodgingCounts(trial.plots));
    return { trial, analysis: analysed(trial), options: { lodging, draws: 60, resamples: 0 } };
  }),
);
const anyTrial = fc.constantFrom(...trials);
const numRuns = process.env["STANDCURVE_SLOW"] === "1" ? 200 : 40;

const field = fc.record(
  {
    hybrid: fc.constant("Amber 12"),
    presentRate: fc.double({ min: 20, max: 40, noNaN: true }),
    acceptedStep: fc.constantFrom(0.5, 1, 2, 4),
    planterStep: fc.constantFrom(0.1, 0.5, 1),
    establishment: fc.constantFrom(0.85, 0.95, { lowest: 0.85, likely: 0.93, highest: 0.97 }),
    toleratedLodging: fc.constantFrom(0.03, 0.05, 0.1, 0.2),
    lossPerLodgedPlant: fc.constantFrom(0, 0.3, 1),
    yieldGoal: fc.constantFrom(150, 230),
    supply: fc.record({
      unit: fc.constant("lb/ac" as const),
      K2O: fc.record({ soil: fc.double({ min: 60, max: 260, noNaN: true }) }),
    }),
  },
  { requiredKeys: ["hybrid"] },
) as fc.Arbitrary<Field>;

const attitudes = fc.constantFrom({ kind: "expected" } as const, { kind: "chance", chance: 0.25 } as const);
const money = fc.record({
  grainPrice: fc.double({ min: 2.5, max: 9, noNaN: true }),
  seedCostPerThousand: fc.double({ min: 0, max: 8, noNaN: true }),
});
const more = fc.double({ min: 1.0001, max: 3, noNaN: true });

test("dearer seed never raises the rate", () => {
  fc.assert(
    fc.property(anyTrial, field, money, more, attitudes, ({ analysis, options }, base, prices, factor, attitude) => {
      const at = (cost: number): number =>
        recommendRate(analysis, { ...base, prices: { ...prices, seedCostPerThousand: cost } }, { ...options, attitude })
          .rate;
      expect(at(prices.seedCostPerThousand * factor + 0.01)).toBeLessThanOrEqual(at(prices.seedCostPerThousand));
    }),
    { numRuns },
  );
});

test("dearer seed never raises the rate when prices are ranges, and the whole range moves", () => {
  const spread = (likely: number, down: number, up: number) => ({
    lowest: likely * down,
    likely,
    highest: likely * up,
  });
  fc.assert(
    fc.property(anyTrial, field, money, more, ({ analysis, options }, base, prices, factor) => {
      const at = (cost: number): number =>
        recommendRate(
          analysis,
          {
            ...base,
            prices: {
              grainPrice: spread(prices.grainPrice, 0.8, 1.3),
              seedCostPerThousand: spread(cost, 0.9, 1.2),
              yieldCost: spread(0.2, 0.5, 2),
            },
          },
          options,
        ).rate;
      expect(at(prices.seedCostPerThousand * factor + 0.01)).toBeLessThanOrEqual(at(prices.seedCostPerThousand));
    }),
    { numRuns },
  );
});

test("a larger accepted step never ends farther from the target, and no step is larger than accepted", () => {
  fc.assert(
    fc.property(anyTrial, field, fc.constantFrom(0.5, 1, 2, 4), more, ({ analysis, options }, base, step, factor) => {
      const present = base.presentRate ?? 33;
      const at = (acceptedStep: number) =>
        recommendRate(analysis, { ...base, presentRate: present, acceptedStep }, options);
      const [small, large] = [at(step), at(step * factor)];
      expect(large.target).toBe(small.target);
      expect(Math.abs(large.rate - large.target)).toBeLessThanOrEqual(Math.abs(small.rate - small.target) + 1e-9);
      for (const [{ rate }, accepted] of [
        [small, step],
        [large, step * factor],
      ] as const)
        expect(Math.abs(rate - present)).toBeLessThanOrEqual(accepted * (1 + 1e-9));
    }),
    { numRuns },
  );
});

test("dearer grain never lowers it under the expected attitude", () => {
  fc.assert(
    fc.property(anyTrial, field, money, more, ({ analysis, options }, base, prices, factor) => {
      const at = (grainPrice: number): number =>
        recommendRate(analysis, { ...base, prices: { ...prices, grainPrice } }, options).rate;
      expect(at(prices.grainPrice * factor)).toBeGreaterThanOrEqual(at(prices.grainPrice));
    }),
    { numRuns },
  );
});

test("a lower tolerated share of lodged plants never raises it", () => {
  fc.assert(
    fc.property(
      anyTrial,
      field,
      fc.double({ min: 0.01, max: 0.6, noNaN: true }),
      more,
      ({ analysis, options }, base, share, factor) => {
        const at = (toleratedLodging: number): number =>
          recommendRate(analysis, { ...base, toleratedLodging }, options).rate;
        expect(at(share / factor)).toBeLessThanOrEqual(at(share));
      },
    ),
    { numRuns },
  );
});

test("a better-fed field never lowers it", () => {
  fc.assert(
    fc.property(
      anyTrial,
      field,
      fc.double({ min: 40, max: 250, noNaN: true }),
      more,
      attitudes,
      ({ analysis, options }, base, soil, factor, attitude) => {
        const at = (amount: number): number =>
          recommendRate(
            analysis,
            { ...base, supply: { unit: "lb/ac", K2O: { soil: amount }, P2O5: { soil: amount / 2 } } },
            { ...options, attitude },
          ).rate;
        expect(at(soil * factor)).toBeGreaterThanOrEqual(at(soil));
      },
    ),
    { numRuns },
  );
});

/** The same trial with densities per hectare and yields in t/ha. */
function metric(trial: Trial): Trial {
  const maize = cropTable.find(({ name }) => name === "maize");
  const rows = trial.plots.map((plot) => ({
    crop: "maize",
    hybrid: plot.hybrid,
    site: plot.site,
    year: plot.year,
    block: plot.block,
    seeding_rate_ha: convertDensity(plot.seedingRate as number, trial.densityUnit, "plants/ha"),
    stand_ha: convertDensity(plot.stand as number, trial.densityUnit, "plants/ha"),
    yield_t_ha: convertYield(plot.yield as number, trial.yieldUnit, "t/ha", maize),
    stalk_lodged: plot.lodging[0].lodged,
    plants_examined: plot.lodging[0].examined,
  }));
  const { trial: converted, issues } = readTrial(rows);
  if (converted === null) throw new Error(issues.map(({ message }) => message).join("\n"));
  return converted;
}

test("units never change it: seeds per hectare and tonnes give the same planter setting and the same money", () => {
  const maize = cropTable.find(({ name }) => name === "maize");
  for (const { trial } of trials.slice(0, 4)) {
    const other = metric(trial);
    const perBushel = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
    // Money per tonne: per bushel x bushels a tonne.
    const perTonne = { grainPrice: 4.5 / (0.45359237 * 0.056), seedCostPerThousand: 3.75 };
    const analyse = (one: Trial, prices: typeof perBushel) => analyzeTrial(one, { resamples: 0, prices, seed: 5 });
    const step = 0.5;
    const ours = recommendRate(
      analyse(trial, perBushel),
      {
        hybrid: "Amber 12",
        planterStep: step,
        presentRate: 33,
        acceptedStep: 3,
        supply: { unit: "lb/ac", K2O: { soil: 170 } },
      },
      { trial, resamples: 0, draws: 200 },
    );
    const theirs = recommendRate(
      analyse(other, perTonne),
      {
        hybrid: "Amber 12",
        rateUnit: "1000 plants/ac",
        planterStep: step,
        presentRate: 33,
        acceptedStep: 3,
        supply: { unit: "kg/ha", K2O: { soil: 170 * 1.12085116 } },
      },
      { trial: other, resamples: 0, draws: 200 },
    );
    const perHectare = recommendRate(
      analyse(other, perTonne),
      {
        hybrid: "Amber 12",
        rateUnit: "plants/ha",
        planterStep: convertDensity(step, "1000 plants/ac", "plants/ha"),
        presentRate: convertDensity(33, "1000 plants/ac", "plants/ha"),
        acceptedStep: convertDensity(3, "1000 plants/ac", "plants/ha"),
      },
      { trial: other, resamples: 0, draws: 200 },
    );
    expect(theirs.rate).toBe(ours.rate);
    expect(theirs.bindingLimit).toBe(ours.bindingLimit);
    // Six digits: lb/ac to kg/ha is given to nine, and random draws pass through a Cholesky factor in other units.
    const same = (a: number, b: number): void => expect(Math.abs(a / b - 1)).toBeLessThan(1e-6);
    same(convertYield(theirs.expected.yield.mean, "t/ha", "bu/ac", maize), ours.expected.yield.mean);
    same(theirs.expected.return.mean / 2.4710538146716536, ours.expected.return.mean);
    same(
      convertDensity(perHectare.limits.standability.rate as number, "plants/ha", "1000 plants/ac"),
      ours.limits.standability.rate as number,
    );
  }
});
