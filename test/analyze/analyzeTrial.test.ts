import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import type { CurveAnalysis, TrialAnalysis } from "../../src/analyze/result.ts";
import { analyzeTrial, convertDensity, convertYield, readTrial, type Trial } from "../../src/index.ts";
import { assertDigits } from "../assertDigits.ts";

const text = readFileSync(new URL("../../data-demo/plots.csv", import.meta.url), "utf8");
const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };

function read(source: string, schema = {}): Trial {
  const { trial } = readTrial(source, schema);
  if (trial === null) throw new Error("the demo trial must be readable");
  return trial;
}

function pooled(analysis: TrialAnalysis, hybrid: string): CurveAnalysis {
  const one = analysis.hybrids.find((entry) => entry.hybrid === hybrid)?.pooled;
  if (one?.kind !== "analysed") throw new Error(`no analysis of ${hybrid}`);
  return one;
}

const trial = read(text);
const analysis = analyzeTrial(trial, { prices, between: [24, 36], resamples: 500 });

describe("the demo trial, whose truth is known (data-demo/README.md)", () => {
  // True optima and flex scores between 24 and 36 thousand, from the generator's formulas.
  const truth: Readonly<Record<string, { optimum: number | "beyond" | "none"; flex: number }>> = {
    "Amber 12": { optimum: 32, flex: 95.81 },
    "Birch 7": { optimum: 33, flex: 84.88 },
    "Cedar 21": { optimum: 29, flex: 86.86 },
    "Dune 5": { optimum: "none", flex: 100 },
    "Elm 30": { optimum: "beyond", flex: 75.36 },
    "Fern 18": { optimum: 34, flex: 91.26 },
  };

  test.each(Object.entries(truth))(
    "the interval of the agronomic optimum of %s holds the truth",
    (hybrid, { optimum }) => {
      const { interval, optimum: found } = pooled(analysis, hybrid).agronomic;
      if (optimum === "none") {
        expect(found.kind).toBe("none");
        expect(interval.flatNotExcluded).toBe(true);
      } else if (optimum === "beyond") expect(interval.upperOpen).toBe(true);
      else {
        const pieces = interval.pieces ?? [interval];
        const holds = pieces.some(
          (p) => (p.lower === null || p.lower <= optimum) && (p.upper === null || p.upper >= optimum),
        );
        expect(holds).toBe(true);
      }
    },
  );

  test("five of six 95 % intervals of the flex score hold the truth, or all", () => {
    const held = Object.entries(truth).filter(([hybrid, { flex }]) => {
      const interval = pooled(analysis, hybrid).flex.bootstrap?.interval;
      return interval && (interval.lower as number) <= flex && (interval.upper as number) >= flex;
    });
    expect(held.length).toBeGreaterThanOrEqual(5);
  });

  test("the economic optimum lies below the agronomic one wherever both are inside", () => {
    for (const { pooled: one } of analysis.hybrids) {
      if (one.kind !== "analysed" || one.economic === null) continue;
      const { optimum } = one.economic;
      if (optimum.density !== null && one.agronomic.optimum.density !== null) {
        expect(optimum.density).toBeLessThanOrEqual(one.agronomic.optimum.density + 1e-9);
      }
    }
  });

  test("seeding rates are stands divided by establishment", () => {
    const { economic, establishment } = pooled(analysis, "Amber 12");
    assertDigits(economic?.axes.seedingRate, (economic?.axes.stand as number) / (establishment as number), 12);
  });
});

describe("the result", () => {
  test("is plain data: JSON gives back the same, with no NaN or Infinity anywhere", () => {
    const walk = (value: unknown, path: string): void => {
      if (typeof value === "number") expect(Number.isFinite(value), path).toBe(true);
      else if (value !== null && typeof value === "object")
        for (const [key, inner] of Object.entries(value)) walk(inner, `${path}.${key}`);
      else expect(["string", "boolean", "object"], path).toContain(typeof value);
    };
    walk(analysis, "analysis");
    expect(JSON.parse(JSON.stringify(analysis))).toEqual(analysis);
  });

  test("has the same bytes for the same trial, options and seed", () => {
    const again = analyzeTrial(read(text), { prices, between: [24, 36], resamples: 500 });
    expect(JSON.stringify(again)).toBe(JSON.stringify(analysis));
  });

  test("of one hybrid does not change when the others are taken away", () => {
    const only: Trial = {
      ...trial,
      hybrids: ["Fern 18"],
      plots: trial.plots.filter((plot) => plot.hybrid === "Fern 18"),
    };
    const alone = analyzeTrial(only, { prices, between: [24, 36], resamples: 500 });
    expect(JSON.stringify(pooled(alone, "Fern 18"))).toBe(JSON.stringify(pooled(analysis, "Fern 18")));
  });

  test("does not depend on the order of rows", () => {
    const [header, ...rows] = text.trim().split("\n");
    const reversed = analyzeTrial(read([header, ...rows.reverse()].join("\n")), {
      prices,
      between: [24, 36],
      resamples: 0,
    });
    for (const hybrid of trial.hybrids) {
      const a = pooled(analysis, hybrid);
      const b = pooled(reversed, hybrid);
      expect(b.chosen).toBe(a.chosen);
      if (a.agronomic.optimum.density !== null)
        assertDigits(b.agronomic.optimum.density, a.agronomic.optimum.density, 9);
      if (a.flex.flex.score !== null) assertDigits(b.flex.flex.score, a.flex.flex.score, 9);
    }
  });

  test("in metric units says the same: densities, money and scores convert exactly", () => {
    const metric = read(text, { densityUnit: "plants/m2", yieldUnit: "t/ha" });
    const bushel = convertYield(1, "bu/ac", "t/ha", trial.crop);
    const toMetric = (x: number): number => convertDensity(x, trial.densityUnit, "plants/m2");
    const converted = analyzeTrial(metric, {
      // Money per tonne; seed is paid per 1,000 seeds whatever the area.
      prices: {
        grainPrice: prices.grainPrice * (convertDensity(1, "plants/ac", "plants/ha") / bushel),
        seedCostPerThousand: prices.seedCostPerThousand,
      },
      between: [toMetric(24), toMetric(36)],
      resamples: 0,
    });
    for (const hybrid of trial.hybrids) {
      const a = pooled(analysis, hybrid);
      const b = pooled(converted, hybrid);
      if (a.economic?.optimum.density)
        assertDigits(b.economic?.optimum.density, toMetric(a.economic.optimum.density), 8);
      assertDigits(b.flex.flex.score, a.flex.flex.score as number, 8);
    }
  });

  test("lists every plot that was left out, with its reason", () => {
    const rows = text.trim().split("\n");
    rows[0] += ",exclude,exclude_reason";
    rows[1] += ",yes,planter skip";
    rows[2] = rows[2].replace(/,(\d+\.\d+),(\d+\.\d),(\d+),60/, ",NA,$2,$3,60");
    const { trial: marked, issues } = readTrial(rows.map((row, i) => (i > 1 ? `${row},,` : row)).join("\n"));
    const result = analyzeTrial(marked as Trial, { issues, resamples: 0 });
    expect(result.trial.excluded.some(({ row, reason }) => row === 2 && reason.includes("planter skip"))).toBe(true);
    expect(result.trial.excluded.some(({ row }) => row === 3)).toBe(true);
    expect(result.trial.plotsUsed).toBe(result.trial.plotsRead - 2);
  });
});

describe("trials that cannot carry a full analysis", () => {
  const header = "hybrid,block,stand_k_ac,yield_bu_ac";
  const rows = (lines: readonly string[]): Trial => read([header, ...lines].join("\n"));

  test("one density: no curve, and the reason", () => {
    const result = analyzeTrial(rows(["A,1,30,200", "A,2,30,205", "A,3,30,198"]));
    expect(result.hybrids[0].pooled).toMatchObject({ kind: "not-estimable" });
  });

  test("two densities: at most a line, and no interior optimum", () => {
    const result = analyzeTrial(
      rows(["A,1,24,180", "A,1,32,200", "A,2,24,184", "A,2,32,199", "A,3,24,181", "A,3,32,203"]),
    );
    const one = result.hybrids[0].pooled;
    if (one.kind !== "analysed") throw new Error(one.reason);
    expect(["flat", "linear"]).toContain(one.chosen);
    expect(one.agronomic.optimum.kind).not.toBe("interior");
    expect(one.agronomic.interval.upperOpen).toBe(true);
  });

  test("hybrids whose densities do not overlap get no flex score, and the comparison says why", () => {
    const lines = ["A,1,20,180", "A,1,22,184", "A,1,24,190", "A,2,20,181", "A,2,22,188", "A,2,24,189"];
    const other = lines.map((line) => line.replace("A,", "B,").replace(/,2(\d),/, ",3$1,"));
    const result = analyzeTrial(rows([...lines, ...other]), { resamples: 0 });
    expect(result.comparison.between).toBeNull();
    expect(result.comparison.note).toContain("do not overlap");
    for (const { pooled: one } of result.hybrids) if (one.kind === "analysed") expect(one.flex.flex.score).toBeNull();
  });

  test("an option out of bounds is refused with its rule", () => {
    expect(() => analyzeTrial(trial, { level: 95 })).toThrow(/level must be between 0 and 1/);
    expect(() => analyzeTrial(trial, { prices: { grainPrice: -1, seedCostPerThousand: 3 } })).toThrow(
      /grainPrice must be > 0/,
    );
    expect(() => analyzeTrial(trial, { between: [36, 24] })).toThrow(/0 < x1 < x2/);
  });
});
