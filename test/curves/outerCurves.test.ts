import { describe, expect, test } from "vitest";
import { exponential } from "../../src/curves/exponential.ts";
import { lambertW } from "../../src/curves/lambertW.ts";
import { mitscherlich } from "../../src/curves/mitscherlich.ts";
import { parabolicReciprocal } from "../../src/curves/parabolicReciprocal.ts";
import { reciprocal } from "../../src/curves/reciprocal.ts";
import { assertDigits } from "../assertDigits.ts";

const samples = [
  {
    curve: exponential,
    thetas: [
      [-0.25, -0.145],
      [0.4, 0.01],
      [1, 0],
    ],
  },
  {
    curve: reciprocal,
    thetas: [
      [0.05, 0.004],
      [0.05, -0.001],
      [-0.01, 0.02],
      [0, 0.02],
    ],
  },
  {
    curve: parabolicReciprocal,
    thetas: [
      [0.002, 9e-5, 4e-6],
      [2.87, -0.6, 0.0988],
      [0.05, 0.004, 0],
      [0.05, 0.004, -1e-5],
      [-0.001, 0.01, 1e-4],
    ],
  },
  {
    curve: mitscherlich,
    thetas: [
      [200, 150, 0.08],
      [200, -50, 0.08],
      [100, -3, -0.03],
      [100, 3, -0.03],
    ],
  },
];
const densities = [2, 3.7, 6, 11, 19.5];

describe("derivatives of the outer curves agree with central differences", () => {
  for (const { curve, thetas } of samples) {
    for (const theta of thetas) {
      test(`${curve.name} ${theta.join(", ")}`, () => {
        const gradient = new Float64Array(theta.length);
        for (const x of densities) {
          // h = 1e-5 x: rounding and truncation meet near ten digits; seven are asked, of the size of the mean
          const h = 1e-5 * x;
          const size = Math.abs(curve.mean(x, theta));
          const slope = (curve.mean(x + h, theta) - curve.mean(x - h, theta)) / (2 * h);
          expect(Math.abs(curve.slope(x, theta) - slope) * x).toBeLessThan(1e-7 * size);
          const curvature = (curve.slope(x + h, theta) - curve.slope(x - h, theta)) / (2 * h);
          expect(Math.abs(curve.curvature(x, theta) - curvature) * x * x).toBeLessThan(1e-7 * size);
          curve.gradient(x, theta, gradient);
          theta.forEach((t, j) => {
            const step = 1e-5 * (Math.abs(t) || 1e-3);
            const at = (shift: number) =>
              curve.mean(
                x,
                theta.map((v, k) => (k === j ? v + shift : v)),
              );
            const difference = (at(step) - at(-step)) / (2 * step);
            expect(Math.abs(gradient[j] - difference)).toBeLessThan(1e-7 * Math.max(Math.abs(difference), size));
          });
        }
      });
    }
  }
});

describe("the optimum is what a dense search finds", () => {
  for (const { curve, thetas } of samples) {
    test(curve.name, () => {
      for (const theta of thetas) {
        for (const [low, high] of [
          [2, 20],
          [4, 7],
          [9, 30],
          [5, 5],
        ]) {
          for (const r of [0, 1e-4, 0.01, 0.05, 0.3, 2, 30]) {
            if (curve.name.endsWith("reciprocal") && curve.mean(high, theta) < 0) continue; // beyond a pole
            const gain = (x: number) => curve.mean(x, theta) - r * x;
            const found = curve.optimum(theta, low, high, r);
            let best = low;
            for (let i = 0; i <= 4000; i++) {
              const x = low + ((high - low) * i) / 4000;
              if (gain(x) > gain(best)) best = x;
            }
            const what = `${curve.name} ${theta} on [${low}, ${high}], r = ${r}`;
            expect(gain(found.density), what).toBeGreaterThanOrEqual(gain(best) - 1e-12 * Math.abs(gain(best)));
            // on a single density either end is a fair name
            if (high > low) {
              const end = found.density === low ? "lower-edge" : found.density === high ? "upper-edge" : "interior";
              expect(found.kind, what).toBe(end);
            }
            if (found.kind === "interior")
              expect(Math.abs(curve.slope(found.density, theta) - r), what).toBeLessThan(
                1e-9 * (r + Math.abs(gain(best))),
              );
          }
        }
      }
    });
  }
  test("two humps of the parabolic reciprocal net of a cost: the better one wins", () => {
    // b < 0 makes the rise sigmoid, so that the lowest density can beat a stationary point
    const theta = [1, -0.38, 0.04];
    for (const r of [0.2, 0.5, 0.8, 1, 1.2]) {
      const gain = (x: number) => parabolicReciprocal.mean(x, theta) - r * x;
      const found = parabolicReciprocal.optimum(theta, 0.1, 12, r);
      for (let x = 0.1; x <= 12; x += 0.01) expect(gain(found.density)).toBeGreaterThanOrEqual(gain(x) - 1e-12);
    }
  });
});

describe("closed forms, values computed with other software (numpy and R)", () => {
  // common agronomic examples, six to seven digits printed
  test("exponential: y = a x k^x with a = 0.7819253142, k = 0.8646298643 (Carmer & Jackobs 1965, hybrid 1)", () => {
    const theta = [Math.log(0.7819253142), Math.log(0.8646298643)];
    assertDigits(exponential.optimum(theta, 2, 8, 0).density, 6.875037, 6.5);
    assertDigits(exponential.optimum(theta, 2, 8, 0.0466667).density, 5.90628, 6.5);
    assertDigits(exponential.mean(6.875037, theta), 1.977634, 6.5);
    expect(exponential.optimum(theta, 2, 6, 0)).toEqual({ kind: "upper-edge", density: 6 });
    expect(exponential.optimum(theta, 2, 8, 1)).toEqual({ kind: "lower-edge", density: 2 });
  });
  test("reciprocal: a = 0.05, b = 0.004, r = 0.833333", () => {
    assertDigits(reciprocal.optimum([0.05, 0.004], 1, 100, 0.8333333333).density, 48.73724, 6.5);
    expect(reciprocal.optimum([0.05, 0.004], 1, 100, 0).kind).toBe("upper-edge");
  });
  test("parabolic reciprocal: a = 0.002, b = 9e-5, c = 4e-8", () => {
    const { kind, density } = parabolicReciprocal.optimum([0.002, 9e-5, 4e-8], 50, 400, 0);
    expect(kind).toBe("interior");
    assertDigits(density, 223.6068, 6.5);
    assertDigits(parabolicReciprocal.mean(density, [0.002, 9e-5, 4e-8]), 9268.825, 6.5);
  });
  test("Mitscherlich: a = 200, b = 150, c = 0.08, r = 0.833333", () => {
    assertDigits(mitscherlich.optimum([200, 150, 0.08], 1, 100, 0.8333333333).density, 33.34035, 6.5);
  });
});

describe("lambertW", () => {
  test("inverts w exp(w) from the branch point to 1e300", () => {
    for (const w of [-0.999, -0.9, -0.5, -0.1, -1e-10, 1e-10, 0.1, 0.567, 1, 2, 10, 100, 680]) {
      // near the branch point w loses half its digits by nature: z is flat there
      assertDigits(lambertW(w * Math.exp(w)), w, w < -0.99 ? 10 : 13, `w = ${w}`);
    }
    expect([lambertW(0), lambertW(-0.36787944117144233)]).toEqual([0, -1]);
  });
  test("the omega constant, W(1) = 0.5671432904097838730", () => assertDigits(lambertW(1), 0.567143290409783873, 15));
  test("refuses what has no real value", () => {
    for (const z of [-0.4, Number.NaN, Infinity])
      expect(() => lambertW(z)).toThrow(expect.objectContaining({ code: "invalid-option" }));
  });
});
