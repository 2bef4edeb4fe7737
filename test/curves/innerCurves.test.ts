import { describe, expect, test } from "vitest";
import { curveOf } from "../../src/curves/catalogue.ts";
import { clampOptimum } from "../../src/curves/clampOptimum.ts";
import { allFamilies, type Family, innerFamilies, isInner } from "../../src/curves/family.ts";
import { lambertW } from "../../src/curves/lambertW.ts";
import { largestAmong } from "../../src/curves/largestAmong.ts";
import { assertDigits } from "../assertDigits.ts";

/** Parameters in the order of each family's docstring, rising, falling, with the join inside and outside. */
const samples: Readonly<Record<string, readonly number[][]>> = {
  flat: [[150]],
  linear: [
    [100, 2],
    [100, -2],
  ],
  quadratic: [
    [50, 8, -0.2],
    [50, -8, 0.2],
    [50, 1, 0],
  ],
  "linear-plateau": [
    [180, 4, 12.3],
    [180, 4, 50],
    [180, 4, 1],
    [180, -4, 12.3],
  ],
  "quadratic-plateau": [
    [180, 0.3, 14.2],
    [180, 0.3, 60],
    [180, -0.3, 14.2],
  ],
};

describe("inner curves", () => {
  test("means worked by hand at x = 10", () => {
    const at = (family: Family, theta: readonly number[]) => curveOf(family).mean(10, theta);
    expect(at("flat", [150])).toBe(150);
    expect(at("linear", [100, 2])).toBe(120);
    expect(at("quadratic", [50, 8, -0.2])).toBe(110);
    expect(at("linear-plateau", [180, 4, 12])).toBe(172);
    expect(at("linear-plateau", [180, 4, 9])).toBe(180);
    expect(at("quadratic-plateau", [180, 0.5, 12])).toBe(178);
    expect(at("quadratic-plateau", [180, 0.5, 9])).toBe(180);
  });

  test("slope, curvature and gradient are the differences of the mean", () => {
    for (const [family, thetas] of Object.entries(samples)) {
      const curve = curveOf(family as Family);
      for (const theta of thetas) {
        for (const x of [2, 5.5, 9.7, 13.1, 17, 29]) {
          // h = 1e-3: the curves are at most quadratic between their joins, so central differences have no truncation error
          const h = 1e-3;
          const [low, middle, high] = [x - h, x, x + h].map((u) => curve.mean(u, theta));
          expect(Math.abs(curve.slope(x, theta) - (high - low) / (2 * h))).toBeLessThan(1e-9);
          expect(Math.abs(curve.curvature(x, theta) - (high - 2 * middle + low) / (h * h))).toBeLessThan(1e-6);
          const gradient = new Float64Array(theta.length).fill(Number.NaN);
          curve.gradient(x, theta, gradient);
          theta.forEach((t, j) => {
            const moved = (by: number) =>
              curve.mean(
                x,
                theta.map((v, k) => (k === j ? t + by : v)),
              );
            expect(Math.abs(gradient[j] - (moved(h) - moved(-h)) / (2 * h))).toBeLessThan(1e-8);
          });
        }
      }
    }
  });

  test("at the join slope and curvature are those to the right: the plateau's", () => {
    const gradient = new Float64Array(3);
    expect(curveOf("linear-plateau").slope(12, [180, 4, 12])).toBe(0);
    curveOf("linear-plateau").gradient(12, [180, 4, 12], gradient);
    expect(Array.from(gradient, Math.abs)).toEqual([1, 0, 0]);
    expect(curveOf("quadratic-plateau").curvature(12, [180, 0.5, 12])).toBe(0);
    expect(curveOf("quadratic-plateau").slope(12, [180, 0.5, 12])).toBe(0);
  });

  test("the optimum is the best of a fine grid, and the smallest density among equals", () => {
    for (const [family, thetas] of Object.entries(samples)) {
      const curve = curveOf(family as Family);
      for (const theta of thetas) {
        for (const [low, high] of [
          [2, 30],
          [13, 20],
          [2, 10],
        ]) {
          for (const r of [0, 0.5, 1, 2, 3.9, 4, 4.1, 9]) {
            if ((family === "linear-plateau" || family === "quadratic-plateau") && theta[1] < 0) continue; // see below
            const found = curve.optimum(theta, low, high, r);
            const gain = (x: number) => curve.mean(x, theta) - r * x;
            const grid = Array.from({ length: 2001 }, (_, i) => low + ((high - low) * i) / 2000);
            const most = Math.max(...grid.map(gain));
            const what = `${family} ${theta} [${low}, ${high}] r ${r}`;
            expect(gain(found.density), what).toBeGreaterThan(most - 1e-9);
            const before = grid.filter((x) => x < found.density - 1e-6).map(gain);
            expect(Math.max(...before), what).toBeLessThan(gain(found.density) - 1e-13);
            const kind = found.density === low ? "lower-edge" : found.density === high ? "upper-edge" : "interior";
            expect(found.kind, what).toBe(kind);
          }
        }
      }
    }
  });

  test("a rise that just pays for itself does not pay: the lowest density", () => {
    expect(curveOf("linear").optimum([100, 2], 2, 30, 2)).toEqual({ kind: "lower-edge", density: 2 });
    expect(curveOf("linear-plateau").optimum([180, 4, 12], 2, 30, 4)).toEqual({ kind: "lower-edge", density: 2 });
    expect(curveOf("linear-plateau").optimum([180, 4, 12], 2, 30, 3.999)).toEqual({ kind: "interior", density: 12 });
    // (r - 8) / (2 * -0.2) = 15 at r = 2; a parabola that opens upwards with equal ends stays low
    expect(curveOf("quadratic").optimum([50, 8, -0.2], 2, 30, 2)).toEqual({ kind: "interior", density: 15 });
    expect(curveOf("quadratic").optimum([50, -6, 0.2], 10, 20, 0)).toEqual({ kind: "lower-edge", density: 10 });
    expect(curveOf("quadratic").optimum([50, -6, 0.2], 10, 21, 0)).toEqual({ kind: "upper-edge", density: 21 });
    // 14 - 0.6 / 0.6 = 13; without a rise there is nothing to pay for
    expect(curveOf("quadratic-plateau").optimum([180, 0.3, 14], 2, 30, 0.6)).toEqual({ kind: "interior", density: 13 });
    expect(curveOf("quadratic-plateau").optimum([180, 0, 14], 2, 30, 0)).toEqual({ kind: "lower-edge", density: 2 });
    expect(curveOf("flat").optimum([180], 2, 30, 0)).toEqual({ kind: "lower-edge", density: 2 });
  });

  test("names: nine families, five of them inner, parameters as documented", () => {
    expect(innerFamilies).toEqual(["flat", "linear", "quadratic", "linear-plateau", "quadratic-plateau"]);
    expect(allFamilies.filter(isInner)).toEqual(innerFamilies);
    expect(allFamilies.slice(5)).toEqual(["exponential", "reciprocal", "parabolic-reciprocal", "mitscherlich"]);
    const parameters = ["intercept", "intercept linear", "intercept linear quadratic", "plateau slope join"];
    parameters.push("plateau curvature join", "a b", "a b", "a b c", "a b c");
    allFamilies.forEach((family, i) => {
      expect(curveOf(family).name).toBe(family);
      expect(curveOf(family).parameters.join(" ")).toBe(parameters[i]);
      expect(Object.isFrozen(curveOf(family))).toBe(true);
    });
  });
});

test("clampOptimum: strictly inside is interior, on or beyond an end is that end", () => {
  expect(clampOptimum(3, 2, 4)).toEqual({ kind: "interior", density: 3 });
  expect(clampOptimum(2, 2, 4)).toEqual({ kind: "lower-edge", density: 2 });
  expect(clampOptimum(1, 2, 4)).toEqual({ kind: "lower-edge", density: 2 });
  expect(clampOptimum(4, 2, 4)).toEqual({ kind: "upper-edge", density: 4 });
  expect(clampOptimum(9, 2, 4)).toEqual({ kind: "upper-edge", density: 4 });
});

test("largestAmong: ends and inner points; the smallest among equals; points outside do not count", () => {
  const table = (values: Record<number, number>) => (x: number) => values[x];
  const hump = table({ 1: 0, 2: 5, 3: 5, 4: 5, 9: 99 });
  expect(largestAmong(hump, [3, 2, 9, 1], 1, 4)).toEqual({ kind: "interior", density: 2 });
  expect(largestAmong(table({ 1: 5, 2: 5, 4: 5 }), [2], 1, 4)).toEqual({ kind: "lower-edge", density: 1 });
  expect(largestAmong(table({ 1: 1, 2: 5, 4: 6 }), [2, 4], 1, 4)).toEqual({ kind: "upper-edge", density: 4 });
  expect(largestAmong(table({ 1: 1 }), [], 1, 1)).toEqual({ kind: "lower-edge", density: 1 });
});

describe("optimum of the outer curves at the borders of their formulas", () => {
  test("exponential: falling from the start, r at and above exp(a), b >= 0", () => {
    const { optimum } = curveOf("exponential");
    expect(optimum([0, -0.1], 2, 30, 0)).toEqual({ kind: "interior", density: 10 });
    expect(optimum([0, -0.1], 2, 30, 1)).toEqual({ kind: "lower-edge", density: 2 });
    expect(optimum([0, -0.1], 2, 30, 5)).toEqual({ kind: "lower-edge", density: 2 });
    expect(optimum([0, 0], 2, 30, 0.5)).toEqual({ kind: "upper-edge", density: 30 });
    expect(optimum([0, 0], 2, 30, 1)).toEqual({ kind: "lower-edge", density: 2 });
  });
  test("reciprocal: (sqrt(0.04 / 0.01) - 0.04) / 0.1 = 19.6; free seed goes to the top, b = 0 is a straight line", () => {
    const { optimum } = curveOf("reciprocal");
    assertDigits(optimum([0.04, 0.1], 2, 30, 0.01).density, 19.6, 14);
    expect(optimum([0.04, 0.1], 2, 30, 0)).toEqual({ kind: "upper-edge", density: 30 });
    expect(optimum([0.5, 0], 2, 30, 1.9)).toEqual({ kind: "upper-edge", density: 30 });
    expect(optimum([0.5, 0], 2, 30, 2.1)).toEqual({ kind: "lower-edge", density: 2 });
  });
  test("Mitscherlich: ln(150 * 0.1 / 1.5) / 0.1 = 10 ln 10; no loss to make up leaves the lowest", () => {
    const { optimum } = curveOf("mitscherlich");
    assertDigits(optimum([200, 150, 0.1], 2, 30, 1.5).density, 10 * Math.LN10, 14);
    expect(optimum([200, 150, 0.1], 2, 30, 0)).toEqual({ kind: "upper-edge", density: 30 });
    expect(optimum([200, 150, 0.1], 5, 5, 0)).toEqual({ kind: "lower-edge", density: 5 });
    expect(optimum([200, 0, 0.1], 2, 30, 0)).toEqual({ kind: "lower-edge", density: 2 });
    expect(optimum([200, 150, 0], 2, 30, 0)).toEqual({ kind: "lower-edge", density: 2 });
  });
  test("parabolic reciprocal: sqrt(1 / 0.01) = 10; with a cost the roots of a - c x^2 = r (a + b x + c x^2)^2", () => {
    const { optimum, slope } = curveOf("parabolic-reciprocal");
    expect(optimum([1, 0.1, 0.01], 2, 30, 0)).toEqual({ kind: "interior", density: 10 });
    const best = optimum([1, 0.1, 0.01], 2, 30, 0.05);
    expect(best.kind).toBe("interior");
    assertDigits(slope(best.density, [1, 0.1, 0.01]), 0.05, 12);
    expect(optimum([1, 0.1, 0.01], 7, 7, 0.05)).toEqual({ kind: "lower-edge", density: 7 });
  });
});

describe("lambertW", () => {
  test("W(x e^x) = x on both sides of every switch between its starting values", () => {
    for (const w of [-0.99, -0.9, -0.5, -0.36, -0.357, -0.1, -1e-9, 1e-300, 0.3, 1, 1.04, 1.05, 1.06, 2, 9, 300, 690]) {
      const z = w * Math.exp(w);
      // near the branch point a rounding of z moves w by its square root: 1e-16 / (1 + w)
      expect(Math.abs(lambertW(z) - w)).toBeLessThan((4e-16 * Math.abs(w)) / (1 + w) + 4e-15 * Math.abs(w));
    }
    expect(lambertW(0)).toBe(0);
  });
  test("near the branch point: -1 + p - p^2 / 3 + 11 p^3 / 72, p = sqrt(2 (e z + 1)) (Corless et al. 1996, 4.22)", () => {
    for (const p of [1e-5, 1e-3, 0.01]) {
      const z = (p * p) / (2 * Math.E) - Math.exp(-1);
      // the next term of the series is 43 p^4 / 540; z near -1/e holds p to 1e-16 / p
      expect(Math.abs(lambertW(z) - (-1 + p - (p * p) / 3 + (11 / 72) * p ** 3))).toBeLessThan(p ** 4 + 4e-16 / p);
    }
    expect(Math.abs(lambertW(-0.36787944117144233) + 1)).toBeLessThan(1e-7);
    expect(() => lambertW(-0.368)).toThrow(expect.objectContaining({ code: "invalid-option" }));
    expect(() => lambertW(Infinity)).toThrow(expect.objectContaining({ code: "invalid-option" }));
  });
});
