import { expect, test } from "vitest";
import {
  clopperPearsonInterval,
  effectivePlants,
  upperBoundWhenNone,
  wilsonInterval,
} from "../../src/standability/proportionInterval.ts";
import { assertDigits } from "../assertDigits.ts";
import proportions from "../oracle/lodging/proportions.json" with { type: "json" };

test("Wilson and Clopper-Pearson agree with R at every stored point", () => {
  for (const { events, trials, wilson, clopper_pearson } of proportions.points) {
    const score = wilsonInterval(events, trials);
    // With no event R leaves 2e-17 where the end is 0 exactly.
    if (events > 0) assertDigits(score.lower, wilson.lower, 11, `Wilson ${events}/${trials}`);
    else expect(score.lower).toBe(0);
    if (events < trials) assertDigits(score.upper, wilson.upper, 11, `Wilson ${events}/${trials}`);
    else expect(score.upper).toBe(1);
    const exact = clopperPearsonInterval(events, trials);
    if (clopper_pearson.lower === 0) expect(exact.lower).toBe(0);
    else assertDigits(exact.lower, clopper_pearson.lower, 10, `exact ${events}/${trials}`);
    assertDigits(exact.upper, clopper_pearson.upper, 10, `exact ${events}/${trials}`);
  }
});

test("12 lodged of 100: the textbook Wilson limits", () => {
  const { lower, upper } = wilsonInterval(12, 100, 0.95);
  assertDigits(lower, 0.0699941, 6);
  assertDigits(upper, 0.198121, 6);
});

test("none of n: the exact one-sided bound, near 3 / n at 95 %", () => {
  assertDigits(upperBoundWhenNone(600), 1 - 0.05 ** (1 / 600), 10);
  expect(Math.abs(600 * upperBoundWhenNone(600) - 3)).toBeLessThan(0.02);
  // The two-sided exact limit at 90 % is the one-sided one at 95 %.
  assertDigits(upperBoundWhenNone(85), clopperPearsonInterval(0, 85, 0.9).upper, 10);
});

test("effective plants: all of them when independent, one when they fall together", () => {
  expect(effectivePlants(50, 0)).toBe(50);
  expect(effectivePlants(50, 1)).toBe(1);
  expect(() => effectivePlants(50, 2)).toThrow(expect.objectContaining({ code: "invalid-option" }));
  expect(() => wilsonInterval(5, 4)).toThrow(expect.objectContaining({ code: "invalid-data" }));
});
