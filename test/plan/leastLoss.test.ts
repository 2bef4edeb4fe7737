import { describe, expect, test } from "vitest";
import { type LossState, leastLoss } from "../../src/plan/leastLoss.ts";

const state = (weight: number, expected: readonly number[], loss: readonly number[]): LossState => ({
  weight,
  expected: [Float64Array.from(expected)],
  loss: Float64Array.from(loss),
});

describe("leastLoss", () => {
  // Two states, two candidates. Before: 2 x 5 + 0 = 10 against 0 + 1 x 8, so the second. Block means (m, -m) of b blocks lie at (m + 1, -(m + 1))
  // from the first state and (m - 1, -(m - 1)) from the second: w1 / w2 = 2 exp(-(b / 2 s^2) 2 ((m + 1)^2 - (m - 1)^2)) = 2 exp(-4 b m / s^2).
  const states = [state(2, [-1, 1], [5, 0]), state(1, [1, -1], [0, 8])];
  const rule = leastLoss(states);
  // The first candidate is the better one when 5 w1 < 8 w2, that is m > log(10 / 8) s^2 / (4 b).
  const turning = (b: number, s: number): number => (Math.log(10 / 8) * s * s) / (4 * b);

  test("takes what loses least before any plot", () => expect(rule.now()).toBe(1));

  test("changes its mind exactly where the posterior odds do", () => {
    for (const [b, s] of [
      [1, 1],
      [4, 2],
      [9, 5],
    ]) {
      const m = turning(b, s);
      expect(rule.after([Float64Array.of(m * 0.999, -m * 0.999)], [b], s)).toBe(1);
      expect(rule.after([Float64Array.of(m * 1.001, -m * 1.001)], [b], s)).toBe(0);
    }
  });

  test("several places count like one with their blocks together", () => {
    const twice = leastLoss(states.map((one) => ({ ...one, expected: [one.expected[0], one.expected[0]] })));
    const m = turning(6, 3);
    for (const factor of [0.99, 1.01]) {
      const seen = Float64Array.of(m * factor, -m * factor);
      expect(twice.after([seen, seen], [2, 4], 3)).toBe(rule.after([seen], [6], 3));
    }
  });

  test("finds the least of many candidates, at the ends too, and survives data far from every state", () => {
    for (const best of [0, 3, 17, 80, 81, 82, 83]) {
      const loss = Array.from({ length: 84 }, (_, c) => (c - best) ** 2);
      const one = leastLoss([state(1, [0, 0], loss), state(1e-3, [1, -1], loss)]);
      expect(one.now()).toBe(best);
      expect(one.after([Float64Array.of(1e4, -1e4)], [50], 0.1)).toBe(best);
    }
  });
});
