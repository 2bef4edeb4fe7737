import { readFileSync } from "node:fs";
import { beforeAll, describe, expect, test } from "vitest";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import { roundLevels } from "../../src/analyze/goalLevels.ts";
import type { TrialAnalysis } from "../../src/analyze/result.ts";
import { goalCurveAt } from "../../src/recommend/goalCurve.ts";
import { pageCharts } from "../../src/report/pageCharts.ts";
import { trialText } from "../../src/report/trialText.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import { assertDigits } from "../assertDigits.ts";

const network = readFileSync(new URL("../../data-demo/network.csv", import.meta.url), "utf8")
  .split("\n")
  .filter((line, i) => i === 0 || /,(?:Iris 16|Quince 19),/.test(line))
  .join("\n");

function analysed(options: { yieldGoal?: number; extrapolateYieldGoal?: boolean }): TrialAnalysis {
  const { trial } = readTrial(network);
  if (trial === null) throw new Error("the demo trial must be readable");
  return analyzeTrial(trial, { prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 }, resamples: 0, ...options });
}

let asked: TrialAnalysis;
beforeAll(() => {
  asked = analysed({ yieldGoal: 203 });
}, 60_000);

describe("roundLevels", () => {
  test("takes multiples of the largest round step that leaves three inside", () => {
    expect(roundLevels(163.2, 228.9)).toEqual([180, 200, 220]);
    expect(roundLevels(9.8, 12.3)).toEqual([10, 11, 12]);
    expect(roundLevels(10.02, 10.9)).toEqual([10.2, 10.4, 10.6, 10.8]);
    expect(roundLevels(100, 200)).toEqual([100, 150, 200]);
    expect(roundLevels(5, 5)).toEqual([]);
  });

  test("stays inside, with three to seven of them, whatever the range", () => {
    for (let k = 1; k < 300; k++) {
      const low = (k * 37) % 211;
      const high = low + 0.013 * k * k;
      const levels = roundLevels(low, high);
      expect(levels.length).toBeGreaterThanOrEqual(3);
      expect(levels.length).toBeLessThanOrEqual(7);
      expect(Math.min(...levels)).toBeGreaterThanOrEqual(low - 1e-9);
      expect(Math.max(...levels)).toBeLessThanOrEqual(high + 1e-9);
    }
  });
});

describe("the response at several yield goals", () => {
  test("is there when a goal was asked for, and only then", () => {
    for (const { acrossEnvironments } of analysed({}).hybrids) expect(acrossEnvironments?.goalLevels).toEqual([]);
    for (const { acrossEnvironments } of asked.hybrids) {
      const levels = acrossEnvironments?.goalLevels.map(({ yieldGoal }) => yieldGoal) ?? [];
      expect(levels).toContain(203);
      expect(levels.length).toBeGreaterThan(2);
      expect([...levels].sort((a, b) => a - b)).toEqual(levels);
      // 200 would stand in the way of 203.
      expect(levels).not.toContain(200);
    }
  });

  test("curves are those of the goal line of the result, and the goal's own answer is among them", () => {
    for (const { acrossEnvironments: across } of asked.hybrids) {
      if (across?.response.kind !== "estimated" || across.response.goalLine === null)
        throw new Error("must be estimated");
      if (across.yieldGoal?.kind !== "estimated") throw new Error("must be answered");
      for (const { yieldGoal, curve, agronomic } of across.goalLevels) {
        const line = goalCurveAt(across.response.goalLine, yieldGoal);
        if ("reason" in line) throw new Error(line.reason);
        // Another route: coefficients in density units instead of the fit's scaled ones.
        const [a, b, c] = line.theta;
        for (const { density, yield: y } of curve) assertDigits(y, a + b * density + c * density * density, 9);
        if (agronomic.kind === "interior") assertDigits(agronomic.density, -b / (2 * c), 9);
        // At the reference density the expected yield is the goal.
        const x = across.response.referenceDensity;
        assertDigits(a + b * x + c * x * x, yieldGoal, 9);
      }
      const own = across.goalLevels.find(({ yieldGoal }) => yieldGoal === 203);
      expect(own?.agronomic).toEqual(across.yieldGoal.agronomic);
      expect(own?.economic).toEqual(across.yieldGoal.economic);
    }
  });

  test("a goal that is refused leaves the round levels", () => {
    for (const { acrossEnvironments } of analysed({ yieldGoal: 400 }).hybrids) {
      expect(acrossEnvironments?.yieldGoal?.kind).toBe("refused");
      expect(acrossEnvironments?.goalLevels.length).toBeGreaterThan(2);
      expect(acrossEnvironments?.goalLevels.every(({ extrapolated }) => !extrapolated)).toBe(true);
    }
    for (const { acrossEnvironments } of analysed({ yieldGoal: 400, extrapolateYieldGoal: true }).hybrids)
      expect(acrossEnvironments?.goalLevels.at(-1)).toMatchObject({ yieldGoal: 400, extrapolated: true });
  });

  test("each hybrid of a report has the table and the chart", async () => {
    const alts: string[] = [];
    await pageCharts(asked, {
      render: async ({ alt }) => {
        alts.push(alt);
        return "<svg/>";
      },
    });
    const text = trialText(asked, { width: 200, detail: true });
    expect(text.match(/^At several yield goals, /gm)?.length).toBe(2);
    expect(text.match(/203 \(asked\)/g)?.length).toBe(2);
    for (const hybrid of ["Iris 16", "Quince 19"])
      expect(alts.filter((alt) => alt.startsWith(hybrid) && alt.includes("yield goals"))).toHaveLength(1);
  });
});
