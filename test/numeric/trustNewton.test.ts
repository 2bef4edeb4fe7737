import { expect, test } from "vitest";
import { minimiseNewton } from "../../src/numeric/trustNewton.ts";
import { assertDigits } from "../assertDigits.ts";

/** 2 (x - 3)^2 + (y + 1)^2 / 2 + x y, minimum where 4 (x - 3) + y = 0 and y + 1 + x = 0: x = 13 / 3, y = -16 / 3. */
const bowl = ([x, y]: Float64Array) => ({
  value: 2 * (x - 3) ** 2 + (y + 1) ** 2 / 2 + x * y,
  derivatives: () => ({
    gradient: Float64Array.of(4 * (x - 3) + y, y + 1 + x),
    hessian: Float64Array.of(4, 1, 1, 1),
  }),
});

test("a bowl is solved exactly, near and far", () => {
  for (const start of [
    [0, 0],
    [1e6, -1e6],
  ]) {
    const from = Float64Array.from(start);
    const result = minimiseNewton(bowl, from);
    expect(result?.converged).toBe(true);
    assertDigits(result?.x[0], 13 / 3, 10);
    assertDigits(result?.x[1], -16 / 3, 10);
    expect(Array.from(from)).toEqual(start);
    expect(result?.iterations).toBeLessThan(25); // the radius triples: log3(1e6) is 12.6
  }
});

test("a start that does not exist gives null; no variables, nothing to do", () => {
  expect(minimiseNewton(() => null, Float64Array.of(1))).toBeNull();
  const point = { value: 7, derivatives: () => ({ gradient: new Float64Array(0), hessian: new Float64Array(0) }) };
  expect(minimiseNewton(() => point, new Float64Array(0))).toMatchObject({ iterations: 0, converged: true });
});

test("steps too long for the domain are shortened: x - ln x from 1e-3 and from 50", () => {
  const f = ([x]: Float64Array) =>
    x <= 0
      ? null
      : {
          value: x - Math.log(x),
          derivatives: () => ({ gradient: Float64Array.of(1 - 1 / x), hessian: Float64Array.of(1 / (x * x)) }),
        };
  for (const start of [1e-3, 0.9, 50]) assertDigits(minimiseNewton(f, Float64Array.of(start))?.x[0], 1, 9);
});

test("runs out of steps, and stops where the caller says", () => {
  const far = minimiseNewton(bowl, Float64Array.of(1e6, -1e6), 3);
  expect(far).toMatchObject({ iterations: 3, converged: false });
  const stopped = minimiseNewton(bowl, Float64Array.of(1e6, -1e6), 100, ([x]) => x < 1e6 - 0.5);
  expect(stopped?.iterations).toBe(1);
  expect(stopped?.converged).toBe(true);
  // the first step is no longer than the first radius, 1
  expect(Math.hypot((stopped?.x[0] ?? 0) - 1e6, (stopped?.x[1] ?? 0) + 1e6)).toBeLessThan(1 + 1e-9);
});

test("a flat direction without slope is left alone", () => {
  const valley = ([x]: Float64Array) => ({
    value: (x - 2) ** 2,
    derivatives: () => ({ gradient: Float64Array.of(2 * (x - 2), 0), hessian: Float64Array.of(2, 0, 0, 0) }),
  });
  const result = minimiseNewton(valley, Float64Array.of(0, 5));
  assertDigits(result?.x[0], 2, 12);
  expect(result?.x[1]).toBe(5);
  expect(result?.converged).toBe(true);
});
