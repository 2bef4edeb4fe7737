import { expect, test } from "vitest";
import {
  dot,
  identity,
  multiply,
  multiplyTransposed,
  multiplyVector,
  quadraticForm,
  slice,
  traceProduct,
  transpose,
} from "../../src/numeric/matrix.ts";

// A = [[1, 2, 3], [4, 5, 6]], B = [[1, 0], [2, -1], [0, 3]]; all by hand.
const a = Float64Array.of(1, 2, 3, 4, 5, 6);
const b = Float64Array.of(1, 0, 2, -1, 0, 3);
const plain = (v: Float64Array) => Array.from(v, (x) => x + 0);

test("products", () => {
  expect(plain(multiply(a, b, 2, 3, 2))).toEqual([5, 7, 14, 13]);
  expect(plain(multiplyTransposed(a, Float64Array.of(1, 2), 2, 3, 1))).toEqual([9, 12, 15]);
  expect(plain(multiplyTransposed(a, a, 2, 3, 3))).toEqual([17, 22, 27, 22, 29, 36, 27, 36, 45]);
  expect(plain(multiplyVector(a, Float64Array.of(1, -1, 2), 2, 3))).toEqual([5, 11]);
  expect(dot(Float64Array.of(1, 2, 3), Float64Array.of(4, -5, 6))).toBe(12);
  expect(quadraticForm(Float64Array.of(1, 2), a, Float64Array.of(1, 0, -1))).toBe(-6); // (9, 12, 15) . (1, 0, -1)
  expect(traceProduct(Float64Array.of(1, 2, 3, 4), Float64Array.of(5, 6, 7, 8), 2)).toBe(69);
});

test("a row of zeros multiplies without a trace", () => {
  expect(plain(multiply(Float64Array.of(0, 0, 1, 1), Float64Array.of(1, 2, 3, 4), 2, 2, 2))).toEqual([0, 0, 4, 6]);
});

test("parts, transpose and identity", () => {
  expect(plain(slice(a, 3, [0, 2], [1, 3]))).toEqual([2, 3, 5, 6]);
  expect(plain(slice(a, 3, [1, 2], [0, 2]))).toEqual([4, 5]);
  expect(plain(transpose(a, 2, 3))).toEqual([1, 4, 2, 5, 3, 6]);
  expect(plain(identity(2))).toEqual([1, 0, 0, 1]);
});
