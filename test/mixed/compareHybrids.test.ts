import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { compareHybrids } from "../../src/mixed/compareHybrids.ts";
import { familywiseP } from "../../src/mixed/familywise.ts";
import { describeMixed, fitMixedResponse } from "../../src/mixed/fitMixedResponse.ts";
import { fixedTests } from "../../src/mixed/hybridTests.ts";
import { kenwardRoger } from "../../src/mixed/kenwardRoger.ts";
import type { MixedData } from "../../src/mixed/mixedResponse.ts";
import { shrinkHybridCurves } from "../../src/mixed/shrinkHybridCurves.ts";
import { solveMixedResponse } from "../../src/mixed/solveMixedResponse.ts";
import { studentizedRangeUpper } from "../../src/numeric/distributions.ts";
import { assertDigits } from "../assertDigits.ts";
import { oracleJson, oracleRows } from "./sharedData.ts";

const rows = oracleRows("mixedInvented.csv");
const invented: MixedData = {
  density: rows.map((row) => Number(row["density"])),
  yield: rows.map((row) => Number(row["yield"])),
  environment: rows.map((row) => row["environment"]),
  block: rows.map((row) => row["block"]),
  hybrid: rows.map((row) => row["hybrid"]),
};

/** Unbalanced trials with known hybrid curves; the last hybrid is grown in few places. */
function simulate(
  hybrids: number,
  environments: number,
  seed: number,
  spread: number,
): { data: MixedData; truth: number[][] } {
  const random = streamRandom(seed, 0);
  const truth = Array.from({ length: hybrids }, () => [
    10 + spread * random.normal(),
    0.5 + 0.4 * spread * random.normal(),
    -0.9,
  ]);
  const density: number[] = [];
  const yields: number[] = [];
  const environment: string[] = [];
  const block: number[] = [];
  const hybrid: string[] = [];
  for (let e = 0; e < environments; e++) {
    const level = random.normal();
    const slope = 0.3 * random.normal();
    for (let h = 0; h < hybrids; h++) {
      if (h === hybrids - 1 && e > 1) continue;
      const own = 0.2 * random.normal();
      for (let b = 0; b < 2; b++) {
        for (const x of [20, 25, 30, 35, 40]) {
          const z = (x - 30) / 10;
          density.push(x);
          environment.push(`E${e}`);
          block.push(b);
          hybrid.push(`H${h}`);
          yields.push(
            truth[h][0] + level + own + (truth[h][1] + slope) * z + truth[h][2] * z * z + 0.4 * random.normal(),
          );
        }
      }
    }
  }
  return { data: { density, yield: yields, environment, block, hybrid }, truth };
}

describe("compareHybrids", () => {
  test("density x hybrid: Kenward-Roger F over all slopes and curvatures, against dense matrices in R", () => {
    const solution = solveMixedResponse(invented, {
      random: ["intercept", "slope"],
      scaling: { centre: 32, scale: 10 },
    });
    const small = kenwardRoger(solution.model);
    if (small === null) throw new Error("no Kenward-Roger");
    const [shape] = fixedTests(describeMixed(solution, "kenward-roger"), solution, small);
    const want =
      oracleJson<Record<string, { tests: { kr: { f: number; df1: number; df2: number } }[] }>>("mixedDense.json")[
        "invented_hybrid"
      ].tests[1].kr;
    expect(shape.df1).toBe(want.df1);
    assertDigits(shape.f, want.f, 8);
    assertDigits(shape.df2, want.df2, 7);
  });

  const { data } = simulate(4, 6, 3, 1);
  const comparison = compareHybrids(data, { between: [22, 38], draws: 1000 });

  test("probabilities of being best add to one, ranks average (k + 1) / 2, and the same seed gives the same answer", () => {
    assertDigits(
      comparison.hybrids.reduce((sum, { probabilityBest }) => sum + probabilityBest, 0),
      1,
      12,
    );
    assertDigits(comparison.hybrids.reduce((sum, { meanRank }) => sum + meanRank, 0) / 4, 2.5, 12);
    expect(compareHybrids(data, { between: [22, 38], draws: 1000 })).toEqual(comparison);
    expect(JSON.parse(JSON.stringify(comparison))).toEqual(comparison);
  });

  test("differences are antisymmetric sums: a - b plus b - c is a - c", () => {
    for (const list of [comparison.yieldDifferences, comparison.optimumDifferences, comparison.flexDifferences]) {
      const of = (a: string, b: string): number =>
        list.find((pair) => pair.a === a && pair.b === b)?.difference ?? Number.NaN;
      assertDigits(of("H0", "H1") + of("H1", "H2"), of("H0", "H2"), 9);
    }
    for (const { p, adjustedP } of comparison.flexDifferences)
      expect(adjustedP ?? 0).toBeGreaterThanOrEqual((p ?? 1) - 1e-9);
  });

  test("a hybrid far above the rest is best with near certainty, and hybrids that differ are told apart", () => {
    const shifted = { ...data, yield: Array.from(data.yield, (y, i) => (data.hybrid?.[i] === "H2" ? y + 8 : y)) };
    const result = compareHybrids(shifted, { draws: 400 });
    expect(result.hybrids.find(({ hybrid }) => hybrid === "H2")?.probabilityBest).toBeGreaterThan(0.99);
    expect(result.tests.find(({ source }) => source === "hybrid")?.p).toBeLessThan(1e-6);
  });

  test("one hybrid cannot be compared", () => {
    expect(() =>
      compareHybrids({ ...data, hybrid: data.density.length > 0 ? Array.from(data.density, () => "A") : [] }),
    ).toThrow(expect.objectContaining({ code: "not-estimable" }));
  });
});

describe("familywiseP", () => {
  test("interpolated p-values of many pairs agree with the integral to seven digits", () => {
    const pairs = Array.from({ length: 80 }, (_, i) => ({ t: 0.07 * i, dof: 40 }));
    familywiseP(pairs, 13).forEach((p, i) => {
      assertDigits(p, studentizedRangeUpper(pairs[i].t * Math.SQRT2, 13, 40), 7);
    });
  });
});

describe("shrinkHybridCurves", () => {
  const { data, truth } = simulate(8, 6, 11, 0.6);
  const result = shrinkHybridCurves(data);

  test("a hybrid with little data is drawn in more than the others", () => {
    const of = (hybrid: string) => result.hybrids.find((one) => one.hybrid === hybrid);
    expect(of("H7")?.environments).toBe(2);
    for (const { hybrid, shrinkage } of result.hybrids) {
      if (hybrid !== "H7") expect(shrinkage.intercept).toBeLessThan(of("H7")?.shrinkage.intercept ?? 0);
    }
  });

  test("shrunken curves spread less than the raw ones, part by part, and their errors are no larger", () => {
    for (const part of [0, 1, 2]) {
      const spread = (values: number[]): number => {
        const mean = values.reduce((sum, v) => sum + v, 0) / values.length;
        return values.reduce((sum, v) => sum + (v - mean) ** 2, 0);
      };
      const raw = result.hybrids.map((one) => one.raw?.coefficients[part] ?? Number.NaN);
      expect(spread(result.hybrids.map(({ shrunken }) => shrunken.coefficients[part]))).toBeLessThan(spread(raw));
      for (const { raw: own, shrunken } of result.hybrids) {
        expect(shrunken.standardErrors[part]).toBeLessThanOrEqual((own?.standardErrors[part] ?? 0) * 1.001);
      }
    }
  });

  test("the raw curves are those of the fit with a fixed curve per hybrid", () => {
    const fixed = fitMixedResponse(data, { hybrids: "curves" });
    for (const { hybrid, raw } of result.hybrids) {
      const own = fixed.curves.find((curve) => curve.hybrid === hybrid);
      raw?.coefficients.forEach((b, i) => {
        assertDigits(b, own?.coefficients[i] as number, 9);
      });
    }
  });

  test("with true hybrid curves known, shrinking does not lose: squared error of the slopes over eight seeds", () => {
    let raw = 0;
    let shrunken = 0;
    for (let seed = 20; seed < 28; seed++) {
      const trial = simulate(8, 4, seed, 0.4);
      const fitted = shrinkHybridCurves(trial.data);
      fitted.hybrids.forEach((one, h) => {
        raw += ((one.raw?.coefficients[1] ?? 0) - trial.truth[h][1]) ** 2;
        shrunken += (one.shrunken.coefficients[1] - trial.truth[h][1]) ** 2;
      });
    }
    expect(truth).toHaveLength(8);
    expect(shrunken).toBeLessThan(raw);
  });
});
