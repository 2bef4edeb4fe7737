import { describe, expect, test } from "vitest";
import { partialBudget } from "../../src/derive/partialBudget.ts";
import { fitCurve, standardMoistureYield } from "../../src/index.ts";
import { densityLimits } from "../../src/recommend/densityLimits.ts";
import { recommendRate } from "../../src/recommend/recommendRate.ts";
import { shrink } from "../../src/trial/shrink.ts";
import { assertDigits } from "../assertDigits.ts";
import { analysed, parabola, prices, sampleTrial } from "./sampleTrial.ts";

/** A trial without scatter: every fit is exact, so the arithmetic can be checked by hand. */
const exact = (truth: (stand: number) => number, more: Parameters<typeof sampleTrial>[1] = {}) =>
  analysed(sampleTrial(truth, { sigma: 1e-9, blockSigma: 0, blocks: 3, ...more }));

describe("arithmetic against published and hand-worked figures", () => {
  test("190 bu at 15 % are 215.87 wet bu at 25 % with 0.25 % handling, and 185.65 after 1.4 % a point", () => {
    // farmdoc FEFO 09-16 (2009) prints 216 and 186.
    const wet = 190 / (standardMoistureYield(1, 25, 15) * (1 - 0.0025));
    // To the three decimals worked out in R.
    expect(Math.abs(wet - 215.873)).toBeLessThan(6e-4);
    expect(Math.abs(shrink(wet, { moisture: 25, target: 15, perPoint: 1.4 }) - 185.651)).toBeLessThan(6e-4);
    // 1,000 lb from 25.5 to 15.5 % at 1.183 a point and 0.5 % handling: 876.70 lb (NCH-61; SDSU).
    assertDigits(shrink(1000, { moisture: 25.5, target: 15.5, perPoint: 1.183, handling: 0.5 }), 876.7, 9);
  });

  test("a curve of 220 bu at 36 thousand seeds returns 717 at 3.75 and 3.00", () => {
    // Nafziger (2019), farmdoc daily (9):80: 220 x 3.75 - 36 x 3.00 = 717.
    const analysis = exact(parabola(220, 36 * 0.95, 0.05));
    const r = recommendRate(
      analysis,
      {
        hybrid: "Amber 12",
        establishment: 0.95,
        planterStep: 36,
        prices: { grainPrice: 3.75, seedCostPerThousand: 3 },
      },
      { elsewhere: "none" },
    );
    expect(r.rate).toBe(36);
    assertDigits(r.expected.return.mean, 717, 8);
    assertDigits(r.expected.seedCost, 108, 12);
  });

  test("5,000 more seeds at 300 per 80,000 for 0.9 bu at 5 lose 14.25; 3.75 bu would break even", () => {
    // Iowa replicated strip trials 2009-13: 18.75 for the seed. A straight line of 0.18 bu per thousand seeds.
    const analysis = exact((stand) => 180 + (0.18 / 0.95) * stand);
    const field = {
      hybrid: "Amber 12",
      establishment: 0.95,
      presentRate: 30,
      planterStep: 5,
      acceptedStep: 5,
      prices: { grainPrice: 5, seedCostPerThousand: 300 / 80 },
    };
    const r = recommendRate(analysis, field, { elsewhere: "none" });
    // The other way round: 5,000 seeds fewer gain what 5,000 more lose.
    expect(r.rate).toBe(25);
    assertDigits(r.gain?.return.mean, 14.25, 7);
    assertDigits(r.gain?.seedCost, -18.75, 9);
    assertDigits(r.gain?.breakEvenYield, -3.75, 9);
    assertDigits(partialBudget({ addedSeed: -5, seedCost: 3.75, addedYield: -0.9, grainPrice: 5 }).net, 14.25, 9);
  });

  test("the economic optimum of an exponential curve is that of the Lambert W form", () => {
    // Carmer & Jackobs (1965), Agronomy Journal 57, 241-244, hybrid 1, lb and plants per hill of 1/4000 acre. With seed at 3.75 per
    // thousand and grain at 4.50 per 56 lb the optimum is 5.906280 plants a hill = 23,625 plants/ac, where 139.72 bu grow (R 4.2.2).
    const fit = fitCurve("exponential", {
      density: [8, 16, 24, 32],
      yield: [1.176, 1.73, 1.98, 1.946].map((pounds) => (pounds * 4000) / 56),
    });
    const theta = fit.curve?.theta ?? [];
    const goalCurve = () => ({ yieldGoal: 141.26, family: "exponential", theta, vcov: null, dof: null }) as const;
    const analysis = exact(parabola(140, 26, 0.1), { establishment: 1, rates: [8, 12, 16, 20, 24, 28, 32] });
    const field = { hybrid: "Amber 12", establishment: 1, planterStep: 0.005, yieldGoal: 141.26 };
    const r = recommendRate(analysis, field, { goalCurve, elsewhere: "none", draws: 50 });
    // 5 digits: the parameters of the published fit carry seven, and the optimum is flat.
    expect(Math.abs((r.limits.economicOptimum.rate as number) / 4 - 5.90628)).toBeLessThan(1e-5);
    expect(r.rate).toBe(23.625);
    expect(Math.abs(r.expected.yield.mean - 139.72)).toBeLessThan(0.01);
  });

  test("the planting-date curve scaled to 200 bu pays best at 27.652 thousand plants", () => {
    // Nafziger (1994), J. Prod. Agric. 7, 59-62, 25 April, quadratic by R 4.2.2; r = .833333 bu per thousand.
    const curve = (x: number): number => 2 * (29.0225275 + 4.66133242 * x - 0.07675137 * x * x);
    const analysis = exact(curve, { establishment: 1, rates: [16, 20, 24, 28, 32, 36] });
    const { limits } = densityLimits(
      analysis,
      { hybrid: "Amber 12", establishment: 1, prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } },
      { elsewhere: "none" },
    );
    // Five digits: the published coefficients carry no more.
    assertDigits(limits.economicOptimum.rate, 27.65205, 5);
  });
});

describe("which limit binds", () => {
  const truth = parabola(200, 32, 0.06);
  const analysis = exact(truth);
  const field = { hybrid: "Amber 12", establishment: 0.95, planterStep: 0.5 } as const;
  const plain = { elsewhere: "none", draws: 200 } as const;

  test("without other limits the rate is the planter's nearest to the optimum, stated in seeds", () => {
    // By hand: stand where 2 x 0.06 (32 - x) = 3.75 / 0.95 / 4.5, so x = 24.690, seeds = 25.990, rounded 26.
    const r = recommendRate(analysis, field, plain);
    assertDigits(r.limits.economicOptimum.rate, (32 - 3.75 / 0.95 / 4.5 / 0.12) / 0.95, 6);
    expect(r.rate).toBe(26);
    expect(r.bindingLimit).toBe("economic-optimum");
    assertDigits(r.stand, 24.7, 9);
    expect(r.seedsPerArea).toBe(26_000);
  });

  test("the way is walked in accepted steps, and the rate to aim for is kept", () => {
    const r = recommendRate(analysis, { ...field, presentRate: 34, acceptedStep: 2 }, plain);
    expect([r.rate, r.target, r.bindingLimit]).toEqual([32, 26, "accepted-step"]);
    expect(r.gain?.return.mean).toBeGreaterThan(0);
    const far = recommendRate(analysis, { ...field, presentRate: 34, acceptedStep: 0.2 }, plain);
    expect(far.rate).toBe(34);
    expect(far.gain?.probability).toBeNull();
  });

  test("an optimum beyond the tested densities is named as such, never extrapolated", () => {
    const rising = exact(parabola(250, 60, 0.06));
    const r = recommendRate(rising, field, plain);
    expect(r.bindingLimit).toBe("tested-range");
    expect(r.limits.economicOptimum.kind).toBe("at-highest");
    expect(r.rate).toBeLessThanOrEqual(43);
    expect(r.cautions.join(" ")).toContain("test higher densities");
  });

  test("a present rate outside the tested range gives no gain, and says why", () => {
    const r = recommendRate(analysis, { ...field, presentRate: 50 }, plain);
    expect(r.gain).toBeNull();
    expect(r.gainReason).toContain("outside the tested range");
  });

  test("lodging caps the rate where the counts say so", () => {
    // Logit -7 + 0.25 x passes 10 % at (ln(1/9) + 7) / 0.25 = 19.2 thousand plants = 20.2 thousand seeds.
    const trial = sampleTrial(truth, { sigma: 3, logit: (x) => -7 + 0.25 * x, seed: 3 });
    const r = recommendRate(analysed(trial), field, { trial, resamples: 99 });
    expect(r.bindingLimit).toBe("standability");
    expect(r.limits.standability.kind).toBe("at");
    const { interval } = r.limits.standability;
    expect((interval?.lower as number) < 20.2 && 20.2 < (interval?.upper as number)).toBe(true);
    expect(r.rate).toBeLessThanOrEqual(r.limits.standability.rate as number);
    expect(r.expected.lodging?.probability).toBeLessThan(0.6);
  });
});

describe("the result", () => {
  const trial = sampleTrial(parabola(200, 32, 0.06), {
    environments: ["East 2031", "West 2031"],
    logit: (x) => -9 + 0.2 * x,
  });
  const analysis = analysed(trial);
  const field = {
    hybrid: "Amber 12",
    name: "Mill field",
    presentRate: 34,
    acceptedStep: 3,
    currency: "$",
    prices: { ...prices, grainPrice: { lowest: 3.8, likely: 4.5, highest: 5.4 } },
    supply: { unit: "lb/ac", N: { soil: 60, applied: 150, recovery: 0.6 }, K2O: { soil: 200 } },
  } as const;

  test("is plain data without NaN, the same for the same input, from JSON or not", () => {
    const r = recommendRate(analysis, field, { trial, resamples: 99 });
    expect(JSON.parse(JSON.stringify(r))).toEqual(r);
    expect(JSON.stringify(recommendRate(analysis, field, { trial, resamples: 99 }))).toBe(JSON.stringify(r));
  });

  test("says in words the rate, the gain with its chance, and that nitrogen is never prescribed", () => {
    const { summary, cautions, rate } = recommendRate(analysis, field, { trial, resamples: 99 });
    expect(summary).toContain(`${(1000 * rate).toLocaleString("en-US")} seeds/ac`);
    expect(summary).toContain("the chance that it pays is");
    expect(cautions.join(" ")).toContain("never prescribed");
    expect(cautions.join(" ")).toContain("seed label");
  });

  test("intervals hold their estimates, and doubt about establishment widens them", () => {
    const sure = densityLimits(analysis, { ...field, establishment: 0.95 }, { trial, resamples: 99 }).limits;
    const unsure = densityLimits(
      analysis,
      { ...field, establishment: { lowest: 0.8, likely: 0.95, highest: 1 } },
      { trial, resamples: 99 },
    ).limits;
    for (const name of ["economicOptimum", "standability"] as const) {
      const [narrow, wide] = [sure[name].interval, unsure[name].interval];
      const rate = sure[name].rate as number;
      expect((narrow?.lower as number) < rate && rate < (narrow?.upper as number)).toBe(true);
      const width = (one: typeof narrow): number => (one?.upper as number) - (one?.lower as number);
      expect(width(wide)).toBeGreaterThan(width(narrow));
    }
  });

  test("planning for a bad outcome uses the seasons seen and never changes the money of a rate", () => {
    const careful = recommendRate(analysis, field, {
      trial,
      resamples: 99,
      attitude: { kind: "chance", chance: 0.25 },
    });
    expect(careful.evidence.curves).toBe("seasons seen");
    expect(careful.assumptions.join(" ")).toContain("25 %");
  });

  test("a curve at the yield goal can be passed in, and a refusal falls back with a note", () => {
    const goal = { ...field, yieldGoal: 180 };
    const curve = {
      yieldGoal: 180,
      family: "quadratic",
      theta: [180 - 0.06 * 26 ** 2, 0.12 * 26, -0.06],
      vcov: null,
      dof: null,
    } as const;
    const r = recommendRate(
      analysis,
      { ...goal, establishment: 0.95, supply: { unit: "lb/ac" } },
      { trial, resamples: 99, goalCurve: () => curve },
    );
    expect(r.evidence.curves).toBe("yield goal");
    // Expected price of the triangle (3.8, 4.5, 5.4) is 13.7 / 3: x = 26 - r / 0.12.
    assertDigits(r.limits.economicOptimum.rate, (26 - 3.75 / 0.95 / (13.7 / 3) / 0.12) / 0.95, 5);
    const refused = recommendRate(analysis, goal, {
      trial,
      resamples: 99,
      goalCurve: () => ({ reason: "too few environments" }),
    });
    expect(refused.notes.join(" ")).toContain("too few environments");
    // The pooled curve moved to the goal: its best yield is the goal.
    expect(refused.expected.yield.mean).toBeLessThan(180);
    expect(refused.expected.yield.mean).toBeGreaterThan(176);
  });

  test("a caller's mistakes are named, all at once", () => {
    expect(() => recommendRate(analysis, { hybrid: "Birch" })).toThrow(/no hybrid "Birch"/);
    const broken = {
      hybrid: "Amber 12",
      planterStep: 0,
      establishment: { lowest: 0.9, likely: 0.8, highest: 1 },
      typo: 1,
    };
    expect(() => recommendRate(analysis, broken as never)).toThrow(
      /planterStep[\s\S]*lowest <= likely[\s\S]*typo|typo/,
    );
    const bare = { ...analysis, settings: { ...analysis.settings, prices: null } };
    expect(() => recommendRate(bare, { hybrid: "Amber 12" })).toThrow(/prices are needed/);
  });
});
