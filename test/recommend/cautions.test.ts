import { describe, expect, test } from "vitest";
import { assumptionsOf, cautionsOf } from "../../src/recommend/cautions.ts";

// Each caution has one condition; a case that meets none gets the two that always hold, and each change adds or takes just its own.

type Parts = Parameters<typeof cautionsOf>;
interface Case {
  readonly economic?: string;
  readonly chosen?: string;
  readonly flat?: boolean;
  readonly lodging?: Record<string, unknown>;
  readonly feeding?: Record<string, unknown>;
  readonly nitrogen?: string;
  readonly knowledge?: unknown;
  readonly basis?: string;
  readonly source?: string;
  readonly yieldGoal?: number;
  readonly rate?: number;
  readonly probability?: number | null;
  readonly against?: number;
  readonly lodges?: number | null;
  readonly cap?: number;
  readonly capName?: string;
  readonly tests?: unknown[];
}

function cautions(given: Case = {}): string[] {
  const assessment = {
    scene: {
      field: given.yieldGoal === undefined ? {} : { yieldGoal: given.yieldGoal },
      picked: {
        main: {
          chosen: given.chosen ?? "quadratic",
          economic: { interval: { flatNotExcluded: given.flat ?? false } },
        },
        basis: given.basis ?? "refitted plots",
        source: given.source ?? "all environments",
      },
      knowledge: given.knowledge ?? null,
      main: { standability: { lodging: given.tests ?? [] } },
      perRate: 0.9,
    },
    lodging: {
      known: true,
      share: () => 0,
      limit: { kind: "none", rate: null, basis: "Nothing lodged." },
      ...given.lodging,
    },
    feeding: { balances: [], limit: { kind: "none" }, ...given.feeding },
    nitrogen: { limit: { kind: given.nitrogen ?? "none" } },
    economic: { kind: given.economic ?? "at" },
  };
  const rate = given.rate ?? 30;
  const chosen = { rate, cap: given.cap ?? 40, capName: given.capName ?? "tested-range" };
  const parts = {
    rate,
    expected: { lodging: given.lodges == null ? null : { probability: given.lodges } },
    gain: given.probability === undefined ? null : { probability: given.probability, against: given.against ?? 28 },
  };
  return cautionsOf(...([assessment, chosen, parts] as unknown as Parts));
}

const added = (given: Case): string[] => {
  const always = cautions();
  return cautions(given).filter((sentence) => !always.includes(sentence));
};

describe("cautionsOf", () => {
  test("always: the trial's own bounds first, the seed label and a licensed adviser last", () => {
    const always = cautions();
    expect(always.length).toBe(2);
    expect(always[0]).toMatch(/hold for the hybrids/);
    expect(always[1]).toMatch(/seed label.*licensed adviser/);
  });
  test("an optimum at an end of the tested range asks for more densities there", () => {
    expect(added({ economic: "at-highest" })).toEqual([expect.stringMatching(/test higher densities/)]);
    expect(added({ economic: "at-lowest" })).toEqual([expect.stringMatching(/test lower densities/)]);
    expect(added({ economic: "none" })).toEqual([]);
  });
  test("no response, or a response that is not certain", () => {
    expect(added({ chosen: "flat" })).toEqual([expect.stringMatching(/no response of yield/)]);
    expect(added({ flat: true })).toEqual([expect.stringMatching(/does not exclude/)]);
    expect(added({ chosen: "flat", flat: true }).length).toBe(1);
  });
  test("lodging not known, or known without a curve", () => {
    const limit = { kind: "none", rate: null, basis: "No counts." };
    expect(added({ lodging: { known: false, share: null, limit } })).toEqual([
      expect.stringMatching(/^No counts\. Look at stalk/),
    ]);
    expect(added({ lodging: { share: null, limit } })).toEqual(["Standability: No counts."]);
  });
  test("a rate still above the standability limit: plan an early harvest; on it, nothing", () => {
    for (const kind of ["at", "at-lowest"]) {
      const lodging = { limit: { kind, rate: 29, basis: "" } };
      expect(added({ lodging, cap: 29, capName: "standability" })).toEqual([expect.stringMatching(/early harvest/)]);
      expect(added({ lodging: { limit: { kind, rate: 30, basis: "" } } })).toEqual([]);
    }
    expect(added({ lodging: { limit: { kind: "at-highest", rate: 29, basis: "" } } })).toEqual([]);
  });
  test("a rate above another cap", () => {
    expect(added({ cap: 29, capName: "feeding" })).toEqual([expect.stringMatching(/above the cap/)]);
    expect(added({ cap: 29, capName: "tested-range" })).toEqual([]);
    expect(added({ cap: 30, capName: "feeding" })).toEqual([]);
  });
  test("lodging likelier than one in five", () => {
    expect(added({ lodges: 0.21 })).toEqual([expect.stringMatching(/21 %/)]);
    expect([added({ lodges: 0.2 }), added({ lodges: 0 })]).toEqual([[], []]);
  });
  test("a gain less certain than 80 %: strips first, unless nothing changes", () => {
    expect(added({ probability: 0.79 })).toEqual([expect.stringMatching(/79 %.*strips first/)]);
    expect(added({ probability: 0 })).toEqual([expect.stringMatching(/less than 1 %/)]);
    expect([
      added({ probability: 0.8 }),
      added({ probability: null }),
      added({ probability: 0.5, against: 30 }),
    ]).toEqual([[], [], []]);
  });
  test("nitrogen is compared, never prescribed", () => {
    const n = (neededAtBest: number) => ({
      balances: [{ nutrient: "N", neededAtBest, available: 200, unit: "lb/ac" }],
    });
    expect(added({ feeding: n(210) })).toEqual([
      expect.stringMatching(/takes up about 210 lb\/ac, more than the 200 lb\/ac/),
    ]);
    expect(added({ feeding: n(200) })).toEqual([
      expect.stringMatching(/about no more than 200 lb\/ac, within the 200/),
    ]);
    expect(added({ feeding: { balances: [{ nutrient: "K2O" }] } })).toEqual([]);
  });
  test("limits by feeding and by the trial's nitrogen rest on averages and on one trial", () => {
    for (const kind of ["at", "at-lowest"]) {
      expect(added({ feeding: { limit: { kind } } })).toEqual([expect.stringMatching(/soil tested/)]);
      expect(added({ nitrogen: kind })).toEqual([expect.stringMatching(/this trial alone/)]);
    }
    expect([added({ feeding: { limit: { kind: "at-highest" } } }), added({ nitrogen: "at-highest" })]).toEqual([
      [],
      [],
    ]);
  });
  test("published results, and a yield goal that moves the level only", () => {
    expect(added({ knowledge: {} })).toEqual([expect.stringMatching(/steadied by published results/)]);
    expect(added({ knowledge: {}, basis: "curve at the yield goal" })).toEqual([]);
    expect(added({ yieldGoal: 200 })).toEqual([expect.stringMatching(/level of the curve here, not its shape/)]);
    expect(added({ yieldGoal: 200, source: "yield goal" })).toEqual([]);
  });
  test("stalk tests: only the last push or pinch test, and only beyond its limit (30 seeds make 27 plants)", () => {
    const failed = (own: object, limit: object) => ({
      tests: [{ kind: "push", last: true, limit: { kind: "at", density: 26, tolerated: 0.1, ...limit }, ...own }],
    });
    expect(added(failed({}, {}))).toEqual([expect.stringMatching(/^More than 10 %.*push test/)]);
    expect(added(failed({ kind: "pinch" }, {})).length).toBe(1);
    expect(added(failed({}, { kind: "below-range", density: null })).length).toBe(1);
    for (const quiet of [
      failed({}, { density: 27 }),
      failed({}, { density: null }),
      failed({ last: false }, {}),
      failed({ kind: "stalk" }, {}),
    ])
      expect(added(quiet)).toEqual([]);
  });
});

describe("assumptionsOf says what was taken as given", () => {
  const assumptions = (scene: object = {}, rest: object = {}) =>
    assumptionsOf({
      scene: {
        establishment: null,
        grainPrice: 4.5,
        seedCostPerThousand: 3.75,
        yieldUnit: "bu/ac",
        field: { currency: "$", prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } },
        picked: { source: "one environment", basis: "refitted plots" },
        ...scene,
      },
      lodging: { known: false, tolerated: 0.1 },
      attitude: { kind: "expected" },
      feeding: { balances: [] },
      ...rest,
    } as unknown as Parameters<typeof assumptionsOf>[0]);
  test("prices, establishment and the curve", () => {
    expect(assumptions()).toEqual([
      "Grain at $4.50 per bu, seed at $3.75 per 1,000.",
      "Every seed makes a plant (establishment unknown).",
      "Curve: that of the environment named, its doubt from refits of its plots.",
    ]);
    expect(assumptions({ establishment: 0.95 })[1]).toBe("95 % of the seeds make a plant.");
    const range = { lowest: 0.85, likely: 0.9, highest: 0.95 };
    expect(assumptions({ establishment: range })[1]).toBe("90 % of the seeds make a plant, 85 % to 95 %.");
    for (const prices of [
      { grainPrice: range, seedCostPerThousand: 3 },
      { grainPrice: 4, seedCostPerThousand: range },
    ])
      expect(assumptions({ field: { currency: "$", prices } })[0]).toMatch(/\(most likely; ranges are drawn from\)\.$/);
    expect(assumptions({ field: {} })[0]).toBe("Grain at 4.50 per bu, seed at 3.75 per 1,000.");
  });
  test("lodging, losses, attitude and uptake when they were used", () => {
    expect(assumptions({}, { lodging: { known: true, tolerated: 0.1 } })[3]).toBe(
      "At most 10 % lodged plants are accepted.",
    );
    expect(assumptions({ field: { lossPerLodgedPlant: 0.3 } })[3]).toBe("A lodged plant loses 30 % of its grain.");
    expect(assumptions({ field: { lossPerLodgedPlant: 0 } }).length).toBe(3);
    expect(assumptions({}, { attitude: { kind: "chance", chance: 0.2 } })[3]).toMatch(/missed with a chance of 20 %/);
    expect(
      assumptions(
        {},
        {
          feeding: {
            balances: [
              { nutrient: "S", uptakePerTonne: 1.5 },
              { nutrient: "N", uptakePerTonne: 20.123 },
            ],
          },
        },
      )[3],
    ).toBe("Uptake per tonne of grain: S 1.5 kg, N 20.1 kg.");
  });
});
