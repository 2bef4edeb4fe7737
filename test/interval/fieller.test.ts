import { describe, expect, test } from "vitest";
import { rayGain, rootsOnPiece, tilt, withinCutoff } from "../../src/interval/acceptance.ts";
import { cutoffFrom, quantileFrom } from "../../src/interval/cutoffRule.ts";
import { fiellerSet } from "../../src/interval/fieller.ts";
import { penaltyFactor } from "../../src/interval/layout.ts";
import { joinDesign, joinResponse } from "../../src/numeric/joinDesign.ts";
import { assertDigits } from "../assertDigits.ts";

describe("fiellerSet", () => {
  const estimates = { linear: 6.4, quadratic: -0.1, varLinear: 0.04, covariance: -0.0006, varQuadratic: 0.00001 };
  /** (p - x q)^2 - t^2 var(p - x q), straight from the definition. */
  const excess = (e: typeof estimates, x: number, m: number, t: number) =>
    (m - e.linear - 2 * e.quadratic * x) ** 2 -
    t * t * (e.varLinear + 4 * x * x * e.varQuadratic + 4 * x * e.covariance);

  test("its ends solve the definition, at two price ratios; inside it holds, outside it does not", () => {
    for (const m of [0, 1]) {
      const set = fiellerSet(estimates, m, 2.2);
      if (set.kind !== "interval") throw new Error(set.kind);
      for (const end of [set.lower, set.upper]) expect(Math.abs(excess(estimates, end, m, 2.2))).toBeLessThan(1e-12);
      const middle = (m - 6.4) / -0.2;
      expect(set.lower).toBeLessThan(middle);
      expect(set.upper).toBeGreaterThan(middle);
      expect(excess(estimates, set.lower - 1e-3, m, 2.2)).toBeGreaterThan(0);
      expect(excess(estimates, set.upper + 1e-3, m, 2.2)).toBeGreaterThan(0);
      assertDigits(set.g, (2.2 ** 2 * 4e-5) / 0.04, 13);
    }
  });
  test("a bend that is not significant: everything outside a stretch, or the whole line", () => {
    const weak = { ...estimates, quadratic: -0.01, varQuadratic: 0.0001, covariance: -0.001 };
    const outside = fiellerSet(weak, 0, 2.2);
    if (outside.kind !== "outside") throw new Error(outside.kind);
    expect(outside.lower).toBeLessThan(outside.upper);
    for (const end of [outside.lower, outside.upper]) expect(Math.abs(excess(weak, end, 0, 2.2))).toBeLessThan(1e-9);
    expect(excess(weak, (outside.lower + outside.upper) / 2, 0, 2.2)).toBeGreaterThan(0);
    expect(outside.g).toBeGreaterThan(1);
    const nothing = { ...weak, linear: 0.01 };
    expect(fiellerSet(nothing, 0, 2.2).kind).toBe("whole-line");
    for (const x of [-1000, 0, 30, 1000]) expect(excess(nothing, x, 0, 2.2)).toBeLessThan(0);
    expect(fiellerSet({ ...estimates, quadratic: 0 }, 0, 2.2).g).toBe(Number.MAX_VALUE);
  });
  test("an end at 0 and signs of both roots; t must be above 0", () => {
    // p = 0: x^2 q^2 <= t^2 (vpp + x^2 vqq), symmetric about 0
    const even = { linear: 0, quadratic: -0.5, varLinear: 1, covariance: 0, varQuadratic: 0 };
    expect(fiellerSet(even, 0, 3)).toEqual({ kind: "interval", lower: -3, upper: 3, g: 0 });
    // no doubt about the linear part: p^2 = t^2 var at x = 0
    const touching = { ...even, linear: 3 };
    const set = fiellerSet(touching, 0, 3);
    expect(set).toMatchObject({ lower: 0, upper: 6 });
    for (const t of [0, -1, Number.NaN])
      expect(() => fiellerSet(even, 0, t)).toThrow(expect.objectContaining({ code: "invalid-option" }));
  });
});

describe("cut-offs", () => {
  test("95 % promised: 93 % within the plain cut-off keep it, fewer bring the simulated quantile", () => {
    const ratios = (within: number) => Float64Array.from({ length: 1000 }, (_, i) => (i < within ? 1 : 2 + i / 1000));
    expect(cutoffFrom(ratios(930), 0.95, 1)).toBe(1);
    // rank ceil(0.95 * 1001) = 951: the value with index 950
    expect(cutoffFrom(ratios(929), 0.95, 1)).toBe(2.95);
  });
  test("the quantile of an exact Monte-Carlo test: the k-th of n with k = ceil(level (n + 1)), at most the last", () => {
    const sorted = Float64Array.from({ length: 99 }, (_, i) => i + 1);
    expect([quantileFrom(sorted, 0.95), quantileFrom(sorted, 0.5), quantileFrom(sorted, 0.999)]).toEqual([95, 50, 99]);
  });
});

describe("polynomials of an accepted set", () => {
  test("roots inside a piece: (t - 1)(t - 2) on widths 3, 1.5 and 0.5; nothing of zeros", () => {
    const roots = rootsOnPiece([2, -3, 1], 3);
    assertDigits(roots[0], 1, 13);
    assertDigits(roots[1], 2, 13);
    expect(rootsOnPiece([2, -3, 1], 1.5).length).toBe(1);
    expect(rootsOnPiece([2, -3, 1], 0.5)).toEqual([]);
    expect(rootsOnPiece([0, 0, 0], 1)).toEqual([]);
  });
  test("N^2 - c Q: (1 + 2 t)^2 - 3 (5 + 7 t) = -14 - 17 t + 4 t^2", () =>
    expect(withinCutoff([1, 2], [5, 7], 3)).toEqual([-14, -17, 4]));
  test("rayGain: (d . t)^2 / d'Md for a positive product, else 0", () => {
    const m = { t1: 3, t2: 1, uu: 4, uv: 1, vv: 2, b1: 0, b2: 0, gain: 0, lineGain: 0 };
    assertDigits(rayGain(m, 1, 2), 25 / (4 + 4 + 8), 15);
    expect([rayGain(m, -1, -2), rayGain(m, 0, 0), rayGain(m, 1, -3)]).toEqual([0, 0, 0]);
  });
  test("tilt: the response of yields less r times density, blocks and weights included", () => {
    const x = Float64Array.of(20, 24, 30, 20, 30, 36);
    const weight = Float64Array.of(1, 2, 1, 0.5, 1, 1.5);
    const design = joinDesign(x, Int32Array.of(0, 0, 0, 1, 1, 1), 2, weight);
    const y = Float64Array.of(150, 160, 171, 140, 165, 168);
    const plain = joinResponse(design, y);
    const direct = joinResponse(
      design,
      y.map((v, i) => v - 1.7 * (x[i] - 20)),
    );
    const tilted = tilt(design, plain, 1.7);
    direct.sums.forEach((v, l) => void expect(Math.abs(tilted.sums[l] - v)).toBeLessThan(1e-10));
    direct.blockMean.forEach((v, b) => void assertDigits(tilted.blockMean[b], v, 12));
    assertDigits(tilted.total, direct.total, 10);
    expect(tilt(design, plain, 0)).toBe(plain);
  });
});

test("penaltyFactor: exp(penalty / n) with k = blocks + shape + 1 and AICc's 2 k + 2 k (k + 1) / (n - k - 1)", () => {
  // n = 12, two blocks: flat k = 3, linear 4, the others 5
  [3, 4, 5, 5, 5].forEach((k, family) => {
    assertDigits(penaltyFactor(12, 2, family), Math.exp((2 * k + (2 * k * (k + 1)) / (12 - k - 1)) / 12), 13);
  });
  expect(penaltyFactor(6, 2, 2)).toBe(Infinity); // n - k - 1 = 0
  expect(penaltyFactor(7, 2, 2)).toBeLessThan(Infinity);
});
