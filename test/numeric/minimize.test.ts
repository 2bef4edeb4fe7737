import { describe, expect, test } from "vitest";
import { brentMinimum, brentRoot } from "../../src/numeric/minimize.ts";
import { assertDigits } from "../assertDigits.ts";

describe("brentRoot", () => {
  // roots known in closed form or by definition; flat and steep ones, and a root of order 3
  const cases: readonly (readonly [string, (x: number) => number, number, number, number])[] = [
    ["square root of 2", (x) => x * x - 2, 0, 2, Math.SQRT2],
    ["fixed point of cos (Dottie's number, OEIS A003957)", (x) => Math.cos(x) - x, 0, 1, 0.7390851332151607],
    ["exp(x) = 1e6", (x) => Math.exp(x) - 1e6, 0, 100, 6 * Math.LN10],
    ["steep", (x) => Math.atan(1e6 * (x - 0.123)), -1, 1, 0.123],
    ["ends in either order", (x) => 3 - x, 10, 0, 3],
  ];
  for (const [name, f, lo, hi, root] of cases) {
    test(name, () => {
      const { x, status } = brentRoot(f, lo, hi);
      assertDigits(x, root, 15);
      expect(status).toBe("converged");
    });
  }
  test("a triple root is found as well as its flatness allows", () => {
    // x^3 underflows the change of sign only below 1e-108
    expect(Math.abs(brentRoot((x) => x ** 3, -1, 1.7).x)).toBeLessThan(1e-15);
  });
  test("an end that is a root is returned", () => expect(brentRoot((x) => x, 0, 5).x).toBe(0));
  test("a coarser tolerance stops earlier", () => {
    const f = (x: number) => Math.exp(x) - 3;
    expect(brentRoot(f, 0, 5, 1e-3).iterations).toBeLessThan(brentRoot(f, 0, 5).iterations);
    expect(Math.abs(brentRoot(f, 0, 5, 1e-3).x - Math.log(3))).toBeLessThan(1e-3);
  });
  test("converges faster than bisection: each of these takes bisection over 50 steps", () => {
    for (const [name, f, lo, hi] of cases)
      expect(brentRoot(f, lo, hi).iterations, name).toBeLessThan(name === "steep" ? 50 : 20);
  });
  test("a jump across zero is located", () => assertDigits(brentRoot((x) => (x < 0.7 ? -1 : 1), 0, 1).x, 0.7, 14));
  test("refuses ends of one sign and NaN", () => {
    expect(() => brentRoot((x) => x * x + 1, -1, 1)).toThrow(expect.objectContaining({ code: "invalid-option" }));
    expect(() => brentRoot(() => Number.NaN, -1, 1)).toThrow(expect.objectContaining({ code: "invalid-option" }));
  });
});

describe("brentMinimum", () => {
  test("finds known minima to half the digits of a double", () => {
    // a minimum is flat: x is only known to the root of the rounding of f
    assertDigits(brentMinimum((x) => (x - 1) ** 2, 0, 3).x, 1, 7);
    assertDigits(brentMinimum((x) => x - Math.log(x), 0.1, 9).x, 1, 7);
    assertDigits(brentMinimum((x) => -x * Math.exp(-x / 7), 0, 100).x, 7, 7);
    assertDigits(brentMinimum((x) => Math.abs(x - 0.3), 0, 1).x, 0.3, 7);
  });
  test("parabolas beat golden section, by half: that needs 38 steps", () => {
    expect(brentMinimum((x) => (x - 1) ** 2, 0, 3).iterations).toBeLessThan(19);
    expect(brentMinimum((x) => x - Math.log(x), 0.1, 9).iterations).toBeLessThan(19);
    expect(brentMinimum((x) => x - Math.log(x), 0.1, 9, 1e-3).iterations).toBeLessThan(12);
    assertDigits(brentMinimum((x) => x - Math.log(x), 0.1, 9).value, 1, 14);
  });
  test("a function that only falls ends at the upper end", () =>
    expect(brentMinimum((x) => -x, 0, 2).x).toBeGreaterThan(2 - 1e-6));
  test("keeps to the interval", () => {
    brentMinimum(
      (x) => {
        expect(x).toBeGreaterThanOrEqual(2);
        expect(x).toBeLessThanOrEqual(5);
        return Math.sin(x);
      },
      2,
      5,
    );
  });
  test("refuses an empty interval", () =>
    expect(() => brentMinimum((x) => x, 2, 2)).toThrow(expect.objectContaining({ code: "invalid-option" })));
});
