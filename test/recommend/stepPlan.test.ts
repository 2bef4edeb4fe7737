import { expect, test } from "vitest";
import { recommendRate } from "../../src/recommend/recommendRate.ts";
import { stepPlan } from "../../src/recommend/stepPlan.ts";
import { stripsFor } from "../../src/recommend/stripsFor.ts";
import { assertDigits } from "../assertDigits.ts";
import { analysed, parabola, sampleTrial } from "./sampleTrial.ts";

const trial = sampleTrial(parabola(205, 32, 0.07), { sigma: 5 });
const analysis = analysed(trial);
const field = { hybrid: "Amber 12", presentRate: 34, acceptedStep: 2, planterStep: 0.5, establishment: 0.95 } as const;
const options = { trial, draws: 300 } as const;

test("steps lead from the present rate to the target, none larger than accepted, and their gains add up", () => {
  const plan = stepPlan(analysis, field, options);
  const { target } = recommendRate(analysis, field, options);
  expect(plan.target).toBe(target);
  expect(plan.steps.at(-1)?.rate).toBe(target);
  let last: number = field.presentRate;
  let sum = 0;
  for (const { rate, fromLast, fromPresent } of plan.steps) {
    expect(Math.abs(rate - last)).toBeLessThanOrEqual(2);
    sum += fromLast?.return.mean as number;
    assertDigits(fromPresent?.return.mean, sum, 9);
    last = rate;
  }
  expect(plan.watch.length).toBeGreaterThan(3);
  expect(plan.strips?.rates).toContain(field.presentRate);
});

test("nothing to do at the target; a present rate is needed; a step below the planter's is said so", () => {
  const { target } = recommendRate(analysis, field, options);
  expect(stepPlan(analysis, { ...field, presentRate: target }, options).steps).toEqual([]);
  expect(() => stepPlan(analysis, { hybrid: "Amber 12" }, options)).toThrow(/presentRate/);
  expect(stepPlan(analysis, { ...field, acceptedStep: 0.1 }, options).notes.join(" ")).toContain(
    "smaller than the planter",
  );
});

test("about nine replicates show a difference of 1.5 standard deviations with a chance of 80 % at a 5 % level", () => {
  // R 4.2.2: power.t.test(delta = 1.5, sd = sqrt(2), power = .8, type = "paired") needs n = 9.08; the sum of two t quantiles is the usual
  // approximation to it and may be one apart.
  const design = stripsFor([30, 34], 1.5, 1, { power: 0.8, alpha: 0.05 });
  expect(Math.abs((design.replicates as number) - 9.08)).toBeLessThan(1.1);
  // power.t.test(delta = 3, sd = 5 * sqrt(2), sig.level = .1, power = .8, type = "paired"): n = 35.74.
  expect(Math.abs((stripsFor([30, 34], 3, 5).replicates as number) - 35.74)).toBeLessThan(1.1);
  expect(stripsFor([30, 34], 0.1, 6).replicates).toBeNull();
  expect(stripsFor([30, 34], 3, null).replicates).toBeNull();
});
