import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { chiSquareQuantile } from "../../src/numeric/distributions.ts";
import { fieldMap } from "../../src/plan/fieldMap.ts";
import { latinSquare } from "../../src/plan/latinSquare.ts";
import type { LayoutPlan, PlanPlot } from "../../src/plan/layoutPlan.ts";
import type { LayoutOptions } from "../../src/plan/layoutSettings.ts";
import { layoutTrial } from "../../src/plan/layoutTrial.ts";
import { layoutText } from "../../src/report/planText.ts";
import { expectJsonSafe } from "./jsonSafe.ts";

const rates = [20, 26, 32, 38, 44];
const base: LayoutOptions = { hybrids: ["Amber 12", "Birch 7"], rates, densityUnit: "1000 plants/ac" };

const treatment = (plot: PlanPlot): string => `${plot.hybrid} ${plot.seedingRate}`;
const grown = (plan: LayoutPlan): PlanPlot[] => plan.plots.filter(({ kind }) => kind === "plot");

/** Counts by key. */
function tally<T>(items: readonly T[], key: (item: T) => string): Map<string, number> {
  const counts = new Map<string, number>();
  for (const item of items) counts.set(key(item), (counts.get(key(item)) ?? 0) + 1);
  return counts;
}

/** Pearson's chi-square of equal expectations; below the 1 in 1,000 point when the draw is uniform. */
function expectUniform(counts: readonly number[], cells: number): void {
  const total = counts.reduce((sum, n) => sum + n, 0);
  const expected = total / cells;
  const chi2 = counts.reduce((sum, n) => sum + (n - expected) ** 2 / expected, 0) + (cells - counts.length) * expected;
  expect(chi2).toBeLessThan(chiSquareQuantile(0.999, cells - 1));
}

/** Pairs of plots that touch, in the field as numbered by row and column. */
function neighbours(plots: readonly PlanPlot[]): [PlanPlot, PlanPlot][] {
  const at = new Map(plots.map((plot) => [`${plot.row},${plot.column}`, plot]));
  return plots.flatMap((plot) => {
    const right = at.get(`${plot.row},${plot.column + 1}`);
    const behind = at.get(`${plot.row + 1},${plot.column}`);
    return [
      ...(right ? [[plot, right] as [PlanPlot, PlanPlot]] : []),
      ...(behind ? [[plot, behind] as [PlanPlot, PlanPlot]] : []),
    ];
  });
}

describe("over a thousand seeds", () => {
  test("every block of complete blocks holds every treatment once, on its own ground", () => {
    for (let seed = 0; seed < 1000; seed++) {
      const plan = layoutTrial({
        ...base,
        blocks: 3,
        rowsPerBlock: 1 + (seed % 3),
        blocksAcross: 1 + (seed % 2),
        seed,
      });
      const plots = grown(plan);
      expect(plots).toHaveLength(30);
      expect(new Set(plots.map(({ plot }) => plot)).size).toBe(30);
      expect(new Set(plots.map(({ row, column }) => `${row},${column}`)).size).toBe(30);
      expect([...tally(plots, (plot) => `${plot.block} ${treatment(plot)}`).values()].every((n) => n === 1)).toBe(true);
      expect(plan.plots.map(({ order }) => order)).toEqual(plan.plots.map((_, i) => i + 1));
    }
  });

  test("the neighbour rule is kept across rows, columns and blocks", () => {
    let broken = 0;
    for (let seed = 0; seed < 1000; seed++) {
      const rule = (["rates-differ", "treatments-differ"] as const)[seed % 2];
      const plan = layoutTrial({ ...base, neighbours: rule, rowsPerBlock: 1 + (seed % 2), blocksAcross: 2, seed });
      for (const [a, b] of neighbours(grown(plan)))
        if (rule === "rates-differ" ? a.seedingRate === b.seedingRate : treatment(a) === treatment(b)) broken++;
    }
    expect(broken).toBe(0);
    const hybrids = layoutTrial({ ...base, hybrids: ["A", "B", "C"], neighbours: "hybrids-differ", seed: 4 });
    for (const [a, b] of neighbours(grown(hybrids))) expect(a.hybrid).not.toBe(b.hybrid);
  });

  test("main plots hold one level of their factor and all of the other, each block every main plot once", () => {
    for (let seed = 0; seed < 500; seed++) {
      const mainPlot = (["hybrid", "density"] as const)[seed % 2];
      const plots = grown(
        layoutTrial({ ...base, design: seed % 3 === 0 ? "strips" : "split-plot", mainPlot, blocks: 3, seed }),
      );
      const mains = tally(plots, ({ block, mainPlot: main }) => `${block} ${main}`);
      expect(mains.size).toBe(3 * (mainPlot === "hybrid" ? 2 : 5));
      for (const name of mains.keys()) {
        const own = plots.filter(({ block, mainPlot: main }) => `${block} ${main}` === name);
        expect(new Set(own.map((plot) => (mainPlot === "hybrid" ? plot.hybrid : plot.seedingRate))).size).toBe(1);
        expect(new Set(own.map(treatment)).size).toBe(mainPlot === "hybrid" ? 5 : 2);
      }
    }
  });

  test("every row and column of a Latin square holds every treatment once", () => {
    for (let seed = 0; seed < 500; seed++) {
      const plots = grown(layoutTrial({ ...base, hybrids: ["Amber 12"], design: "latin-square", blocks: 2, seed }));
      const squares = (plot: PlanPlot): number => Math.ceil(plot.block / 5);
      for (const axis of ["row", "column"] as const)
        expect(
          [...tally(plots, (plot) => `${squares(plot)} ${plot[axis]} ${treatment(plot)}`).values()].every(
            (n) => n === 1,
          ),
        ).toBe(true);
      expect(plots).toHaveLength(50);
    }
  });
});

describe("uniform randomisation by chi-square", () => {
  test("every treatment comes to every place of a block alike", () => {
    const counts = new Map<string, number>();
    for (let seed = 0; seed < 4000; seed++)
      for (const plot of grown(layoutTrial({ ...base, hybrids: ["A"], blocks: 1, seed })))
        counts.set(`${plot.column} ${plot.seedingRate}`, (counts.get(`${plot.column} ${plot.seedingRate}`) ?? 0) + 1);
    // 25 cells of a doubly stochastic table: 16 degrees of freedom; chi-square against 24 is on the safe side, so it is scaled.
    const expected = 4000 / 5;
    const chi2 = [...counts.values()].reduce((sum, n) => sum + (n - expected) ** 2 / expected, 0) * (4 / 5);
    expect(chi2).toBeLessThan(chiSquareQuantile(0.999, 16));
    expect(counts.size).toBe(25);
  });

  test("all 24 orders of four rates are equally likely, in any block", () => {
    const orders: string[] = [];
    for (let seed = 0; seed < 2400; seed++) {
      const plots = grown(layoutTrial({ ...base, hybrids: ["A"], rates: [1, 2, 3, 4], blocks: 2, seed }));
      orders.push(
        plots
          .filter(({ block }) => block === 2)
          .map(({ seedingRate }) => seedingRate)
          .join(),
      );
    }
    expectUniform([...tally(orders, (order) => order).values()], 24);
  });

  test("under the neighbour rule the allowed orders are equally likely: 8 of 24 for two hybrids at two rates", () => {
    // Rates must alternate: 2 patterns x 2 x 2 hybrids at each rate.
    const orders: string[] = [];
    for (let seed = 0; seed < 2000; seed++) {
      const plan = layoutTrial({ ...base, rates: [20, 30], neighbours: "rates-differ", blocks: 1, seed });
      expect(plan.randomisation).toBe("uniform");
      orders.push(grown(plan).map(treatment).join());
    }
    const counts = tally(orders, (order) => order);
    expect(counts.size).toBe(8);
    expectUniform([...counts.values()], 8);
  });

  test("all 12 Latin squares of order 3 and all 576 of order 4 are equally likely", () => {
    const three = Array.from({ length: 1200 }, (_, i) => JSON.stringify(latinSquare(3, streamRandom(3, i))));
    expectUniform([...tally(three, (square) => square).values()], 12);
    const four = Array.from({ length: 2880 }, (_, i) => JSON.stringify(latinSquare(4, streamRandom(4, i))));
    expectUniform([...tally(four, (square) => square).values()], 576);
  });

  test("both kinds of Latin square of order 4 come up in their true share, 3 cyclic to 1 other", () => {
    // Of the four reduced squares one is the group of Klein, where every pair of rows forms 2 x 2 squares (Fisher & Yates).
    let klein = 0;
    const count = 2000;
    for (let i = 0; i < count; i++) {
      const square = latinSquare(4, streamRandom(6, i));
      const closed = [1, 2, 3].every((r) =>
        [0, 1, 2, 3].every((c) => {
          const other = square[0].indexOf(square[r][c]);
          return square[r][other] === square[0][c];
        }),
      );
      if (closed) klein++;
    }
    // Binomial: 500 +- 19; four standard deviations.
    expect(Math.abs(klein - count / 4)).toBeLessThan(4 * Math.sqrt(count * 0.25 * 0.75));
  });

  test("places draw their own orders", () => {
    const plots = grown(layoutTrial({ ...base, environments: ["North", "South"], blocks: 1 }));
    const order = (place: string): string =>
      plots
        .filter(({ environment }) => environment === place)
        .map(treatment)
        .join();
    expect(order("North")).not.toBe(order("South"));
    expect(plots[0].plot).toMatch(/^1-1\d\d$/);
    expect(plots[plots.length - 1].plot).toMatch(/^2-1\d\d$/);
  });
});

describe("layoutTrial", () => {
  test("the same seed draws the same layout, another seed another", () => {
    expect(layoutTrial({ ...base, seed: 9 })).toEqual(layoutTrial({ ...base, seed: 9 }));
    expect(layoutTrial({ ...base, seed: 9 }).plots).not.toEqual(layoutTrial({ ...base, seed: 10 }).plots);
    expectJsonSafe(layoutTrial(base));
  });

  test("where random orders nearly never keep the rule, a chain of allowed swaps does", () => {
    const hybrids = Array.from({ length: 30 }, (_, i) => `H${i}`);
    const plan = layoutTrial({
      ...base,
      hybrids,
      rates: [20, 26, 32],
      rowsPerBlock: 3,
      neighbours: "rates-differ",
      blocks: 2,
    });
    expect(plan.randomisation).toBe("swap-chain");
    expect(plan.notes.join()).toMatch(/allowed swaps/);
    for (const [a, b] of neighbours(grown(plan))) expect(a.seedingRate).not.toBe(b.seedingRate);
    expect(new Set(grown(plan).map((plot) => `${plot.block} ${treatment(plot)}`)).size).toBe(180);
  });

  test("a rule that cannot be kept is refused with the reason", () => {
    expect(() => layoutTrial({ ...base, hybrids: ["A"], neighbours: "hybrids-differ" })).toThrow(/equal neighbours/);
    expect(() => layoutTrial({ ...base, design: "split-plot", neighbours: "hybrids-differ" })).toThrow(/main plots/);
  });

  test("borders surround the field and fillers close ragged blocks; neither carries a treatment", () => {
    const plan = layoutTrial({ ...base, hybrids: ["A"], rowsPerBlock: 2, blocks: 2, borders: { sides: 1, ends: 1 } });
    expect([plan.rows, plan.columns]).toEqual([6, 5]);
    const kinds = tally(plan.plots, ({ kind }) => kind);
    // 6 x 5 places: 4 x 3 inside, of which 10 are plots.
    expect([kinds.get("plot"), kinds.get("filler"), kinds.get("border")]).toEqual([10, 2, 18]);
    for (const plot of plan.plots)
      if (plot.kind !== "plot") expect([plot.hybrid, plot.seedingRate]).toEqual([null, null]);
    for (const { row, column } of grown(plan)) expect(row > 1 && row < 6 && column > 1 && column < 5).toBe(true);
  });

  test("planting goes up one row and down the next", () => {
    const plan = layoutTrial({ ...base, blocks: 2 });
    expect(plan.plots.slice(9, 12).map(({ row, column }) => [row, column])).toEqual([
      [1, 10],
      [2, 10],
      [2, 9],
    ]);
  });

  test("strips are as wide as the passes of the planter, as long as the field, and must fit it", () => {
    const field: LayoutOptions = {
      ...base,
      hybrids: ["A"],
      design: "strips",
      planterWidth: { value: 40, unit: "ft" },
      fieldLength: { value: 1200, unit: "ft" },
      fieldWidth: { value: 900, unit: "ft" },
      borders: { sides: 1 },
    };
    // By hand: 900 / 40 = 22 strips; 2 borders leave 20, which is 4 blocks of 5.
    const plan = layoutTrial(field);
    expect([plan.rows, plan.columns]).toEqual([1, 22]);
    expect([plan.plotWidth, plan.plotLength]).toEqual([
      { value: 40, unit: "ft" },
      { value: 1200, unit: "ft" },
    ]);
    expect(() => layoutTrial({ ...field, blocks: 5 })).toThrow(/4 block\(s\) would/);
    expect(layoutTrial({ ...field, passes: 2, blocks: 1 }).plotWidth).toEqual({ value: 80, unit: "ft" });
    expect(() => layoutTrial({ ...field, harvestWidth: { value: 45, unit: "ft" } })).toThrow(
      /narrower than the header/,
    );
  });

  test("names what is wrong", () => {
    expect(() => layoutTrial({ ...base, rates: [20, 20] })).toThrow(/differ/);
    expect(() => layoutTrial({ ...base, hybrids: [] })).toThrow(/empty/);
    expect(() =>
      layoutTrial({ ...base, design: "latin-square", hybrids: ["A", "B", "C", "D", "E", "F", "G"] }),
    ).toThrow(/Latin square takes 2 to 30/);
    expect(() => layoutTrial({ ...base, mainPlot: "hybrid" })).toThrow(/no main plots/);
    expect(() => layoutTrial({ ...base, densityUnit: "ppa" as "plants/ac" })).toThrow(/densityUnit/);
  });
});

describe("the map and the text", () => {
  test("the map shows every plot where it lies, first row at the bottom, blocks apart", () => {
    const plan = layoutTrial({ ...base, hybrids: ["Amber 12"], rates: [20, 30, 40], blocks: 2, borders: { sides: 1 } });
    const lines = fieldMap(plan).split("\n");
    const cells = (line: string): string[] =>
      line
        .slice(1)
        .split(/[|]|\s{2,}/)
        .map((cell) => cell.trim())
        .filter((cell) => cell !== "");
    const row = (r: number): string[] =>
      plan.plots
        .filter((plot) => plot.row === r)
        .sort((a, b) => a.column - b.column)
        .map((plot) => (plot.kind === "plot" ? `A ${plot.seedingRate}` : ".."));
    expect(cells(lines[0])).toEqual(row(2));
    expect(lines[1]).toMatch(/^\s+-+$/);
    expect(cells(lines[2])).toEqual(row(1));
    expect(fieldMap(plan)).toContain("A = Amber 12");
    expect(layoutText(plan)).toMatch(/seed 1; .*seed label/s);
  });
});
