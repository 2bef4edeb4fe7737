import { readFileSync } from "node:fs";
import { beforeAll, describe, expect, test } from "vitest";

import { analyzeTrial, readTrial, type TrialAnalysis } from "../../src/index.ts";

// Oracle: the truth behind data-demo/network.csv as its generator states it (a hybrid's level, slope and curvature, and how
// environments vary), worked out here by hand: the average curve, and the curve expected at a yield level by the
// regression of an environment's slope and curvature on its level.
const { networkTruth } = await import(new URL("../../data-demo/make-demo.mjs", import.meta.url).href);
const { between, hybrids: truth } = networkTruth as {
  readonly between: { level: number; slopePerYield: number; slope: number; curvature: number; hybrid: number };
  readonly hybrids: Readonly<Record<string, { level: number; slope: number; curvature: number; grown: number }>>;
};
const goal = 195;
const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };

let analysis: TrialAnalysis;
beforeAll(() => {
  const { trial } = readTrial(readFileSync(new URL("../../data-demo/network.csv", import.meta.url), "utf8"));
  if (trial === null) throw new Error("the demo cannot be read");
  const quick = { resamples: 0, scrutiny: false, byEnvironment: false } as const;
  analysis = analyzeTrial(trial, { ...quick, prices, yieldGoal: goal });
});

type Line = { readonly slope: number; readonly curvature: number };
/** Where level + slope z + curvature z^2 less `ratio` per thousand plants is highest; z = (thousand plants/ac - 30) / 10. */
const best = ({ slope, curvature }: Line, ratio: number): number => 30 - (10 * (slope - 10 * ratio)) / (2 * curvature);

/** Slope and curvature expected where the yield at z is `level`: normal regression on that yield. */
function expectedAt(name: string, z: number, level: number): Line {
  const own = truth[name];
  const varLevel = between.level ** 2;
  const withSlope = between.slopePerYield * varLevel;
  const varSlope = between.slopePerYield ** 2 * varLevel + between.slope ** 2;
  const varCurvature = between.curvature ** 2;
  const varYield = varLevel + between.hybrid ** 2 + 2 * z * withSlope + z ** 2 * varSlope + z ** 4 * varCurvature;
  const above = (level - (own.level + own.slope * z + own.curvature * z * z)) / varYield;
  return {
    slope: own.slope + above * (withSlope + z * varSlope),
    curvature: own.curvature + above * z * z * varCurvature,
  };
}

const inside = (at: number, interval: { lower: number | null; upper: number | null } | null | undefined): boolean =>
  interval != null && (interval.lower ?? -Infinity) <= at && at <= (interval.upper ?? Infinity);

describe("a network of 12 hybrids in up to 10 environments", () => {
  test("five environments make a hybrid's environments random, fewer fixed, with the reason", () => {
    for (const { hybrid, acrossEnvironments: across } of analysis.hybrids) {
      const { grown } = truth[hybrid];
      expect([hybrid, across?.environments, across?.treatment]).toEqual([
        hybrid,
        grown,
        grown >= 5 ? "random" : "fixed",
      ]);
      expect(across?.reason).toContain(`${grown} environments`);
      expect(across?.response.kind).toBe(grown >= 5 ? "estimated" : "withheld");
    }
  });

  test("95 % ranges of the average field and at a yield goal hold the truth for nearly all hybrids", () => {
    const held = { agronomic: 0, economic: 0, goal: 0, of: 0 };
    for (const { hybrid, pooled, acrossEnvironments: across } of analysis.hybrids) {
      if (across?.response.kind !== "estimated" || pooled.kind !== "analysed") continue;
      const { agronomic, economic, referenceDensity } = across.response;
      const own = truth[hybrid];
      const ratio = prices.seedCostPerThousand / prices.grainPrice / (pooled.establishment ?? 1);
      held.of += 1;
      if (inside(best(own, 0), agronomic.interval)) held.agronomic += 1;
      if (inside(best(own, ratio), economic?.interval)) held.economic += 1;
      const wanted = across.yieldGoal;
      if (wanted?.kind !== "estimated") throw new Error(`${hybrid}: no answer at the yield goal`);
      expect(wanted.yieldGoal).toBe(goal);
      expect(wanted.referenceDensity).toBe(referenceDensity);
      if (inside(best(expectedAt(hybrid, (referenceDensity - 30) / 10, goal), 0), wanted.agronomic.interval))
        held.goal += 1;
    }
    expect(held.of).toBe(9);
    // Binomial(9, 0.95): 8 or more has probability 0.93, 7 or more 0.99.
    for (const count of [held.agronomic, held.economic, held.goal]) expect(count).toBeGreaterThanOrEqual(7);
    expect(held.agronomic + held.economic + held.goal).toBeGreaterThanOrEqual(24);
  });

  test("the optimum rises with the yield level, as the truth has it", () => {
    for (const { hybrid, acrossEnvironments: across } of analysis.hybrids) {
      if (across?.response.kind !== "estimated" || across.response.yieldClasses.kind !== "classes") continue;
      const { classes } = across.response.yieldClasses;
      const [low, high] = [classes[0], classes[classes.length - 1]];
      expect([hybrid, (high.agronomic.density as number) > (low.agronomic.density as number)]).toEqual([hybrid, true]);
    }
  });

  test("one model for all hybrids sees the interactions and ranks the best of the truth first", () => {
    const compared = analysis.together?.compared;
    if (compared?.kind !== "compared") throw new Error("hybrids were not compared");
    const chances = compared.hybrids.map(({ probabilityBest }) => probabilityBest);
    expect(chances.reduce((sum, value) => sum + value, 0)).toBeCloseTo(1, 9);
    // By the stated levels and slopes Maple 13 and Sorrel 24 return most, by 4 bu/ac and more over the third.
    const leaders = compared.hybrids.filter(({ probabilityBest }) => probabilityBest > 0.1).map(({ hybrid }) => hybrid);
    expect(leaders.sort()).toEqual(["Maple 13", "Sorrel 24"]);
  });

  test("a goal beyond the levels seen is refused with the levels", () => {
    const { trial } = readTrial(readFileSync(new URL("../../data-demo/network.csv", import.meta.url), "utf8"));
    if (trial === null) throw new Error("the demo cannot be read");
    const one = { ...trial, hybrids: ["Quince 19"], plots: trial.plots.filter(({ hybrid }) => hybrid === "Quince 19") };
    const far = analyzeTrial(one, { resamples: 0, scrutiny: false, byEnvironment: false, yieldGoal: 400 });
    expect(far.hybrids[0].acrossEnvironments?.yieldGoal).toMatchObject({
      kind: "refused",
      reason: expect.stringContaining("outside the levels"),
    });
  });
});
