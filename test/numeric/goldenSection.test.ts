import { expect, test } from "vitest";
import { goldenSection } from "../../src/numeric/goldenSection.ts";
import { assertDigits } from "../assertDigits.ts";

test("finds the peak of x exp(-x) at 1, where it is 1 / e", () => {
  // Exact by calculus. A maximum is flat, so half the digits of x: 1e-7.
  const { middle, best } = goldenSection((x) => x * Math.exp(-x), 0, 5, 100);
  expect(Math.abs(middle - 1)).toBeLessThan(1e-7);
  assertDigits(best, 1 / Math.E, 14);
});

test("leaves 0.618 of the bracket at each step, and stops at the width asked for", () => {
  // Peaks at the ends show the bracket itself: after k steps its middle is (0.618...)^(k) / 2 from the end.
  const ratio = (Math.sqrt(5) - 1) / 2;
  assertDigits(1 - goldenSection((x) => x, 0, 1, 10).middle, ratio ** 10 / 2, 12);
  let asked = 0;
  goldenSection(
    (x) => {
      asked++;
      return x;
    },
    0,
    1,
    1000,
    0.01,
  );
  // 0.618^9 = 0.0132 > 0.01 > 0.618^10 = 0.0081: ten steps after the first two points.
  expect(asked).toBe(12);
});
