import { expect, test } from "vitest";
import { quantile, quantileSorted } from "../../src/numeric/quantile.ts";
import { assertDigits } from "../assertDigits.ts";

const code = (c: string) => expect.objectContaining({ code: c });

test("type 7 of Hyndman & Fan: the values R 4.2.2 gives for c(3, 1, 4, 1, 5, 9, 2, 6)", () => {
  // R: quantile(c(3,1,4,1,5,9,2,6), c(0, .1, .25, .5, .9, .975, 1)) -> 1 1 1.75 3.5 6.9 8.475 9
  const x = [3, 1, 4, 1, 5, 9, 2, 6];
  [0, 0.1, 0.25, 0.5, 0.9, 0.975, 1].forEach(
    (p, i) => void assertDigits(quantile(x, p), [1, 1, 1.75, 3.5, 6.9, 8.475, 9][i], 14, `p = ${p}`),
  );
  expect(x).toEqual([3, 1, 4, 1, 5, 9, 2, 6]);
});
test("one value is every quantile, and a typed array will do", () => {
  expect([0, 0.3, 1].map((p) => quantileSorted(Float64Array.of(7), p))).toEqual([7, 7, 7]);
});
test("refuses no values, p outside [0, 1] and what is not a number", () => {
  expect(() => quantile([], 0.5)).toThrow(code("invalid-data"));
  expect(() => quantileSorted([1], 1.1)).toThrow(code("invalid-option"));
  expect(() => quantileSorted([1], -0.1)).toThrow(code("invalid-option"));
  expect(() => quantileSorted([1], Number.NaN)).toThrow(code("invalid-option"));
  expect(() => quantile([1, Number.NaN, 3], 0.5)).toThrow(code("invalid-data"));
  expect(() => quantile([1, Infinity], 0.7)).toThrow(code("invalid-data"));
});
