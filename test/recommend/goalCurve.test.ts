import { expect, test } from "vitest";
import { curveOf } from "../../src/curves/catalogue.ts";
import { fitMixedResponse, responseAtYieldGoal, streamRandom } from "../../src/index.ts";
import { goalCurveAt, goalCurvesFrom } from "../../src/recommend/goalCurve.ts";
import { recommendRate } from "../../src/recommend/recommendRate.ts";
import { assertDigits } from "../assertDigits.ts";
import { analysed, prices, sampleTrial } from "./sampleTrial.ts";

/** Eight environments: the better the level, the higher the best density. */
const random = streamRandom(99, 0);
const names = Array.from({ length: 8 }, (_, e) => `Site${e} 2031`);
const level = names.map((_, e) => 150 + 12 * e + 2 * random.normal());
const parts = names.map((name, e) =>
  sampleTrial((x) => level[e] - 0.08 * (x - (22 + 0.1 * (level[e] - 120))) ** 2, {
    environments: [name],
    seed: e + 1,
    sigma: 4,
  }),
);
const trial = {
  ...parts[0],
  environments: parts.flatMap(({ environments }) => environments),
  plots: parts.flatMap(({ plots }) => plots),
};
const fit = fitMixedResponse(trial, { curve: "quadratic" });

test("the curve at a goal is that of the mixed model, and so is its error at every density", () => {
  for (const goal of [165, 190, 215]) {
    const curve = goalCurvesFrom(fit)("Amber 12", goal);
    const answer = responseAtYieldGoal(fit, { yieldGoal: goal });
    if ("reason" in curve || answer.kind !== "estimated") throw new Error("no curve");
    const gradient = new Float64Array(3);
    for (const { density, yield: grain, standardError } of answer.curve) {
      assertDigits(curveOf(curve.family).mean(density, curve.theta), grain, 10);
      curveOf(curve.family).gradient(density, curve.theta, gradient);
      let variance = 0;
      for (let i = 0; i < 3; i++)
        for (let j = 0; j < 3; j++) variance += gradient[i] * (curve.vcov?.[i][j] as number) * gradient[j];
      // Near the reference density the error vanishes and rounding shows: judged against one bushel.
      expect(Math.abs(Math.sqrt(Math.max(0, variance)) - standardError)).toBeLessThan(1e-5);
    }
  }
});

test("a higher yield goal asks for more seeds when the environments say so, and goals not seen fall back with a note", () => {
  const analysis = analysed(trial, { byEnvironment: false });
  const at = (yieldGoal: number) =>
    recommendRate(analysis, { hybrid: "Amber 12", yieldGoal, establishment: 0.95, prices }, { trial, draws: 200 });
  const [low, high] = [at(165), at(215)];
  expect(low.evidence.curves).toBe("yield goal");
  expect(high.rate).toBeGreaterThan(low.rate + 2);
  // Truth: best stand 22 + 0.1 (level - 120) less r / 0.16; within two of it (plot SD 4, 24 plots in each of 8 environments).
  const truth = (goal: number): number => (22 + 0.1 * (goal - 120) - 3.75 / 0.95 / 4.5 / 0.16) / 0.95;
  expect(Math.abs((low.limits.economicOptimum.rate as number) - truth(165))).toBeLessThan(2);
  expect(Math.abs((high.limits.economicOptimum.rate as number) - truth(215))).toBeLessThan(2);
  const beyond = at(300);
  expect(beyond.evidence.curves).toBe("all environments");
  expect(beyond.notes.join(" ")).toContain("outside the levels");
});

test("a saved analysis alone gives the curve of its own answer at the goal, and the same recommendation", () => {
  const analysis = analysed(trial, { byEnvironment: false, yieldGoal: 190 });
  const [{ acrossEnvironments }] = analysis.hybrids;
  const goal = acrossEnvironments?.yieldGoal;
  const line = acrossEnvironments?.response.kind === "estimated" ? acrossEnvironments.response.goalLine : null;
  if (goal?.kind !== "estimated" || line == null) throw new Error("no answer");
  const curve = goalCurveAt(line, 190);
  if ("reason" in curve) throw new Error(curve.reason);
  for (const { density, yield: grain } of goal.curve)
    assertDigits(curveOf(curve.family).mean(density, curve.theta), grain, 9);
  const one = { hybrid: "Amber 12", yieldGoal: 190, establishment: 0.95, prices };
  const answer = recommendRate(analysis, one, { draws: 400, elsewhere: "none" });
  expect(answer.evidence.curves).toBe("yield goal");
  // The rate of the expected return over the draws beside that of the expected curve: alike within half a thousand.
  const best = goal.economic?.density as number;
  expect(Math.abs((answer.limits.economicOptimum.stand as number) - best)).toBeLessThan(0.5);
  expect(
    JSON.stringify(recommendRate(JSON.parse(JSON.stringify(analysis)), one, { draws: 400, elsewhere: "none" })),
  ).toBe(JSON.stringify(answer));
  expect(recommendRate(analysis, { ...one, yieldGoal: 300 }, { draws: 100 }).notes.join(" ")).toContain(
    "outside the levels",
  );
});

test("plateau curves come through with their join", () => {
  const plateau = fitMixedResponse(trial, { curve: "quadratic-plateau" });
  const curve = goalCurvesFrom(plateau)("Amber 12", 190);
  const answer = responseAtYieldGoal(plateau, { yieldGoal: 190 });
  if ("reason" in curve || answer.kind !== "estimated") throw new Error("no curve");
  for (const { density, yield: grain } of answer.curve)
    assertDigits(curveOf(curve.family).mean(density, curve.theta), grain, 10);
});
