import { describe, expect, test } from "vitest";
import { curveOf } from "../../src/curves/catalogue.ts";
import { optimumDeviation, optimumError } from "../../src/plan/optimumError.ts";
import { trueOptimum } from "../../src/plan/truthCurves.ts";
import { assertDigits } from "../assertDigits.ts";

/** 200 - 0.08 (x - 34)^2, in bu/ac and thousand plants per acre. */
const quadratic34 = { family: "quadratic", theta: [200 - 0.08 * 34 ** 2, 2 * 0.08 * 34, -0.08] } as const;

/** Inverse by Gauss-Jordan with pivoting. */
function inverse(a: readonly (readonly number[])[]): number[][] {
  const n = a.length;
  const work = a.map((row, i) => [...row, ...Array.from({ length: n }, (_, j) => (i === j ? 1 : 0))]);
  for (let c = 0; c < n; c++) {
    let pivot = c;
    for (let r = c; r < n; r++) if (Math.abs(work[r][c]) > Math.abs(work[pivot][c])) pivot = r;
    [work[c], work[pivot]] = [work[pivot], work[c]];
    const head = work[c][c];
    work[c] = work[c].map((value) => value / head);
    for (let r = 0; r < n; r++) {
      if (r === c) continue;
      const f = work[r][c];
      work[r] = work[r].map((value, k) => value - f * work[c][k]);
    }
  }
  return work.map((row) => row.slice(n));
}

/** The same standard error from the full design matrix of blocks and numerical derivatives of curve and optimum. */
function plainError(
  densities: readonly number[],
  blocks: number,
  family: "quadratic" | "linear-plateau" | "quadratic-plateau",
  theta: readonly number[],
  sigma: number,
  r: number,
): number {
  const { mean } = curveOf(family);
  const step = (j: number): number => 1e-6 * Math.abs(theta[j]);
  const moved = (j: number, d: number): number[] => theta.map((value, i) => (i === j ? value + d : value));
  const derivative = (f: (t: readonly number[]) => number, j: number): number =>
    (f(moved(j, step(j))) - f(moved(j, -step(j)))) / (2 * step(j));
  const rows = Array.from({ length: blocks }, (_, b) =>
    densities.map((x) => [
      ...Array.from({ length: blocks }, (_, k) => (k === b ? 1 : 0)),
      derivative((t) => mean(x, t), 1),
      derivative((t) => mean(x, t), 2),
    ]),
  ).flat();
  const p = blocks + 2;
  const information = Array.from({ length: p }, (_, i) =>
    Array.from({ length: p }, (_, j) => rows.reduce((sum, row) => sum + row[i] * row[j], 0)),
  );
  const covariance = inverse(information);
  const c = Array.from({ length: p }, (_, i) =>
    i < blocks
      ? 0
      : derivative((t) => trueOptimum({ family, theta: t, weight: 1 }, r).density as number, i - blocks + 1),
  );
  let variance = 0;
  for (let i = 0; i < p; i++) for (let j = 0; j < p; j++) variance += c[i] * covariance[i][j] * c[j];
  return sigma * Math.sqrt(variance);
}

describe("standard error of the optimum", () => {
  // Design arithmetic for a quadratic with b2 = -0.08, sigma 5 bu/ac, 4 replicates, optimum at 34 thousand: three digits.
  test.each([
    [[24, 28, 32, 36], 4.28],
    [[22, 28, 34, 40], 1.75],
    [[18, 23, 28, 33, 38, 43], 1.03],
  ])("is that of the published design arithmetic for %j", (densities, expected) => {
    expect(optimumError(densities, 4, quadratic34, 5)?.toFixed(2)).toBe(expected.toFixed(2));
  });

  test("follows the closed form of the quadratic: sigma^2 (v00 + 2 x0 v01 + x0^2 v11) over (2 b2)^2", () => {
    const x = [18, 23, 28, 33, 38, 43];
    const u = x.map((value) => value - 34);
    const mean = (list: readonly number[]): number => list.reduce((sum, value) => sum + value, 0) / list.length;
    const [m1, m2] = [mean(u), mean(u.map((value) => value * value))];
    const s11 = u.reduce((sum, value) => sum + (value - m1) ** 2, 0);
    const s12 = u.reduce((sum, value) => sum + (value - m1) * (value ** 2 - m2), 0);
    const s22 = u.reduce((sum, value) => sum + (value ** 2 - m2) ** 2, 0);
    // Measured from the optimum itself, only the variance of the linear term counts.
    const variance = ((25 / 4) * (s22 / (s11 * s22 - s12 * s12))) / (2 * 0.08) ** 2;
    assertDigits(optimumDeviation(x, 4, quadratic34, 5), Math.sqrt(variance), 11);
  });

  test("is that of the full design matrix with block columns, for every family, with and without price", () => {
    const cases = [
      ["quadratic", [200 - 0.08 * 34 ** 2, 2 * 0.08 * 34, -0.08]],
      ["quadratic-plateau", [198, 0.1, 33.3]],
      ["linear-plateau", [195, 1.2, 30.7]],
    ] as const;
    // Numerical derivatives of second order with steps of 1e-6 carry about 7 digits.
    for (const [family, theta] of cases)
      for (const r of [0, 0.6])
        for (const densities of [
          [18, 23, 28, 33, 38, 43],
          [20, 24, 31, 45],
        ])
          assertDigits(
            optimumDeviation(densities, 4, { family, theta }, 5, r),
            plainError(densities, 4, family, theta, 5, r),
            6,
          );
  });

  test("does not exist where the design cannot tell the optimum", () => {
    expect(optimumError([34, 38, 42, 46], 4, { family: "linear-plateau", theta: [195, 1.2, 30] }, 5)).toBeNull();
    expect(optimumError([20, 40], 4, quadratic34, 5)).toBeNull();
    expect(optimumError([20, 30, 40], 4, { family: "flat", theta: [195] }, 5)).toBeNull();
  });
});
