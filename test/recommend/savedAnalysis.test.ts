import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import {
  analyzeTrial,
  densityLimits,
  type Field,
  fitLodging,
  planZones,
  readTrial,
  readZones,
  recommendRate,
  standabilityLimit,
  stepPlan,
  type Trial,
  type TrialAnalysis,
  zonePlanText,
} from "../../src/index.ts";
import { lodgingCounts } from "../../src/standability/lodgingCounts.ts";
import { assertDigits } from "../assertDigits.ts";

const demo = (name: string): string => readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8");
function open(name: string): { trial: Trial; analysis: TrialAnalysis; saved: TrialAnalysis } {
  const { trial } = readTrial(demo(name));
  if (trial === null) throw new Error(name);
  const analysis = analyzeTrial(trial, { prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 }, resamples: 0 });
  return { trial, analysis, saved: JSON.parse(JSON.stringify(analysis)) as TrialAnalysis };
}

const plots = open("plots.csv");
const field: Field = { hybrid: "Fern 18", presentRate: 34, acceptedStep: 2 };
const options = { draws: 200, resamples: 99 } as const;

describe("a saved analysis alone", () => {
  test.each([
    ["Fern 18", undefined],
    ["Elm 30", undefined],
    ["Dune 5", undefined],
    ["Fern 18", "Westbrook 2031"],
  ])("gives the same recommendation, byte for byte, as before it was saved: %s in %s", (hybrid, environment) => {
    const one: Field = { ...field, hybrid, ...(environment === undefined ? {} : { environment }) };
    const all = (analysis: TrialAnalysis): string =>
      JSON.stringify([
        recommendRate(analysis, one, options),
        densityLimits(analysis, one, options),
        stepPlan(analysis, one, options),
      ]);
    expect(all(plots.saved)).toBe(all(plots.analysis));
  });

  test("carries the standability cap: the limit of the counts behind it, at any tolerated share", () => {
    const counts = lodgingCounts(plots.trial.plots.filter(({ hybrid }) => hybrid === "Fern 18"));
    for (const toleratedLodging of [0.06, 0.1, 0.15]) {
      const { limits } = densityLimits(plots.saved, { ...field, toleratedLodging }, options);
      expect(limits.standability.kind).toBe("at");
      const direct = standabilityLimit(fitLodging(counts), { tolerated: toleratedLodging, method: "profile" });
      assertDigits(limits.standability.stand, direct.density as number, 9);
    }
    const recommendation = recommendRate(plots.saved, field, options);
    expect(recommendation.expected.lodging?.tolerated).toBe(0.1);
    expect(recommendation.target).toBeLessThanOrEqual(recommendation.limits.standability.rate as number);
    expect(recommendation.cautions.join(" ")).not.toContain("No lodging counts");
  });

  test("says the same limit as the report where the tolerated share is the same", () => {
    const { trial } = readTrial(demo("standing.csv"));
    const own = analyzeTrial(trial as Trial, {
      prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 },
      resamples: 99,
    });
    const { pooled } = own.hybrids[1];
    if (pooled.kind !== "analysed") throw new Error(pooled.reason);
    const reported = pooled.standability?.lodging[0].limit;
    const { limits } = densityLimits(own, { hybrid: "Hazel 3", establishment: pooled.establishment as number });
    expect(limits.standability.kind).toBe("at");
    assertDigits(limits.standability.stand, reported?.density as number, 12);
    assertDigits(
      limits.standability.interval?.lower,
      (reported?.interval?.lower as number) / (pooled.establishment as number),
      9,
    );
  });

  test("gives the same zones", () => {
    const zones = readZones(demo("zones.csv")).zones ?? [];
    const plan = (analysis: TrialAnalysis): string =>
      JSON.stringify(planZones(analysis, zones, { ...options, field: { hybrid: "Fern 18" } }));
    expect(plan(plots.saved)).toBe(plan(plots.analysis));
  });

  test("keeps the nitrogen limit of a trial that varied nitrogen", () => {
    const { trial, analysis, saved } = open("nitrogen.csv");
    const one: Field = { hybrid: "Yarrow 6", nitrogenRate: 120 };
    const limit = densityLimits(saved, one, options).limits.nitrogenFromData;
    expect(limit.kind).toBe("at");
    expect(JSON.stringify(limit)).toBe(
      JSON.stringify(densityLimits(analysis, one, { ...options, trial }).limits.nitrogenFromData),
    );
  });

  test("without standability in the analysis the trial's counts are read, and without both nothing is claimed", () => {
    const bare = analyzeTrial(plots.trial, {
      prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 },
      resamples: 0,
      standability: false,
    });
    expect(densityLimits(bare, field, options).limits.standability.kind).toBe("none");
    expect(densityLimits(bare, field, { ...options, trial: plots.trial }).limits.standability.kind).toBe("at");
  });
});

test("stalk tests alone never cap a rate; a rate beyond their limit is a caution", () => {
  const rows = [20, 24, 28, 32, 36, 40].flatMap((rate) =>
    [1, 2, 3, 4].map((block) => ({
      hybrid: "Gorse 9",
      block,
      seeding_rate_k_ac: rate,
      yield_bu_ac: 190 + 0.6 * rate + (block % 3) + (rate % 5),
      push_test_failed: Math.round((rate - 18) / 2),
      plants_pushed: 20,
    })),
  );
  const { trial } = readTrial(rows);
  const analysis = analyzeTrial(trial as Trial, { prices: { grainPrice: 4.5, seedCostPerThousand: 1 }, resamples: 0 });
  const answer = recommendRate(analysis, { hybrid: "Gorse 9", establishment: 1 }, { ...options, elsewhere: "none" });
  expect(answer.limits.standability.kind).toBe("none");
  expect(answer.limits.standability.basis).toContain("Stalks were tested");
  expect(answer.cautions.some((caution) => caution.includes("failed a push test"))).toBe(true);
});

test("the README prints what its example gives: the paragraph and the table of zones", () => {
  const readme = readFileSync(new URL("../../README.md", import.meta.url), "utf8");
  const running = (text: string): string => text.replace(/\n> /g, " ").replace(/\s+/g, " ");
  const own = JSON.parse(demo("field.json")) as Field;
  expect(running(readme)).toContain(running(recommendRate(plots.saved, own).summary));
  const plan = planZones(plots.saved, readZones(demo("zones.geojson")).zones ?? [], { field: own });
  expect(readme).toContain(zonePlanText(plan).split("\n\n").slice(0, 2).join("\n\n"));
});
