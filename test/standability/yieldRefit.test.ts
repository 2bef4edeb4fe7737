import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { innerFamilies } from "../../src/curves/family.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { fittedCurve } from "../../src/fit/fittedCurve.ts";
import { chosenCurve, yieldRefit } from "../../src/standability/yieldRefit.ts";

// Oracle: the exact fit of every family with the choice among them (`fitCurve`'s own path, held to R in test/fit), and for
// optima a search on a grid of 4,000 cells.
const density = [18, 23, 28, 33, 38, 43].flatMap((x) => [x, x, x, x]);
const block = density.map((_, i) => i % 4);
const curves: Record<string, (x: number) => number> = {
  flat: () => 200,
  rising: (x) => 150 + 1.2 * x,
  humped: (x) => 210 - 0.09 * (x - 31) ** 2,
  "levelling off": (x) => 205 - 0.2 * Math.max(32 - x, 0) ** 2,
  broken: (x) => 205 - 2.4 * Math.max(29 - x, 0),
};

describe("refits of yield inside the harvest bootstrap", () => {
  test.each(Object.entries(curves))("%s: curve and optima are those of the exact fits", (_, truth) => {
    const random = streamRandom(5, 0);
    const noise = (): number => 8 * (random.next() + random.next() + random.next() - 1.5);
    const data = prepareData({ density, yield: density.map((x) => truth(x) + noise()), block });
    const base = chosenCurve(data, innerFamilies);
    if (base === null) throw new Error("no fit");
    const refit = yieldRefit(data, innerFamilies, base, [20, 40]);
    for (let r = 0; r < 40; r++) {
      const y = Float64Array.from(density, (x) => truth(x) + noise());
      const fit = chosenCurve({ ...data, y }, innerFamilies);
      if (fit === null) throw new Error("no fit");
      const exact = fittedCurve(fit);
      const found = refit(y);
      for (let x = 18; x <= 43; x += 0.5) expect(Math.abs(found.mean(x) - exact.mean(x))).toBeLessThan(1e-6);
      for (const ratio of [0, 0.8]) {
        const at = found.optimum(ratio);
        if (ratio === 0 && fit.curve?.family === "flat") {
          expect(at).toBeNaN();
          continue;
        }
        const best = Math.max(
          ...Array.from({ length: 4001 }, (_, i) => found.mean(20 + i / 200) - ratio * (20 + i / 200)),
        );
        // A grid this fine misses the top by next to nothing, so the optimum must not lie below it.
        expect(found.mean(at) - ratio * at).toBeGreaterThan(best - 1e-9);
        expect(at).toBeGreaterThanOrEqual(20);
        expect(at).toBeLessThanOrEqual(40);
      }
    }
  });

  test("with a smooth family in the list each is fitted as fitCurve does", () => {
    const data = prepareData({ density, yield: density.map((x, i) => curves.humped(x) + ((i * 7) % 5)), block });
    const families = ["quadratic", "mitscherlich"] as const;
    const base = chosenCurve(data, families);
    if (base === null) throw new Error("no fit");
    const found = yieldRefit(data, families, base, [20, 40])(data.y);
    expect(found.mean(30)).toBe(fittedCurve(base).mean(30));
    expect(found.optimum(0)).toBe(fittedCurve(base).optimum(20, 40, 0).density);
  });
});
