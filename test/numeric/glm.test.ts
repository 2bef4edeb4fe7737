import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import {
  type Criterion,
  factorise,
  inverseSymmetric,
  logDeterminant,
  maximise,
  quadraticForm,
  solveFactored,
} from "../../src/numeric/glm.ts";
import { assertDigits } from "../assertDigits.ts";

/** -1/2 (t - centre)' A (t - centre), a hill whose top and slopes are known. */
function hill(a: readonly number[], centre: readonly number[], nonNegative?: number): Criterion {
  const p = centre.length;
  return {
    size: p,
    ...(nonNegative === undefined ? {} : { nonNegative }),
    evaluate(theta, gradient, information) {
      const away = centre.map((c, j) => theta[j] - c);
      let value = 0;
      for (let i = 0; i < p; i++) {
        let slope = 0;
        for (let j = 0; j < p; j++) slope += a[i * p + j] * away[j];
        value -= (away[i] * slope) / 2;
        if (gradient) gradient[i] = -slope;
      }
      information?.set(a);
      return value;
    },
  };
}

const spread = [4, 1, 1, 3];

describe("maximise", () => {
  test("reaches the top of a quadratic hill in one step, and says so at the second", () => {
    const start = Float64Array.of(10, -7);
    const top = maximise(hill(spread, [1, 2]), start);
    expect(top.status).toBe("converged");
    expect(top.iterations).toBe(2);
    assertDigits(top.theta[0], 1, 14);
    assertDigits(top.theta[1], 2, 14);
    expect(Math.abs(top.value)).toBeLessThan(1e-25);
    expect(Array.from(top.information)).toEqual(spread);
    expect(Array.from(start)).toEqual([10, -7]);
  });

  test("on a straight line it finds the point of Lagrange", () => {
    // Maximise -(4 a^2 + 2 a b + 3 b^2) / 2 on a + b = 1: 4 a + b = a + 3 b, so a = 2 / 5, b = 3 / 5, value -23 / 25 + ...
    const constraint = {
      gradient: (_: Float64Array, out: Float64Array) => void out.fill(1),
      restore: (theta: Float64Array) => {
        const miss = (1 - theta[0] - theta[1]) / 2;
        theta[0] += miss;
        theta[1] += miss;
      },
    };
    const best = maximise(hill(spread, [0, 0]), Float64Array.of(5, 9), { constraint });
    expect(best.status).toBe("converged");
    assertDigits(best.theta[0], 0.4, 13);
    assertDigits(best.theta[1], 0.6, 13);
    assertDigits(best.value, -(4 * 0.16 + 2 * 0.24 + 3 * 0.36) / 2, 13);
  });

  test("on a circle it needs the curvature and finds the nearest point", () => {
    // The point of the circle x^2 + y^2 = 25 nearest to (6, 8) is (3, 4), at distance 5.
    const constraint = {
      gradient: (t: Float64Array, out: Float64Array) => void out.set([2 * t[0], 2 * t[1]]),
      addCurvature: (_: Float64Array, multiplier: number, out: Float64Array) => {
        out[0] += 2 * multiplier;
        out[3] += 2 * multiplier;
      },
      restore: (t: Float64Array) => {
        const shrink = 5 / Math.hypot(t[0], t[1]);
        t[0] *= shrink;
        t[1] *= shrink;
      },
    };
    const best = maximise(hill([1, 0, 0, 1], [6, 8]), Float64Array.of(0, 5), { constraint });
    expect(best.status).toBe("converged");
    assertDigits(best.theta[0], 3, 12);
    assertDigits(best.theta[1], 4, 12);
    assertDigits(best.value, -12.5, 13);
    expect(best.iterations).toBeLessThan(9); // quadratic convergence: the curvature is right
  });

  test("a parameter that must not fall below 0 rests there, and the others adjust", () => {
    // The free top is (1, -2); at b = 0: 4 (a - 1) + 1 * 2 = 0, a = 0.5
    const best = maximise(hill(spread, [1, -2], 1), Float64Array.of(3, 1));
    expect(best.status).toBe("converged");
    assertDigits(best.theta[0], 0.5, 13);
    expect(best.theta[1]).toBe(0);
    // a top inside the allowed side is reached although the search starts on the bound
    const inside = maximise(hill(spread, [1, 2], 1), Float64Array.of(-8, 0));
    assertDigits(inside.theta[0], 1, 13);
    assertDigits(inside.theta[1], 2, 13);
  });

  test("climbs where the information is not definite: the top of cos x + cos y nearest to a saddle", () => {
    const waves: Criterion = {
      size: 2,
      evaluate(t, gradient, information) {
        gradient?.set([-Math.sin(t[0]), -Math.sin(t[1])]);
        information?.set([Math.cos(t[0]), 0, 0, Math.cos(t[1])]);
        return Math.cos(t[0]) + Math.cos(t[1]);
      },
    };
    const best = maximise(waves, Float64Array.of(2.5, 0.4));
    expect(best.status).toBe("converged");
    assertDigits(best.value, 2, 13);
    for (const t of best.theta) expect(Math.abs(Math.sin(t))).toBeLessThan(1e-9);
  });

  test("says `iteration-limit` when the steps run out and `singular` where there is nothing to climb", () => {
    const quartic: Criterion = {
      size: 1,
      evaluate(t, gradient, information) {
        if (gradient) gradient[0] = -4 * t[0] ** 3;
        if (information) information[0] = 12 * t[0] ** 2;
        return -(t[0] ** 4);
      },
    };
    const short = maximise(quartic, Float64Array.of(1), { maxIterations: 3 });
    expect(short).toMatchObject({ status: "iteration-limit", iterations: 3 });
    assertDigits(short.theta[0], (2 / 3) ** 3, 13); // Newton on x^4 leaves two thirds
    const nowhere = (value: number): Criterion => ({ size: 1, evaluate: () => value });
    expect(maximise(nowhere(Number.NaN), Float64Array.of(0))).toMatchObject({ status: "singular", iterations: 0 });
    expect(maximise(nowhere(1), Float64Array.of(0))).toMatchObject({ status: "singular", iterations: 1 });
  });
});

describe("small symmetric matrices", () => {
  // [[4, 2, 0.6], [2, 5, 1], [0.6, 1, 3]]: determinant 4 (15 - 1) - 2 (6 - 0.6) + 0.6 (2 - 3) = 44.6
  const a = [4, 2, 0.6, 2, 5, 1, 0.6, 1, 3];
  test("factor, determinant and inverse by cofactors", () => {
    const factor = Float64Array.from(a);
    expect(factorise(factor, 3)).toBe(true);
    assertDigits(Math.exp(logDeterminant(factor, 3)), 44.6, 14);
    const cofactors = [14, -5.4, -1, -5.4, 11.64, -2.8, -1, -2.8, 16];
    inverseSymmetric(Float64Array.from(a), 3)?.forEach((v, i) => void assertDigits(v, cofactors[i] / 44.6, 13));
    const b = Float64Array.of(1, 2, 3);
    solveFactored(factor, 3, b);
    [14 - 10.8 - 3, -5.4 + 23.28 - 8.4, -1 - 5.6 + 48].forEach((v, i) => void assertDigits(b[i], v / 44.6, 12));
  });
  test("no factor of a singular, an indefinite or an infinite matrix", () => {
    for (const bad of [
      [1, 1, 1, 1],
      [1, 2, 2, 1],
      [-1, 0, 0, 1],
      [Infinity, 0, 0, 1],
      [0, 0, 0, 0],
      [Number.NaN, 0, 0, 1],
    ]) {
      expect(factorise(Float64Array.from(bad), 2)).toBe(false);
      expect(inverseSymmetric(Float64Array.from(bad), 2)).toBeNull();
    }
  });
  test("g' V g: 2 * 1 + 3 * 4 + 2 * 1 * 1 * 2 = 18 for V = [[2, 1], [1, 3]], g = (1, 2)", () =>
    expect(quadraticForm([2, 1, 1, 3], 2, [1, 2])).toBe(18));
  test("random matrices times their inverses are the identity", () => {
    const random = streamRandom(3, 0);
    const p = 5;
    const half = Float64Array.from({ length: p * p }, () => random.normal());
    const full = Float64Array.from({ length: p * p }, (_, k) => {
      const [i, j] = [Math.floor(k / p), k % p];
      let sum = i === j ? 1 : 0;
      for (let r = 0; r < p; r++) sum += half[i * p + r] * half[j * p + r];
      return sum;
    });
    const inverse = inverseSymmetric(full, p) as Float64Array;
    for (let i = 0; i < p; i++)
      for (let j = 0; j < p; j++) {
        let sum = 0;
        for (let r = 0; r < p; r++) sum += full[i * p + r] * inverse[r * p + j];
        expect(Math.abs(sum - (i === j ? 1 : 0))).toBeLessThan(1e-12);
      }
  });
});
