import { describe, expect, test } from "vitest";
import { analyseStrata } from "../../src/mixed/analyseStrata.ts";
import { balancedStrata } from "../../src/mixed/balancedStrata.ts";
import { orthogonalPolynomials } from "../../src/mixed/orthogonalPolynomial.ts";
import { recogniseLayout } from "../../src/mixed/recogniseLayout.ts";
import { varianceTable } from "../../src/mixed/varianceTable.ts";
import { assertDigits } from "../assertDigits.ts";
import { oracleRows } from "./sharedData.ts";

const oats = oracleRows("oats_splitplot_yates.csv");
const oatsData = {
  yield: oats.map((row) => Number(row["yield_qlb"])),
  density: oats.map((row) => Number(row["nitrogen_cwt_ac"])),
  hybrid: oats.map((row) => row["variety"]),
  block: oats.map((row) => row["block"]),
};
const positions = { row: oats.map((row) => Number(row["row"])), column: oats.map((row) => Number(row["col"])) };

describe("varianceTable", () => {
  const complete = varianceTable({ ...oatsData, ...positions });

  test("Yates' oats: the split plot is seen from the positions, F as published (Yates 1935; R aov)", () => {
    const table = complete;
    expect(table.design).toBe("split-plot");
    expect(table.wholePlot).toBe("hybrid");
    const [variety, nitrogen, both] = table.tests;
    assertDigits(variety.f, 1.48534, 6);
    expect([variety.df1, variety.df2]).toEqual([2, 10]);
    assertDigits(nitrogen.f, 37.68565, 6);
    expect([nitrogen.df1, nitrogen.df2]).toEqual([3, 45]);
    assertDigits(both.f, 0.302824, 5);
    // Components of the balanced analysis: 106.062 for main plots, 177.083 for plots.
    assertDigits(table.splitPlot?.wholePlotVariance, 106.0618056, 9);
    assertDigits(table.strata[2].rows[2].ms, 177.0833333, 9);
  });

  test("without positions the two layouts cannot be told apart: blocks are assumed, said, and can be overruled", () => {
    const plain = varianceTable(oatsData);
    expect(plain.design).toBe("randomised-complete-block");
    expect(plain.evidence).toContain("not given");
    const told = varianceTable(oatsData, { wholePlot: "hybrid" });
    assertDigits(told.tests[0].f, 1.48534, 6);
    const labelled = varianceTable({
      ...oatsData,
      mainPlot: oatsData.hybrid.map((variety, i) => `${oatsData.block[i]}${variety}`),
    });
    expect(labelled.wholePlot).toBe("hybrid");
    assertDigits(labelled.tests[0].f, 1.48534, 6);
  });

  test("a split plot with missing plots agrees with the balanced one as the gap closes", () => {
    const missing = { ...oatsData, ...positions, yield: oatsData.yield.map((y, i) => (i === 5 ? null : y)) };
    const table = varianceTable(missing);
    expect(table.missingPlots).toBe(1);
    expect(table.tests.map(({ source }) => source)).toEqual(["hybrid", "density", "hybrid x density"]);
    for (const { f, df2, against } of table.tests) {
      expect(f).toBeGreaterThan(0);
      expect(df2).toBeGreaterThan(0);
      expect(against).toContain("Kenward-Roger");
    }
    // With complete data the same machinery (REML, Kenward-Roger) must give the exact F and degrees of freedom.
    // That identity is tested on the dense oracle; here: the main-plot test keeps about 10 degrees of freedom.
    expect(table.tests[0].df2).toBeGreaterThan(9);
    expect(table.tests[0].df2).toBeLessThan(10.5);
  });

  test("every pair of the studentised-range comparisons is at least as cautious as the single test", () => {
    const table = complete;
    for (const { comparisons, levels } of table.means) {
      expect(comparisons).toHaveLength((levels.length * (levels.length - 1)) / 2);
      for (const { p, adjustedP } of comparisons) expect(adjustedP).toBeGreaterThanOrEqual(p - 1e-12);
    }
  });

  test("HSD is the smallest difference with adjusted p of 5 %", () => {
    const table = complete;
    const density = table.means.find(({ factor }) => factor === "density");
    // q(0.95; 4, 45) = 3.7727 (R qtukey, polished); HSD = q sqrt(177.0833 / 18).
    assertDigits(density?.hsd, 11.833262340093, 8);
  });

  test("one plot per treatment leaves no error: nothing is tested", () => {
    const table = varianceTable({ yield: [5, 6, 7], density: [20, 30, 40] });
    expect(table.tests.every(({ f }) => f === null)).toBe(true);
    expect(table.notes.join(" ")).toContain("no degrees of freedom");
    expect(JSON.parse(JSON.stringify(table))).toEqual(table);
  });

  test("the result is JSON-safe", () => {
    const table = complete;
    expect(JSON.parse(JSON.stringify(table))).toEqual(table);
  });

  test("mistakes of the caller throw a code", () => {
    expect(() => varianceTable({ yield: [1, 2], density: [1, 1] })).toThrow(
      expect.objectContaining({ code: "not-estimable" }),
    );
    expect(() => varianceTable({ yield: [1, 2, 3], density: [1, 1] })).toThrow(
      expect.objectContaining({ code: "length-mismatch" }),
    );
    expect(() => varianceTable({ yield: [1, 2], density: [1, 2] }, { level: 1 })).toThrow(
      expect.objectContaining({ code: "invalid-option" }),
    );
  });
});

describe("balancedStrata", () => {
  test("sums of cells give the same strata as projections, in one and in several environments", () => {
    const block = { name: "block", labels: oatsData.block };
    const treatments = [
      { name: "hybrid", labels: oatsData.hybrid },
      { name: "density", labels: oatsData.density },
    ];
    const single = [
      balancedStrata(oatsData.yield, treatments, [block]),
      analyseStrata({ yield: oatsData.yield, treatments, blocks: [block], units: [] }).strata,
    ];
    const environment = {
      name: "environment",
      labels: oatsData.block.map((b) => (Number(b.slice(1)) > 3 ? "north" : "south")),
    };
    const crossed = [environment, ...treatments];
    const several = [
      balancedStrata(oatsData.yield, crossed, [environment, block]),
      analyseStrata({ yield: oatsData.yield, treatments: crossed, blocks: [environment, block], units: [] }).strata,
    ];
    for (const [fast, slow] of [single, several]) {
      const a = fast.flatMap(({ rows }) => rows);
      const b = slow.flatMap(({ rows }) => rows);
      expect(a.map(({ source, df }) => [source, df])).toEqual(b.map(({ source, df }) => [source, df]));
      a.forEach(({ ss, f }, i) => {
        assertDigits(ss, b[i].ss, 10, a[i].source);
        if (f !== null) assertDigits(f, b[i].f as number, 10);
      });
    }
  });
});

describe("orthogonalPolynomials", () => {
  test("equal spacing gives the tabulated coefficients (Fisher & Yates, Statistical Tables, table XXIII)", () => {
    const [linear, quadratic, cubic] = orthogonalPolynomials([10, 20, 30, 40, 50], [1, 1, 1, 1, 1], 3);
    const tabulated = [
      [-2, -1, 0, 1, 2],
      [2, -1, -2, -1, 2],
      [-1, 2, 0, -2, 1],
    ].map((row) => row.map((c) => c / 2));
    [linear, quadratic, cubic].forEach((row, d) => {
      row.forEach((c, l) => {
        expect(Math.abs(c - tabulated[d][l])).toBeLessThan(1e-12);
      });
    });
  });

  test("unequal spacing and replication: orthogonal in the weights, and blind to lower powers", () => {
    const x = [20, 26, 31, 40, 44];
    const n = [4, 3, 4, 2, 4];
    const rows = orthogonalPolynomials(x, n, 4);
    rows.forEach((a, j) => {
      for (let power = 0; power <= j; power++) {
        const along = x.reduce((sum, value, l) => sum + n[l] * a[l] * ((value - 32) / 12) ** power, 0);
        expect(Math.abs(along)).toBeLessThan(1e-12);
      }
      rows.slice(0, j).forEach((b) => {
        expect(Math.abs(a.reduce((sum, c, l) => sum + n[l] * c * b[l], 0))).toBeLessThan(1e-12);
      });
    });
  });
});

describe("recogniseLayout", () => {
  const none = { mainPlot: null, row: null, column: null, order: null };
  test("strips in planting order: hybrids together make main plots, mixed ones do not", () => {
    const block = ["1", "1", "1", "1", "2", "2", "2", "2"];
    const together = ["A", "A", "B", "B", "B", "B", "A", "A"];
    const mixed = ["A", "B", "A", "B", "B", "A", "A", "B"];
    const density = ["20", "30", "30", "20", "20", "30", "30", "20"];
    const order = [1, 2, 3, 4, 5, 6, 7, 8];
    expect(recogniseLayout({ ...none, block, hybrid: together, density, order }).wholePlot).toBe("hybrid");
    expect(recogniseLayout({ ...none, block, hybrid: mixed, density, order }).wholePlot).not.toBe("hybrid");
    expect(recogniseLayout({ ...none, block, hybrid: density, density: together, order }).wholePlot).toBe("density");
  });
});
