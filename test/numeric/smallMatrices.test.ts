import { describe, expect, test } from "vitest";
import {
  factorCholesky,
  invertFromCholesky,
  logDeterminant,
  solveLower,
  solveLowerTransposed,
} from "../../src/numeric/cholesky.ts";
import { identity, multiply, multiplyTransposed, traceProduct } from "../../src/numeric/matrix.ts";
import { extendBasis, projectedSquares } from "../../src/numeric/orthogonalBasis.ts";
import { symmetricEigen } from "../../src/numeric/symmetricEigen.ts";
import { minimiseNewton } from "../../src/numeric/trustNewton.ts";
import { assertDigits } from "../assertDigits.ts";

// The Hilbert matrix of order 4: determinant 1/6048000, inverse of whole numbers (Choi 1983, Amer. Math. Monthly 90, 301-312).
const hilbert = Float64Array.from({ length: 16 }, (_, i) => 1 / (Math.floor(i / 4) + (i % 4) + 1));
const inverse = [16, -120, 240, -140, -120, 1200, -2700, 1680, 240, -2700, 6480, -4200, -140, 1680, -4200, 2800];

describe("factorCholesky", () => {
  test("inverts the Hilbert matrix of order 4 and finds its determinant", () => {
    const l = hilbert.slice();
    expect(factorCholesky(l, 4)).toBe(true);
    invertFromCholesky(l, 4).forEach((value, i) => {
      assertDigits(value, inverse[i], 11); // condition number 1.6e4
    });
    assertDigits(Math.exp(logDeterminant(l, 4)), 1 / 6048000, 11);
  });
  test("says no to singular and indefinite matrices", () => {
    expect(factorCholesky(Float64Array.of(1, 1, 1, 1), 2)).toBe(false);
    expect(factorCholesky(Float64Array.of(1, 2, 2, 1), 2)).toBe(false);
    expect(factorCholesky(Float64Array.of(Number.NaN), 1)).toBe(false);
  });
  test("both triangular solves undo their products", () => {
    const l = hilbert.slice();
    factorCholesky(l, 4);
    const b = Float64Array.of(1, 2, 3, 4, 5, 6, 7, 8);
    const forward = multiply(l, b, 4, 4, 2);
    solveLower(l, 4, forward, 2);
    const backward = multiplyTransposed(l, b, 4, 4, 2);
    solveLowerTransposed(l, 4, backward, 2);
    b.forEach((value, i) => {
      assertDigits(forward[i], value, 11);
      assertDigits(backward[i], value, 11);
    });
  });
});

describe("symmetricEigen", () => {
  test("gives 2 - 2 cos(k pi / 5) for the second-difference matrix of order 4", () => {
    const a = Float64Array.from({ length: 16 }, (_, i) => {
      const gap = Math.abs(Math.floor(i / 4) - (i % 4));
      return gap === 0 ? 2 : gap === 1 ? -1 : 0;
    });
    const { values, vectors } = symmetricEigen(a, 4);
    [4, 3, 2, 1].forEach((k, j) => {
      assertDigits(values[j], 2 - 2 * Math.cos((k * Math.PI) / 5), 13);
    });
    const gram = multiplyTransposed(vectors, vectors, 4, 4, 4);
    identity(4).forEach((value, i) => {
      expect(Math.abs(gram[i] - value)).toBeLessThan(1e-13);
    });
    assertDigits(traceProduct(a, identity(4), 4), 8, 14);
  });
});

describe("extendBasis", () => {
  test("adds only what is new, and keeps the squared length", () => {
    const one = Float64Array.of(1, 1, 1, 1);
    const first = extendBasis([], [one, one.map((v) => 2 * v)]);
    expect(first).toHaveLength(1);
    const more = extendBasis(first, [
      Float64Array.of(1, 0, 0, 0),
      Float64Array.of(0, 1, 1, 1),
      Float64Array.of(0, 1, 0, 0),
    ]);
    expect(more).toHaveLength(2);
    const rest = extendBasis([...first, ...more], [Float64Array.of(0, 0, 1, 0)]);
    const y = Float64Array.of(3, 1, 4, 1.5);
    assertDigits(projectedSquares([...first, ...more, ...rest], y), 9 + 1 + 16 + 2.25, 13);
  });
});

describe("minimiseNewton", () => {
  test("finds the minimum of Rosenbrock's function from the usual start", () => {
    const result = minimiseNewton(
      ([x, y]) => ({
        value: 100 * (y - x * x) ** 2 + (1 - x) ** 2,
        derivatives: () => ({
          gradient: Float64Array.of(-400 * x * (y - x * x) - 2 * (1 - x), 200 * (y - x * x)),
          hessian: Float64Array.of(1200 * x * x - 400 * y + 2, -400 * x, -400 * x, 200),
        }),
      }),
      Float64Array.of(-1.2, 1),
    );
    expect(result?.converged).toBe(true);
    assertDigits(result?.x[0], 1, 10);
    assertDigits(result?.x[1], 1, 10);
  });
  test("leaves a saddle", () => {
    // x^4 / 4 - x^2 / 2 + y^2: a saddle at 0, minima at x = 1 and -1.
    const result = minimiseNewton(
      ([x, y]) => ({
        value: x ** 4 / 4 - (x * x) / 2 + y * y,
        derivatives: () => ({
          gradient: Float64Array.of(x ** 3 - x, 2 * y),
          hessian: Float64Array.of(3 * x * x - 1, 0, 0, 2),
        }),
      }),
      Float64Array.of(0.01, 1),
    );
    assertDigits(Math.abs(result?.x[0] ?? 0), 1, 10);
  });
});
