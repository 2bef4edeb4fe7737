import { describe, expect, test } from "vitest";
import { levenbergMarquardt } from "../../src/numeric/levenbergMarquardt.ts";
import { assertDigits } from "../assertDigits.ts";
import oracle from "../oracle/nist_nonlinear.json" with { type: "json" };
import refinedOracle from "../oracle/nist_nonlinear_refined.json" with { type: "json" };
import { nonlinearProblem } from "./nistSets.ts";

describe("NIST StRD nonlinear sets: parameters and standard errors to 9 digits from both official starts", () => {
  for (const set of oracle.sets) {
    const refined = refinedOracle.sets.find((s) => s.name === set.name);
    for (const [k, start] of [set.start1, set.start2].entries()) {
      test(`${set.name} from start ${k + 1}`, () => {
        const fit = levenbergMarquardt(nonlinearProblem(set.model, set.p, set.data.x, set.data.y), start);
        expect(fit.status).toBe("converged");
        set.certified.parameters.forEach((b, j) => {
          assertDigits(fit.theta[j], b, 9, `certified b${j + 1}`);
          assertDigits(fit.theta[j], refined?.parameters[j] ?? Number.NaN, 10, `refined b${j + 1}`);
        });
        // Lanczos1 is data without error rounded to 14 digits: its sum of squares (1e-25), and with it the standard errors, is
        // what rounding leaves, in NIST's computation as in ours
        if (set.name === "Lanczos1") return expect(fit.rss).toBeLessThan(1e-24);
        set.certified.standard_errors.forEach((b, j) => void assertDigits(fit.stderror?.[j], b, 9, `se of b${j + 1}`));
        assertDigits(fit.rss, set.certified.residual_sum_of_squares, 9, "rss");
      });
    }
  }
});

describe("levenbergMarquardt", () => {
  const x = [1, 2, 3, 5, 8, 12];
  const y = [2.1, 3.4, 4.6, 6.1, 7.2, 7.7];
  const rise = "b1*(1-exp(-b2*x))";

  test("a weight of 2 is the row given twice", () => {
    const weighted = levenbergMarquardt({ ...nonlinearProblem(rise, 2, x, y), weight: [1, 2, 1, 1, 2, 1] }, [5, 0.2]);
    const take = [0, 1, 1, 2, 3, 4, 4, 5];
    const repeated = levenbergMarquardt(
      nonlinearProblem(
        rise,
        2,
        take.map((i) => x[i]),
        take.map((i) => y[i]),
      ),
      [5, 0.2],
    );
    repeated.theta.forEach((b, j) => void assertDigits(weighted.theta[j], b, 12));
    assertDigits(weighted.rss, repeated.rss, 13);
  });
  test("a change of units changes nothing else, however extreme", () => {
    const plain = levenbergMarquardt(nonlinearProblem(rise, 2, x, y), [5, 0.2]);
    const inOtherUnits = levenbergMarquardt(
      nonlinearProblem(
        rise,
        2,
        x.map((v) => v * 1e6),
        y.map((v) => v * 1e-9),
      ),
      [5e-9, 0.2e-6],
    );
    assertDigits(inOtherUnits.theta[0] * 1e9, plain.theta[0], 12);
    assertDigits(inOtherUnits.theta[1] * 1e6, plain.theta[1], 12);
  });
  test("noiseless data are recovered", () => {
    const truth = x.map((v) => 9 * (1 - Math.exp(-0.31 * v)));
    const fit = levenbergMarquardt(nonlinearProblem(rise, 2, x, truth), [3, 1]);
    assertDigits(fit.theta[0], 9, 13);
    assertDigits(fit.theta[1], 0.31, 13);
    expect(fit.status).toBe("converged");
  });
  test("two parameters that only act as a sum give `singular` and no standard errors", () => {
    const fit = levenbergMarquardt(nonlinearProblem("(b1+b2)*x", 2, x, y), [1, 1]);
    expect([fit.status, fit.vcov, fit.stderror]).toEqual(["singular", null, null]);
    const slope = x.reduce((s, v, i) => s + v * y[i], 0) / x.reduce((s, v) => s + v * v, 0);
    assertDigits(fit.theta[0] + fit.theta[1], slope, 9);
  });
  test("too few steps give `iteration-limit` and the best point so far", () => {
    const set = oracle.sets.find((s) => s.name === "MGH10");
    if (!set) throw new Error("MGH10 is missing");
    const fit = levenbergMarquardt(nonlinearProblem(set.model, 3, set.data.x, set.data.y), set.start1, {
      maxIterations: 30,
    });
    expect(fit.status).toBe("iteration-limit");
    expect(fit.theta.every(Number.isFinite)).toBe(true);
  });
  test("no residual degrees of freedom: an exact fit without standard errors", () => {
    const fit = levenbergMarquardt(nonlinearProblem(rise, 2, [1, 5], [2.1, 6.1]), [5, 0.2]);
    expect([fit.status, fit.stderror]).toEqual(["converged", null]);
    expect(fit.rss).toBeLessThan(1e-25);
  });
  test("guards name what is wrong", () => {
    const code = (c: string) => expect.objectContaining({ code: c });
    expect(() => levenbergMarquardt(nonlinearProblem(rise, 2, [1], [1]), [1, 1])).toThrow(code("not-estimable"));
    expect(() => levenbergMarquardt(nonlinearProblem(rise, 2, x, y), [Number.NaN, 1])).toThrow(code("invalid-data"));
    expect(() => levenbergMarquardt({ ...nonlinearProblem(rise, 2, x, y), weight: [1] }, [1, 1])).toThrow(
      code("length-mismatch"),
    );
    expect(() => levenbergMarquardt(nonlinearProblem(rise, 2, x, y), [1, 1], { maxIterations: 0 })).toThrow(
      code("invalid-option"),
    );
  });
});
