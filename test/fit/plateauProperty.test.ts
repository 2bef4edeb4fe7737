import fc from "fast-check";
import { expect, test } from "vitest";
import { fitCurve } from "../../src/fit/fitCurve.ts";

const runs = process.env["STANDCURVE_SLOW"] === "1" ? 100_000 : 2000;

interface Plots {
  readonly density: number[];
  readonly yield: number[];
  readonly block: number[];
  readonly weight: number[];
}

/** Designs with ties, several blocks, unequal weights, unbalance, and plots that each have their own density. */
const plots: fc.Arbitrary<Plots> = fc
  .record({
    levels: fc.uniqueArray(fc.integer({ min: 10, max: 60 }), { minLength: 3, maxLength: 7 }),
    own: fc.boolean(),
    cells: fc.array(
      fc.record({
        pick: fc.nat(1000),
        // Steps as records have them: shrinking would otherwise end at densities 1e-9 apart and fits perfect to rounding.
        jitter: fc.integer({ min: -500, max: 500 }).map((i) => i / 1000),
        block: fc.nat(3),
        weight: fc.integer({ min: 2, max: 50 }).map((i) => i / 10),
        noise: fc.integer({ min: -100, max: 100 }).map((i) => i / 100),
      }),
      { minLength: 8, maxLength: 28 },
    ),
    join: fc.integer({ min: 15, max: 70 }),
    power: fc.constantFrom(1, 2),
    weighted: fc.boolean(),
    blocked: fc.boolean(),
  })
  .map(({ levels, own, cells, join, power, weighted, blocked }) => {
    const density = cells.map((c, i) => levels[i < levels.length ? i : c.pick % levels.length] + (own ? c.jitter : 0));
    return {
      density,
      block: cells.map((c) => (blocked ? c.block : 0)),
      weight: cells.map((c) => (weighted ? c.weight : 1)),
      yield: cells.map(
        (c, i) =>
          150 - 0.4 * Math.max(join - density[i], 0) ** power * (power === 2 ? 0.1 : 1) + 3 * c.block + 6 * c.noise,
      ),
    };
  });

/**
 * Least RSS over joins by a grid and golden-section search, rises only (k > 0). For one join the fit is a regression through
 * the origin of block-centred yields on the block-centred rise.
 */
function bruteForce(data: Plots, power: 1 | 2): number {
  const n = data.density.length;
  const centre = (values: readonly number[]): number[] => {
    const sum = [0, 0, 0, 0];
    const weight = [0, 0, 0, 0];
    values.forEach((value, i) => {
      sum[data.block[i]] += data.weight[i] * value;
      weight[data.block[i]] += data.weight[i];
    });
    return values.map((value, i) => value - sum[data.block[i]] / weight[data.block[i]]);
  };
  const y = centre(data.yield);
  const rssAt = (h: readonly number[], k: number): number => {
    let sum = 0;
    for (let i = 0; i < n; i++) sum += data.weight[i] * (y[i] - k * h[i]) ** 2;
    return sum;
  };
  const flat = rssAt(y, 0);
  const rss = (join: number): number => {
    const h = centre(data.density.map((x) => -(Math.max(join - x, 0) ** power)));
    let hy = 0;
    let hh = 0;
    for (let i = 0; i < n; i++) {
      hy += data.weight[i] * h[i] * y[i];
      hh += data.weight[i] * h[i] * h[i];
    }
    return hy > 0 && hh > 0 ? rssAt(h, hy / hh) : flat;
  };
  const levels = [...new Set(data.density)].sort((a, b) => a - b);
  const top = levels[levels.length - 1];
  const end = power === 1 ? top : top + 3 * (top - levels[0]);
  let least = flat;
  const steps = 60;
  const grid = [
    ...levels.slice(1),
    ...Array.from({ length: steps + 1 }, (_, i) => levels[1] + ((end - levels[1]) * i) / steps),
  ].sort((a, b) => a - b);
  const values = grid.map(rss);
  for (let i = 0; i < grid.length; i++) {
    least = Math.min(least, values[i]);
    const before = values[i - 1] ?? Number.POSITIVE_INFINITY;
    const after = values[i + 1] ?? Number.POSITIVE_INFINITY;
    if (values[i] > before || values[i] > after) continue;
    let low = grid[Math.max(i - 1, 0)];
    let high = grid[Math.min(i + 1, grid.length - 1)];
    for (let k = 0; k < 60; k++) {
      const a = high - 0.618 * (high - low);
      const b = low + 0.618 * (high - low);
      if (rss(a) < rss(b)) high = b;
      else low = a;
    }
    least = Math.min(least, rss((low + high) / 2));
  }
  return least;
}

for (const [family, power] of [
  ["linear-plateau", 1],
  ["quadratic-plateau", 2],
] as const) {
  test(`the ${family} fit is never beaten by a brute-force search over joins`, () => {
    fc.assert(
      fc.property(plots, (data) => {
        const fit = fitCurve(family, data);
        fc.pre(fit.status === "converged" && fit.dofResidual > 0);
        // Residuals below 1e-12 of the yields are rounding, here as in the search: such a fit is perfect.
        if ((fit.rss as number) < data.density.length * 1.5e-10 ** 2) return;
        // Yields of 150 are rounded at 3e-14, which moves a sum of squares by up to 2 sqrt(n RSS) times that: with ordinary
        // noise far below 1e-12 of it, but it is all there is when the search for a counterexample finds tiny residuals.
        const rounding = 2 * Math.sqrt(data.density.length * (fit.rss as number)) * 3e-14;
        expect(fit.rss as number).toBeLessThanOrEqual(bruteForce(data, power) * (1 + 1e-12) + rounding);
      }),
      { numRuns: runs, seed: 20260101 },
    );
  });
}

const permute = (data: Plots, order: number[]): Plots => ({
  density: order.map((i) => data.density[i]),
  yield: order.map((i) => data.yield[i]),
  block: order.map((i) => data.block[i]),
  weight: order.map((i) => data.weight[i]),
});

for (const family of ["linear", "quadratic", "linear-plateau", "quadratic-plateau"] as const) {
  const same = (a: number | null, b: number | null, what: string): void => {
    // Sums of squares agree to 1e-9 of themselves: invariance holds up to rounding in another order of summation.
    expect(Math.abs((a as number) - (b as number)), what).toBeLessThanOrEqual(1e-9 * Math.abs(a as number) + 1e-12);
  };
  test(`the ${family} fit does not depend on row order, units, block labels, an added constant or duplication`, () => {
    fc.assert(
      fc.property(plots, (data) => {
        const fit = fitCurve(family, data);
        fc.pre(fit.status === "converged" && fit.dofResidual > 0 && (fit.rss as number) > 1e-6);
        const n = data.density.length;
        const reversed = fitCurve(family, permute(data, [...Array(n).keys()].reverse()));
        same(fit.rss, reversed.rss, "row order");
        const units = fitCurve(family, {
          ...data,
          density: data.density.map((x) => x * 1000),
          yield: data.yield.map((y) => y / 16),
        });
        same((fit.rss as number) / 256, units.rss, "units");
        const labels = fitCurve(family, { ...data, block: data.block.map((b) => `block ${9 - b}`) });
        same(fit.rss, labels.rss, "labels");
        const shifted = fitCurve(family, { ...data, yield: data.yield.map((y) => y + 1000) });
        same(fit.rss, shifted.rss, "constant");
        const twice = fitCurve(
          family,
          permute(
            data,
            [...Array(2 * n).keys()].map((i) => i % n),
          ),
        );
        same(2 * (fit.rss as number), twice.rss, "duplicated");
      }),
      { numRuns: 300, seed: 7 },
    );
  });
}

test("a lowest density that stands alone in its block does not hide the best join", () => {
  // Found by the hundred thousand random trials of the slow run: 2.2012 was given where 2.17952 is possible.
  const data: Plots = {
    density: [11, 13, 12, 10, 11, 11, 10.999, 11, 11],
    block: [0, 0, 0, 1, 0, 0, 0, 0, 0],
    weight: [1, 1, 1, 1, 1, 1, 1, 1, 1],
    yield: [148.4, 149.2, 148.8, 151, 148.4, 148.4, 148.3996, 148.4, 150.02],
  };
  expect(fitCurve("quadratic-plateau", data).rss as number).toBeLessThanOrEqual(bruteForce(data, 2) * (1 + 1e-12));
});
