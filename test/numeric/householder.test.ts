import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import {
  applyQ,
  applyTranspose,
  factorise,
  inverseCrossproduct,
  norm,
  solveLower,
  solveUpper,
} from "../../src/numeric/householder.ts";
import { assertDigits } from "../assertDigits.ts";

describe("norm", () => {
  test("3, 4, 12 has length 13, without overflow or underflow, from an index on", () => {
    assertDigits(norm([3, -4, 12]), 13, 15);
    assertDigits(norm([3e200, -4e200]), 5e200, 15);
    assertDigits(norm([3e-200, 4e-200]), 5e-200, 15);
    assertDigits(norm([100, 5, 12], 1), 13, 15);
    expect([norm([]), norm([0, 0]), norm([7, 0], 1)]).toEqual([0, 0, 0]);
  });
});

/** Columns of very different length, in an order that pivoting must change. */
function columnsOf(n: number, p: number, stream: number): number[][] {
  const random = streamRandom(23, stream);
  return Array.from({ length: p }, (_, j) => Array.from({ length: n }, () => 10 ** (j * 3 - 4) * random.normal()));
}

describe("factorise", () => {
  test("Q R gives the scaled, pivoted columns back", () => {
    for (let s = 0; s < 10; s++) {
      const columns = columnsOf(7, 4, s);
      const f = factorise(columns, 1e-12);
      expect([f.n, f.p, f.rank]).toEqual([7, 4, 4]);
      expect([...f.pivot].sort()).toEqual([0, 1, 2, 3]);
      for (let k = 0; k < 4; k++) {
        const back = new Float64Array(7);
        for (let i = 0; i <= k; i++) back[i] = f.qr[k][i];
        applyQ(f, back);
        const input = columns[f.pivot[k]];
        back.forEach((v, i) => void assertDigits(v, input[i] * f.scale[f.pivot[k]], 11));
        expect(Number.isInteger(Math.log2(f.scale[k]))).toBe(true);
        expect(norm(columns[k]) * f.scale[k]).toBeGreaterThan(0.7);
        expect(norm(columns[k]) * f.scale[k]).toBeLessThan(1.42);
      }
    }
  });
  test("pivots by the longest remainder: the diagonal of R does not grow", () => {
    for (let s = 0; s < 20; s++) {
      const f = factorise(columnsOf(6, 5, s), 1e-12);
      for (let k = 1; k < 5; k++) expect(Math.abs(f.qr[k][k])).toBeLessThanOrEqual(Math.abs(f.qr[k - 1][k - 1]));
    }
  });
  test("applyQ undoes applyTranspose and keeps lengths", () => {
    const f = factorise(columnsOf(6, 3, 1), 1e-12);
    const v = Float64Array.of(1, -2, 3, 4, -5, 6);
    const turned = v.slice();
    applyTranspose(f, turned);
    assertDigits(norm(turned), Math.sqrt(91), 14);
    applyQ(f, turned);
    v.forEach((value, i) => void assertDigits(turned[i], value, 13));
  });
  test("solveUpper solves R z = t, solveLower R' z = t", () => {
    const f = factorise(columnsOf(6, 4, 2), 1e-12);
    const t = [1, -2, 3, 5];
    const [up, down] = [Float64Array.from(t), Float64Array.from(t)];
    solveUpper(f, up);
    solveLower(f, down);
    for (let i = 0; i < 4; i++) {
      let [upper, lower] = [0, 0];
      for (let j = i; j < 4; j++) upper += f.qr[j][i] * up[j];
      for (let j = 0; j <= i; j++) lower += f.qr[i][j] * down[j];
      assertDigits(upper, t[i], 12);
      assertDigits(lower, t[i], 12);
    }
  });
  test("a repeated column adds nothing, nor does a column of zeros", () => {
    const f = factorise(
      [
        [1, 2, 3],
        [2, 4, 6],
        [0, 0, 0],
        [1, 0, 0],
      ],
      1e-12,
    );
    expect(f.rank).toBe(2);
    expect(f.scale[2]).toBe(1);
    expect(factorise([[0, 0]], 1e-12).rank).toBe(0);
    expect(factorise([], 1e-12)).toMatchObject({ n: 0, p: 0, rank: 0 });
  });
  test("inverse of the Hilbert cross-product: whole numbers (Choi 1983, Amer. Math. Monthly 90, 301-312)", () => {
    // Its Cholesky factor's columns as a matrix: X'X is the Hilbert matrix of order 3, columns sqrt(2k + 1) times shifted
    // Legendre moments; the inverse is [[9, -36, 30], [-36, 192, -180], [30, -180, 180]].
    const l = [
      [1, 0, 0],
      [1 / 2, Math.sqrt(1 / 12), 0],
      [1 / 3, 1 / Math.sqrt(12), 1 / Math.sqrt(180)],
    ];
    const inverse = [9, -36, 30, -36, 192, -180, 30, -180, 180];
    inverseCrossproduct(factorise(l, 1e-14)).forEach(
      (row, i) => void row.forEach((v, j) => void assertDigits(v, inverse[3 * i + j], 11)),
    );
  });
});
