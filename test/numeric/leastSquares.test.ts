import { describe, expect, test } from "vitest";
import { leastSquares } from "../../src/numeric/leastSquares.ts";
import { assertDigits } from "../assertDigits.ts";
import { linearDesign, linearSets } from "./nistSets.ts";

describe("NIST StRD linear sets: parameters, standard errors and sums of squares", () => {
  for (const set of linearSets) {
    // Filip: a polynomial of degree 10 in raw x; the rounding of x^10 alone, times the condition of the design, takes eight
    // digits. The others need nine and reach twelve or more.
    const bar = set.name === "Filip" ? 7 : 9;
    test(`${set.name} to ${bar} digits`, () => {
      const fit = leastSquares(linearDesign(set), set.data["y"]);
      const { parameters, standard_errors, residual_ss, residual_df, residual_standard_deviation } = set.certified;
      expect([fit.status, fit.dofResidual]).toEqual(["converged", residual_df]);
      parameters.forEach((b, j) => void assertDigits(fit.coef[j], b, bar, `coefficient ${j}`));
      standard_errors.forEach((s, j) => void assertDigits(fit.stderror?.[j], s, bar, `standard error ${j}`));
      assertDigits(fit.rss, residual_ss, bar, "rss");
      assertDigits(fit.sigma, residual_standard_deviation, bar, "sigma");
    });
  }
});

const columns = [
  [1, 1, 1, 1, 1, 1],
  [2, 4, 5, 7, 8, 11],
  [3, -1, 4, 1, -5, 9],
];
const y = [3.1, 4.9, 6.3, 8.8, 8.7, 13.2];

describe("leastSquares", () => {
  test("a weight of 3 is the row given three times", () => {
    const weighted = leastSquares(columns, y, { weight: [1, 3, 1, 1, 2, 1] });
    const take = [0, 1, 1, 1, 2, 3, 4, 4, 5];
    const repeated = leastSquares(
      columns.map((c) => take.map((i) => c[i])),
      take.map((i) => y[i]),
    );
    repeated.coef.forEach((b, j) => void assertDigits(weighted.coef[j], b, 13));
    assertDigits(weighted.rss, repeated.rss, 12);
    // three copies share the leverage of the one heavy row
    assertDigits(weighted.leverages[1], 3 * repeated.leverages[1], 12);
  });
  test("a change of units changes the coefficients and nothing else", () => {
    const plain = leastSquares(columns, y);
    const scaled = leastSquares([columns[0], columns[1].map((v) => v * 1e9), columns[2].map((v) => v * 1e-7)], y);
    assertDigits(scaled.coef[1] * 1e9, plain.coef[1], 13);
    assertDigits(scaled.stderror![2] * 1e-7, plain.stderror![2], 13);
    assertDigits(scaled.rss, plain.rss, 13);
  });
  test("leverages sum to the rank and residuals are orthogonal to the design", () => {
    const fit = leastSquares(columns, y);
    assertDigits(
      fit.leverages.reduce((a, b) => a + b),
      3,
      14,
    );
    for (const column of columns)
      expect(Math.abs(column.reduce((sum, v, i) => sum + v * fit.residuals[i], 0))).toBeLessThan(1e-13);
  });
  test("repeated columns give `singular`, the fit all the same, and no standard errors", () => {
    const fit = leastSquares([...columns, columns[1].map((v, i) => 2 * v - 3 * columns[2][i])], y);
    const plain = leastSquares(columns, y);
    expect([fit.status, fit.rank, fit.dropped.length, fit.stderror, fit.vcov]).toEqual(["singular", 3, 1, null, null]);
    assertDigits(fit.rss, plain.rss, 12);
    expect(fit.coef.every(Number.isFinite)).toBe(true);
    const zero = leastSquares([columns[0], [0, 0, 0, 0, 0, 0]], y);
    expect([zero.status, zero.dropped, zero.coef[1]]).toEqual(["singular", [1], 0]);
  });
  test("as many coefficients as rows: no residual degrees of freedom, no standard errors", () => {
    const fit = leastSquares(
      [
        [1, 1],
        [0, 2],
      ],
      [3, 7],
    );
    expect([fit.sigma, fit.stderror, fit.dofResidual, [...fit.coef]]).toEqual([null, null, 0, [3, 2]]);
  });
  test("guards name what is wrong", () => {
    const code = (c: string) => expect.objectContaining({ code: c });
    expect(() => leastSquares([], [1])).toThrow(code("invalid-data"));
    expect(() => leastSquares([[1, 1]], [1])).toThrow(code("length-mismatch"));
    expect(() => leastSquares([[1, Number.NaN]], [1, 2])).toThrow(code("invalid-data"));
    expect(() => leastSquares([[1], [2]], [1])).toThrow(code("not-estimable"));
    expect(() => leastSquares([[1, 1]], [1, 2], { weight: [1, 0] })).toThrow(code("invalid-data"));
    expect(() => leastSquares([[1, 1]], [1, 2], { weight: [1] })).toThrow(code("length-mismatch"));
  });
});
