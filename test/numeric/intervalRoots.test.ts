import fc from "fast-check";
import { expect, test } from "vitest";
import { evaluateBernstein, rootsInUnitInterval, toBernstein } from "../../src/numeric/intervalRoots.ts";

function powers(roots: readonly number[]): number[] {
  let p = [1];
  for (const r of roots) {
    const next = new Array<number>(p.length + 1).fill(0);
    p.forEach((value, i) => {
      next[i + 1] += value;
      next[i] -= r * value;
    });
    p = next;
  }
  return p;
}

function find(coefficients: readonly number[]): number[] {
  const degree = coefficients.length - 1;
  const bernstein = new Float64Array(degree + 1);
  const out = new Float64Array(degree);
  toBernstein(coefficients, degree, bernstein);
  return Array.from(out.subarray(0, rootsInUnitInterval(bernstein, degree, out)));
}

test("toBernstein keeps the values of the polynomial", () => {
  fc.assert(
    fc.property(
      fc.array(fc.double({ min: -10, max: 10, noNaN: true }), { minLength: 2, maxLength: 5 }),
      fc.double({ min: 0, max: 1, noNaN: true }),
      (a, t) => {
        const b = new Float64Array(a.length);
        toBernstein(a, a.length - 1, b);
        const direct = a.reduceRight((value, c) => value * t + c, 0);
        expect(Math.abs(evaluateBernstein(b, a.length - 1, t) - direct)).toBeLessThan(1e-12);
      },
    ),
  );
});

test("every root placed in (0, 1) is found and none is invented", () => {
  // Roots kept 1e-3 apart: closer pairs are told apart only as far as double precision conditions them.
  const root = fc.integer({ min: -3000, max: 4000 }).map((i) => i / 1000 + 0.0005);
  fc.assert(
    fc.property(fc.uniqueArray(root, { minLength: 1, maxLength: 4 }), (roots) => {
      const expected = roots.filter((r) => r > 0 && r < 1).sort((a, b) => a - b);
      const found = find(powers(roots));
      expect(found.length).toBe(expected.length);
      // 1e-6: a quartic with roots 1e-3 apart magnifies the rounding of its coefficients by about 1e9.
      found.forEach((r, i) => {
        expect(Math.abs(r - expected[i])).toBeLessThan(1e-6);
      });
    }),
    { numRuns: 3000 },
  );
});

test("a double root counts once and a polynomial without roots has none", () => {
  expect(find(powers([0.25, 0.25, 3, 4]))).toEqual([0.25]);
  expect(find([1, 0, 1])).toEqual([]);
});

test("a zero at an end of the interval is not a root inside, and hides none", () => {
  const found = find(powers([0, 0.4, 3, -2]));
  expect(found.length).toBe(1);
  expect(Math.abs(found[0] - 0.4)).toBeLessThan(1e-12);
});
