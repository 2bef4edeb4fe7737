import { expect, test } from "vitest";
import { solveTail } from "../../src/numeric/solveTail.ts";
import { assertDigits } from "../assertDigits.ts";

// The logistic distribution: tails 1 / (1 + e^-u), 1 / (1 + e^u), quantile ln(p / (1 - p)).
const tails = (u: number) => ({ lower: 1 / (1 + Math.exp(-u)), upper: 1 / (1 + Math.exp(u)) });
const density = (u: number) => tails(u).lower * tails(u).upper;

test("quantiles of the logistic distribution, from near and far starts, into both tails", () => {
  for (const p of [1e-250, 1e-20, 0.001, 0.3, 0.49, 0.51, 0.7, 0.999, 1 - 1e-12]) {
    for (const start of [-690, -30, 0, 2, 30, 690, 1e9, -1e9]) {
      const u = solveTail(p, tails, density, start, -700, 700);
      const exact = Math.log(p) - Math.log1p(-p);
      // the digits are those of the logarithm of the tail, not of u near 0
      expect(Math.abs(u - exact)).toBeLessThan(1e-13 * Math.max(1, Math.abs(exact)));
    }
  }
  expect(Math.abs(solveTail(0.5, tails, density, 0.3, -700, 700))).toBeLessThan(1e-15);
});

test("few evaluations: Newton on the logarithm of the tail", () => {
  let asked = 0;
  const counted = (u: number) => {
    asked++;
    return tails(u);
  };
  assertDigits(solveTail(1e-40, counted, density, 0, -700, 700), Math.log(1e-40), 14);
  expect(asked).toBeLessThan(30);
});
