import fc from "fast-check";
import { describe, expect, test } from "vitest";
import {
  analyzeGroup,
  analyzeGroupText,
  analyzeTrial,
  type GroupInput,
  readTrial,
  trialAnalysisSchema,
} from "../../src/index.ts";
import { networkCsv, records, rowsOf } from "./networkRows.ts";

const csv = networkCsv(2, 2);
const own = rowsOf(csv, "Hybrid 1");
const options = { resamples: 20, prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } };
const group: GroupInput = {
  schema: "standcurve/group/1",
  hybrid: "Hybrid 1",
  environment: null,
  plots: records(own),
  options,
};

describe("a group", () => {
  test("is analysed as a file with its rows alone would be", () => {
    const { trial, issues } = readTrial(own);
    if (trial === null) throw new Error("cannot be read");
    const alone = analyzeTrial(trial, { ...options, scrutiny: false, issues });
    const result = analyzeGroup(group);
    expect(result.status).toBe("analysed");
    expect(result.analysis?.hybrids).toEqual(alone.hybrids);
    expect(result.analysis?.comparison).toEqual(alone.comparison);
    expect(result.analysis?.trial.plotsRead).toBe(30);
    expect(Object.keys(result.analysis ?? {})).toEqual(trialAnalysisSchema.required);
  });

  test("gives the same answers as records, columns, typed arrays and a table, and through text", () => {
    const rows = records(own);
    const header = Object.keys(rows[0] as object);
    const columns = Object.fromEntries(header.map((name) => [name, rows.map((row) => row[name] as string | number)]));
    const typed = {
      ...columns,
      ...Object.fromEntries(header.slice(4).map((name) => [name, Float64Array.from(columns[name] as number[])])),
    };
    const table = {
      header,
      rows: rows.map((row) => header.map((name) => row[name] as string | number)),
      lines: rows.map((_, i) => i + 1),
      counts: "Row" as const,
      delimiter: null,
    };
    const first = analyzeGroup(group);
    const { plots: _, ...bare } = group;
    expect(analyzeGroup({ ...bare, plots: columns })).toEqual(first);
    expect(analyzeGroup({ ...bare, plots: typed })).toEqual(first);
    expect(analyzeGroup({ ...bare, table })).toEqual(first);
    expect(JSON.parse(analyzeGroupText(JSON.stringify(group)))).toEqual(first);
  });

  test("of one environment has a seed of its own, from hybrid and environment", () => {
    const of = (environment: string | null): number =>
      analyzeGroup({ ...group, environment, options: { seed: 9, resamples: 0 } }).seed;
    expect(of(null)).toBe(9);
    expect(of("Site 0")).not.toBe(of("Site 1"));
    expect(of("Site 0")).toBe(of("Site 0"));
  });

  test("keeps the lines of its file in what it reports", () => {
    const result = analyzeGroup({
      ...group,
      plots: records(own).map((row, i) => (i === 2 ? { ...row, yield_bu_ac: "two hundred" } : row)),
      lines: records(own).map((_, i) => 1000 + i),
    });
    expect(result.rows).toEqual({ count: 30, first: 1000, last: 1029 });
    expect(result.issues.find(({ severity }) => severity === "error")).toMatchObject({
      row: 1002,
      code: "not-a-number",
    });
    expect(result.status).toBe("analysed");
    expect(analyzeGroup({ ...group, plots: [{ yield_bu_ac: "x" }], read: { strict: true } }).status).toBe(
      "not-analysed",
    );
  });

  test("whose data are no good says so in its result", () => {
    const bad: readonly [string, Partial<GroupInput>, RegExp][] = [
      ["no unit", { plots: { density: [1, 2], yield: [3, 4] } }, /see issues/],
      ["no rows", { plots: [] }, /see issues/],
      ["one density", { plots: { stand_k_ac: [30, 30], yield_bu_ac: [200, 201] } }, /only one density/],
      ["columns of two lengths", { plots: { stand_k_ac: [20, 30], yield_bu_ac: [200] } }, /one length/],
      ["rows that are no records", { plots: [3 as never] }, /records/],
    ];
    for (const [name, part, reason] of bad) {
      const result = analyzeGroup({ ...group, ...part });
      expect([name, result.status]).toEqual([name, "not-analysed"]);
      expect(result.reason).toMatch(reason);
    }
  });

  test("never throws for data, whatever the cells", () => {
    const cell = fc.oneof(
      fc.string(),
      fc.double(),
      fc.constant(null),
      fc.integer(),
      fc.constant("30"),
      fc.constant("200"),
    );
    fc.assert(
      fc.property(
        fc.array(fc.record({ hybrid: cell, site: cell, block: cell, stand_k_ac: cell, yield_bu_ac: cell }), {
          maxLength: 8,
        }),
        (plots) => {
          const result = analyzeGroup({ ...group, plots, options: { resamples: 0 } });
          expect(JSON.parse(JSON.stringify(result))).toEqual(result);
          return result.status !== "failed";
        },
      ),
      { numRuns: 60 },
    );
  });

  test("refuses options that are out of bounds, since they are wrong for every group", () => {
    expect(() => analyzeGroup({ ...group, options: { level: 2 } })).toThrow(
      expect.objectContaining({ code: "invalid-option" }),
    );
    expect(() => analyzeGroup({ ...group, read: { decimal: "x" as never } })).toThrow(/decimal/);
    expect(() => analyzeGroup({ plots: [] } as never)).toThrow(/standcurve\/group\/1/);
  });
});
