import { describe, expect, test } from "vitest";
import type { Assessment } from "../../src/recommend/assess.ts";
import { chooseRate } from "../../src/recommend/chooseRate.ts";
import type { DensityLimit, LimitName } from "../../src/recommend/densityLimit.ts";
import { defaultPlanterStep, multiple, planterRates } from "../../src/recommend/planterRates.ts";

// Worked by hand: tested rates 20 to 40, a worth with one peak, limits as named.

interface Case {
  readonly peak: number;
  readonly step?: number;
  readonly range?: readonly [number, number];
  readonly standability?: Partial<DensityLimit>;
  readonly feeding?: Partial<DensityLimit>;
  readonly nitrogen?: Partial<DensityLimit>;
  readonly present?: number;
  readonly accepted?: number;
  readonly establishment?: number | { lowest: number; likely: number; highest: number } | null;
  readonly economic?: DensityLimit["kind"];
}

function chosen(given: Case) {
  const limit = (name: LimitName, own: Partial<DensityLimit> = {}): DensityLimit => ({
    name,
    kind: own.rate === undefined ? "none" : "at",
    rate: null,
    stand: null,
    interval: null,
    basis: "by hand",
    ...own,
  });
  const assessment = {
    scene: {
      rates: given.range ?? [20, 40],
      rateUnit: "1000 plants/ac",
      establishment: given.establishment ?? null,
      field: { planterStep: given.step ?? 1, presentRate: given.present, acceptedStep: given.accepted },
    },
    lodging: { limit: limit("standability", given.standability) },
    feeding: { limit: limit("feeding", given.feeding) },
    nitrogen: { limit: limit("nitrogen-from-data", given.nitrogen) },
    economic: { kind: given.economic ?? "at" },
    returns: { worth: (rate: number) => -Math.abs(rate - given.peak) },
  };
  return chooseRate(assessment as unknown as Assessment);
}

describe("chooseRate", () => {
  test("without limits: the planter's rate nearest the peak, bound by the optimum", () => {
    expect(chosen({ peak: 31.2 })).toMatchObject({
      target: 31,
      rate: 31,
      bindingLimit: "economic-optimum",
      cap: 40,
      capName: "tested-range",
      notes: [],
    });
    expect(chosen({ peak: 31.2, step: 0.5 }).rate).toBe(31);
    expect(chosen({ peak: 31.3, step: 0.5 }).rate).toBe(31.5);
    // of two as good the lower
    expect(chosen({ peak: 31.5 }).rate).toBe(31);
  });
  test("an optimum on an end of the tested range is bound by the range", () => {
    expect(chosen({ peak: 99, economic: "at-highest" })).toMatchObject({ target: 40, bindingLimit: "tested-range" });
    expect(chosen({ peak: 1, economic: "at-lowest" })).toMatchObject({ target: 20, bindingLimit: "tested-range" });
    expect(chosen({ peak: 99, economic: "none" }).bindingLimit).toBe("tested-range");
  });
  test("the lowest cap binds, and is named; equal caps keep the first; limits that are none or at the top do not count", () => {
    const caps = { standability: { rate: 30.4 }, feeding: { rate: 28.9 }, nitrogen: { rate: 35 } };
    expect(chosen({ peak: 36, ...caps })).toMatchObject({
      target: 28,
      bindingLimit: "feeding",
      cap: 28.9,
      capName: "feeding",
    });
    expect(chosen({ peak: 36, standability: { rate: 30.4 } })).toMatchObject({
      target: 30,
      bindingLimit: "standability",
    });
    expect(chosen({ peak: 36, nitrogen: { rate: 33 } })).toMatchObject({
      target: 33,
      bindingLimit: "nitrogen-from-data",
    });
    expect(chosen({ peak: 36, standability: { rate: 30 }, feeding: { rate: 30 } }).capName).toBe("standability");
    const above = { kind: "at-highest", rate: 25 } as const;
    expect(chosen({ peak: 36, standability: above, feeding: { kind: "none", rate: 22 } })).toMatchObject({
      target: 36,
      cap: 40,
    });
    // a cap above the optimum does not bind
    expect(chosen({ peak: 28, ...caps, feeding: {} }).bindingLimit).toBe("economic-optimum");
  });
  test("a cap below what was tested: the first rate inside, with a note", () => {
    const low = chosen({ peak: 36, standability: { kind: "at-lowest", rate: 20 }, range: [20.5, 40] });
    expect(low).toMatchObject({ target: 21, bindingLimit: "standability", cap: 20 });
    expect(low.notes).toEqual([expect.stringMatching(/at or below the lowest tested/)]);
  });
  test("no multiple of the step inside the range: the rate is not rounded, with a note", () => {
    const odd = chosen({ peak: 36, step: 7, range: [29, 34], economic: "at-highest" });
    expect(odd).toMatchObject({ target: 34, bindingLimit: "tested-range" });
    expect(odd.notes).toEqual([expect.stringMatching(/not rounded/)]);
  });
  describe("the accepted step", () => {
    test("up and down: as near to the target as the step allows", () => {
      expect(chosen({ peak: 36, present: 30, accepted: 2.5 })).toMatchObject({
        target: 36,
        rate: 32,
        bindingLimit: "accepted-step",
      });
      expect(chosen({ peak: 24, present: 30, accepted: 2.5 })).toMatchObject({
        target: 24,
        rate: 28,
        bindingLimit: "accepted-step",
      });
      expect(chosen({ peak: 36, present: 30, accepted: 6 })).toMatchObject({
        rate: 36,
        bindingLimit: "economic-optimum",
      });
      expect(chosen({ peak: 30, present: 30, accepted: 2 }).rate).toBe(30);
    });
    test("too small to reach a setting of the planter: the present rate", () => {
      expect(chosen({ peak: 36, present: 30.2, accepted: 0.3 }).rate).toBe(30.2);
      expect(chosen({ peak: 24, present: 30.2, accepted: 0.1 }).rate).toBe(30.2);
    });
    test("its limit: where the step ends, as seeds and as plants", () => {
      const up = chosen({ peak: 36, present: 30, accepted: 2, establishment: 0.9 }).acceptedStep;
      expect(up).toMatchObject({ name: "accepted-step", kind: "at", rate: 32, stand: 28.8 });
      expect(up.basis).toMatch(/plus/);
      const range = { lowest: 0.8, likely: 0.9, highest: 0.95 };
      const down = chosen({ peak: 22, present: 30, accepted: 2, establishment: range }).acceptedStep;
      expect(down).toMatchObject({ rate: 28, stand: 25.2 });
      expect(down.basis).toMatch(/less/);
      expect(chosen({ peak: 22, present: 30, accepted: 2 }).acceptedStep.stand).toBeNull();
      expect(chosen({ peak: 22, present: 30, accepted: 50 }).acceptedStep.rate).toBe(0);
    });
    test("without a present rate or a step there is none, and it says which", () => {
      expect(chosen({ peak: 36 }).acceptedStep).toMatchObject({
        kind: "none",
        rate: null,
        basis: "No present rate was given.",
      });
      expect(chosen({ peak: 36, present: 30 }).acceptedStep).toMatchObject({ kind: "none", rate: null });
      expect(chosen({ peak: 36, present: 30 }).acceptedStep.basis).toMatch(/no largest step/);
      expect(chosen({ peak: 36, accepted: 3 }).rate).toBe(36);
    });
  });
});

describe("planterRates", () => {
  test("multiples inside, both ends included, rounding noise or not", () => {
    expect(planterRates(20, 22, 0.5)).toEqual([20, 20.5, 21, 21.5, 22]);
    expect(planterRates(20.1, 21.9, 0.5)).toEqual([20.5, 21, 21.5]);
    expect(planterRates(0.1 + 0.2, 0.6, 0.3)).toEqual([0.3, 0.6]); // 0.1 + 0.2 > 0.3 in binary
    expect(planterRates(21, 20, 0.5)).toEqual([]);
    expect(planterRates(20.1, 20.4, 0.5)).toEqual([]);
  });
  test("never 0 seeds", () => expect(planterRates(0, 1, 0.5)).toEqual([0.5, 1]));
  test("65 x 0.1 is 6.5", () => expect(multiple(65, 0.1)).toBe(6.5));
  test("500 seeds an acre, 1,000 a hectare, in every unit", () => {
    expect(defaultPlanterStep("plants/ac")).toBe(500);
    expect(defaultPlanterStep("1000 plants/ac")).toBe(0.5);
    expect(defaultPlanterStep("plants/ha")).toBe(1000);
    expect(defaultPlanterStep("1000 plants/ha")).toBe(1);
    expect(defaultPlanterStep("plants/m2")).toBeCloseTo(0.1, 14);
  });
});
