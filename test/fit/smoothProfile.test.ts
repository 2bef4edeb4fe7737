import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { cloglog, logit } from "../../src/fit/fitBinomialLinks.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { fittedCurve, marginalYield, predictCurve } from "../../src/fit/fittedCurve.ts";
import { projectedCovariance } from "../../src/fit/projectedCovariance.ts";
import { smoothSearches } from "../../src/fit/smoothFamilies.ts";
import { localMinima, projectedProfile, steps } from "../../src/fit/smoothProfile.ts";
import { assertDigits } from "../assertDigits.ts";
import { dummies, plainRss } from "../bruteForce.ts";

describe("projectedProfile against plain least squares on block dummies and the shape column", () => {
  for (const [name, levels] of [
    ["few densities", 4],
    ["every plot its own", 24],
  ] as const) {
    test(name, () => {
      const random = streamRandom(31, levels);
      const n = 24;
      const x = Float64Array.from({ length: n }, (_, i) => 20 + 3 * (i % levels));
      const y = Float64Array.from(x, (v) => 100 + 2 * v + 5 * random.normal());
      const block = Array.from({ length: n }, (_, i) => Math.floor(i / 8));
      for (const weight of [null, Float64Array.from(x, () => 0.5 + random.next())]) {
        const basis = dummies(block).map((column) => Float64Array.from(column));
        // a column that is a sum of the others changes nothing
        const profile = projectedProfile([...basis, Float64Array.from(x, () => 1)], x, y, weight);
        expect(profile.x.length).toBe(levels === 4 ? 4 : 24);
        for (const c of [0.01, 0.1, 0.5]) {
          const shape = (v: number) => Math.exp(-c * (v - 20));
          const { rss, coefficient } = profile.at(profile.x.map(shape));
          const w = Array.from(weight ?? new Float64Array(n).fill(1));
          const plain = (extra: number[][]) => plainRss([...dummies(block), ...extra], [...y], w);
          assertDigits(rss, plain([Array.from(x, shape)]), 8);
          // with the coefficient taken out, the column explains nothing more
          const rest = y.map((v, i) => v - coefficient * shape(x[i]));
          assertDigits(plainRss(dummies(block), [...rest], w), rss, 8);
        }
        // a column of ones is a block effect: no coefficient, the total is left
        const nothing = profile.at(profile.x.map(() => 3));
        expect(nothing.coefficient).toBe(0);
        assertDigits(
          nothing.rss,
          plainRss(dummies(block), [...y], Array.from(weight ?? new Float64Array(n).fill(1))),
          8,
        );
      }
    });
  }
});

describe("localMinima", () => {
  test("all inner minima, refined, the best first; ends are none", () => {
    const found = localMinima(steps(0, 20, 100), (t) => Math.sin(t) + t / 50);
    // sin t + t / 50 is stationary where cos t = -1 / 50
    const low = 2 * Math.PI - Math.acos(-0.02);
    expect(found.length).toBe(3);
    [low, low + 2 * Math.PI, low + 4 * Math.PI].forEach((t, k) => {
      expect(Math.abs(found[k].t - t)).toBeLessThan(1e-6);
      assertDigits(found[k].value, Math.sin(t) + t / 50, 12);
    });
    expect(localMinima(steps(0, 1, 10), (t) => t)).toEqual([]);
    expect(localMinima(steps(0, 1, 10), (t) => -t)).toEqual([]);
    expect(localMinima(steps(0, 1, 10), () => 2)).toEqual([]);
  });
  test("steps: both ends and equal widths", () => expect([...steps(2, 4, 4)]).toEqual([2, 2.5, 3, 3.5, 4]));
});

describe("where a smooth family is a curve", () => {
  test("parabolic reciprocal: positive at both ends and at the vertex between them", () => {
    const { valid } = smoothSearches["parabolic-reciprocal"];
    // 1 - 0.2 x + 0.011 x^2 has its vertex at 9.09, where it is 0.0909; with 0.0099 it is -0.0101 at 10.1
    expect(valid([1, -0.2, 0.011], 2, 20)).toBe(true);
    expect(valid([1, -0.2, 0.0099], 2, 20)).toBe(false);
    // the vertex outside the range does not matter: at 12 the second is 0.0256
    expect(valid([1, -0.2, 0.0099], 12, 20)).toBe(true);
    expect(valid([1, -0.2, 0.0099], 2, 8)).toBe(true); // 0.0336 at 8
    expect(valid([-1, 0.2, 0], 2, 20)).toBe(false);
    expect(valid([1, -0.06, 0], 2, 20)).toBe(false); // -0.2 at 20
    expect(valid([1, -0.05, 0], 2, 20)).toBe(false); // 0 at 20
  });
  test("reciprocal: a + b x above 0 at both ends; Mitscherlich: c above 0", () => {
    const { valid } = smoothSearches.reciprocal;
    expect([
      valid([1, -0.04], 2, 20),
      valid([1, -0.05], 2, 20),
      valid([-1, 0.5], 2, 20),
      valid([-1, 0.6], 2, 20),
    ]).toEqual([true, false, false, true]);
    expect([
      smoothSearches.mitscherlich.valid([0, 0, 0], 2, 20),
      smoothSearches.mitscherlich.valid([0, 0, 0.1], 2, 20),
    ]).toEqual([false, true]);
  });
});

describe("links", () => {
  test("hand values: logit(0.2) = ln 0.25; cloglog(0.2) = ln(-ln 0.8); inverses and complements", () => {
    assertDigits(logit.link(0.2), Math.log(0.25), 14);
    assertDigits(cloglog.link(0.2), Math.log(-Math.log(0.8)), 14);
    for (const link of [logit, cloglog])
      for (const p of [1e-12, 0.01, 0.3, 0.7, 0.99]) {
        const eta = link.link(p);
        assertDigits(link.inverse(eta), p, 12);
        assertDigits(link.complement(eta), 1 - p, 12);
      }
  });
  test("slope, curvature, score factor and weight slope are differences of the inverse", () => {
    const h = 1e-5;
    for (const link of [logit, cloglog]) {
      for (const eta of [-4, -1.3, 0, 0.4, 1.1]) {
        const p = link.inverse(eta);
        const difference = (f: (eta: number) => number) => (f(eta + h) - f(eta - h)) / (2 * h);
        // central differences: nine digits at h = 1e-5
        assertDigits(link.slope(eta), difference(link.inverse), 8);
        assertDigits(link.slopeAt(eta, p, link.complement(eta)), link.slope(eta), 13);
        expect(Math.abs(link.curvature(eta) - difference(link.slope))).toBeLessThan(1e-9);
        assertDigits(link.scoreFactor(eta), link.slope(eta) / (p * (1 - p)), 11);
        const weight = (e: number) => Math.log(link.slope(e) ** 2 / (link.inverse(e) * link.complement(e)));
        expect(Math.abs(link.logWeightSlope(eta) - difference(weight))).toBeLessThan(1e-8);
      }
    }
  });
  test("far out nothing is NaN, infinite or outside [0, 1]", () => {
    for (const link of [logit, cloglog])
      for (const eta of [-1e4, -800, 800, 1e4]) {
        expect(link.inverse(eta)).toBe(eta < 0 ? (link.name === "logit" ? 0 : link.inverse(-700)) : 1);
        for (const value of [link.complement(eta), link.slope(eta), link.curvature(eta), link.logWeightSlope(eta)])
          expect(Number.isFinite(value)).toBe(true);
      }
  });
});

describe("projectedCovariance", () => {
  test("one block, two densities, by hand: slope s2 / Sxx, level s2 (1 / n + xbar^2 / Sxx)", () => {
    const data = prepareData({ density: [1, 1, 3, 3], yield: [0, 0, 0, 0] });
    // n = 4, mean 2, Sxx = 4
    expect(projectedCovariance(data, [data.x], 8)).toEqual([
      [8 * (1 / 4 + 1), -4],
      [-4, 2],
    ]);
    expect(projectedCovariance(data, [], 8)).toEqual([[2]]);
    expect(projectedCovariance(data, [new Float64Array(4).fill(1)], 8)).toBeNull();
    expect(projectedCovariance(data, [data.x, data.x.map((v) => 2 * v)], 8)).toBeNull();
  });
});

describe("what a design cannot carry", () => {
  const status = (family: Parameters<typeof fitCurve>[0], data: Parameters<typeof fitCurve>[1]) =>
    fitCurve(family, data).status;
  test("too few densities: flat 1, linear 2, the others 3", () => {
    const one = { density: [5, 5, 5, 5], yield: [1, 2, 3, 4] };
    const two = { density: [5, 5, 6, 6], yield: [1, 2, 3, 4] };
    const three = { density: [5, 6, 7, 7], yield: [1, 2, 3, 4] };
    expect([status("flat", one), status("linear", one)]).toEqual(["converged", "not-estimable"]);
    expect([status("linear", two), status("quadratic", two)]).toEqual(["converged", "not-estimable"]);
    for (const family of ["quadratic", "linear-plateau", "quadratic-plateau"] as const) {
      expect(status(family, two)).toBe("not-estimable");
      expect(status(family, three)).toBe("converged");
    }
    expect(fitCurve("quadratic", two).reason).toMatch(/at least 3 different densities; these plots have 2/);
  });
  test("fewer plots than coefficients; as many are enough", () => {
    const block = [1, 2, 3];
    expect(status("linear", { density: [1, 2, 3], yield: [1, 2, 3], block })).toBe("not-estimable");
    expect(status("linear", { density: [1, 2], yield: [1, 3] })).toBe("converged");
    expect(fitCurve("linear", { density: [1, 2], yield: [1, 3] })).toMatchObject({
      dofResidual: 0,
      sigma: null,
      vcov: null,
    });
  });
  test("densities that are blocks: singular; two densities a block cannot show a bend", () => {
    const apart = { density: [1, 1, 2, 2, 3, 3], yield: [1, 2, 3, 4, 5, 6], block: [1, 1, 2, 2, 3, 3] };
    expect([status("flat", apart), status("linear", apart)]).toEqual(["converged", "singular"]);
    // blocks 1 and 2 hold densities (1, 2) and (3, 4): within each block u^2 is a line, with slopes 3 and 7 of it, so a bend shows;
    // the same two densities in each block do not show it
    const same = { density: [1, 3, 1, 3, 2, 2], yield: [1, 2, 1, 3, 2, 2], block: [1, 1, 2, 2, 3, 3] };
    expect(status("quadratic", same)).toBe("singular");
    expect(status("linear", same)).toBe("converged");
  });
  test("an unusable fit is refused with its reason", () => {
    const fit = fitCurve("quadratic", { density: [5, 5], yield: [1, 2] });
    for (const use of [() => fittedCurve(fit), () => predictCurve(fit, [1]), () => marginalYield(fit, [1])])
      expect(use).toThrow(
        expect.objectContaining({ code: "not-estimable", message: expect.stringMatching(/quadratic.*at least 3/) }),
      );
  });
});
