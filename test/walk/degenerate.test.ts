import fc from "fast-check";
import { describe, expect, test } from "vitest";
import * as library from "../../src/index.ts";
import { curveWork, degenerateData, type Plots } from "./degenerate.mjs";
import { judge } from "./hostile.mjs";

const slow = process.env["STANDCURVE_SLOW"] === "1";

test.each(degenerateData)("%s: every answer is finite, a status or a refusal", async (_name, data) => {
  const faults: string[] = [];
  for (const [what, work] of curveWork(library, data)) {
    const fault = await judge(work);
    if (fault !== null) faults.push(`${what}: ${fault}`);
  }
  expect(faults).toEqual([]);
});

test("random data of every size, with ties, gaps of magnitude and weights, give finite answers or refusals", async () => {
  const size = fc.oneof(
    fc.double({ min: -1e3, max: 1e3, noNaN: true }),
    fc.integer({ min: -99, max: 99 }).map((e) => 10 ** e),
    fc.constantFrom(0, 1, 30),
  );
  const plot = fc.tuple(size, size, fc.integer({ min: 1, max: 3 }), fc.integer({ min: -6, max: 6 }));
  await fc.assert(
    fc.asyncProperty(fc.array(plot, { maxLength: 9 }), fc.nat(), async (plots, pick) => {
      const data: Plots = {
        density: plots.map(([x]) => x),
        yield: plots.map(([, y]) => y),
        block: plots.map(([, , b]) => b),
        weight: plots.map(([, , , w]) => 10 ** w),
      };
      const works = curveWork(library, data);
      const [what, work] = works[pick % works.length] as (typeof works)[number];
      expect([what, await judge(work)]).toEqual([what, null]);
    }),
    { numRuns: slow ? 5000 : 150, seed: 3 },
  );
});

describe("a change of scale changes the answer by the scale alone", () => {
  const x = [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43];
  const y = [173, 190, 199, 204, 197, 188, 178, 186, 203, 199, 201, 192];
  const block = [1, 1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 2];
  const base = { density: x, yield: y, block };

  // A power of two changes only the exponent of a double, so not a single bit of the rest may change.
  test.each([-60, -3, 1, 40])("exactly, for yields times 2^%i", (power) => {
    const scale = 2 ** power;
    for (const family of library.innerFamilies) {
      const one = library.fitCurve(family, base);
      const other = library.fitCurve(family, { ...base, yield: y.map((value) => value * scale) });
      expect([family, other.curve?.theta.map((value, j) => value / (joinAt(family) === j ? 1 : scale))]).toEqual([
        family,
        [...(one.curve?.theta ?? [])],
      ]);
      expect((other.rss as number) / scale ** 2).toBe(one.rss);
      if (one.status !== "converged") continue;
      const [a, b] = [library.agronomicOptimum(one), library.agronomicOptimum(other)];
      expect([b.kind, b.density]).toEqual([a.kind, a.density]);
    }
  });

  test("for densities: optima move with the unit, flex scores stay", () => {
    for (const unit of [2 ** 10, 2 ** -10, 2.47105381]) {
      const one = library.fitCurve("quadratic", base);
      const other = library.fitCurve("quadratic", { ...base, density: x.map((value) => value * unit) });
      const [a, b] = [library.agronomicOptimum(one), library.agronomicOptimum(other)];
      expect((b.density as number) / unit / (a.density as number)).toBeCloseTo(1, 11);
      const score = (fit: library.CurveFit, by: number): number =>
        library.flexScore(fit, { between: [20 * by, 40 * by] }).score as number;
      expect(score(other, unit)).toBeCloseTo(score(one, 1), 9);
    }
  });

  test("the order of the plots does not matter", () => {
    fc.assert(
      fc.property(
        fc.shuffledSubarray([...x.keys()], { minLength: x.length }),
        fc.constantFrom(...library.allFamilies),
        (order, family) => {
          const take = <T>(list: readonly T[]): T[] => order.map((i) => list[i] as T);
          const one = library.fitCurve(family, base);
          const other = library.fitCurve(family, { density: take(x), yield: take(y), block: take(block) });
          expect(other.status).toBe(one.status);
          // Sums in another order differ in their last digits; smooth families are polished to nine digits or more.
          expect((other.rss as number) / (one.rss as number)).toBeCloseTo(1, 9);
        },
      ),
      { numRuns: slow ? 300 : 40, seed: 5 },
    );
  });
});

/** Place of the join among the parameters: a density, which yields do not scale; -1 without one. */
function joinAt(family: library.InnerFamily): number {
  const names = Object.keys(
    library.fitCurve(family, { density: [1, 2, 3, 4, 5], yield: [1, 2, 3, 3, 3] }).coefficients,
  );
  return names.indexOf("join");
}
