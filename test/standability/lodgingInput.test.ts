import { describe, expect, test } from "vitest";
import { crowdingSlope } from "../../src/standability/crowdingSlope.ts";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { lodgedShareCurve, predictLodging } from "../../src/standability/lodgedShare.ts";
import { chooseDispersion } from "../../src/standability/lodgingDispersion.ts";
import { noneLodged } from "../../src/standability/noneLodged.ts";
import { numberBlocks } from "../../src/standability/numberBlocks.ts";
import {
  clopperPearsonInterval,
  effectivePlants,
  upperBoundWhenNone,
  wilsonInterval,
} from "../../src/standability/proportionInterval.ts";
import { readLodging } from "../../src/standability/readLodging.ts";
import { standabilityFlags } from "../../src/standability/standabilityFlags.ts";
import { assertDigits } from "../assertDigits.ts";

const refuses = (run: () => unknown, code: string, word = /./) =>
  expect(run).toThrow(expect.objectContaining({ code, message: expect.stringMatching(word) }));

describe("readLodging", () => {
  const good = { density: [20, 30], lodged: [1, 2], examined: [10, 10] };
  test("names what is wrong, with its place; the borders are allowed", () => {
    refuses(() => readLodging({ density: [], lodged: [], examined: [] }), "invalid-data", /empty/);
    refuses(() => readLodging({ ...good, lodged: [1] }), "length-mismatch", /lodged has 1/);
    refuses(() => readLodging({ ...good, examined: [10] }), "length-mismatch", /examined has 1/);
    refuses(() => readLodging({ ...good, block: ["a"] }), "length-mismatch", /block has 1/);
    refuses(() => readLodging({ ...good, density: [20, Number.NaN] }), "invalid-data", /density\[1\]/);
    refuses(() => readLodging({ ...good, examined: [10, null] }), "not-offered", /examined\[1\]/);
    refuses(() => readLodging({ ...good, examined: [0, 10], lodged: [0, 0] }), "invalid-data", /examined\[0\]/);
    refuses(() => readLodging({ ...good, examined: [Infinity, 10] }), "invalid-data", /examined\[0\]/);
    refuses(() => readLodging({ ...good, lodged: [-1, 2] }), "invalid-data", /lodged\[0\]/);
    refuses(() => readLodging({ ...good, lodged: [1, 11] }), "invalid-data", /lodged\[1\] must be between 0 and 10/);
    refuses(() => readLodging({ ...good, examined: null, lodged: [0.5, 1.5] }), "invalid-data", /between 0 and 1/);
    expect(readLodging({ ...good, lodged: [0, 10] }).lodged).toEqual([0, 10]);
    expect(readLodging({ ...good, examined: null, lodged: [0, 1] }).examined).toBeNull();
    expect(readLodging({ ...good, examined: [null, null], lodged: [0, 1] }).examined).toBeNull();
  });
  test("copies, and gives one block when none is named", () => {
    const density = [20, 30];
    const read = readLodging({ ...good, density });
    density[0] = 99;
    expect(read.density).toEqual([20, 30]);
    expect(read.block).toEqual(["1", "1"]);
    expect(readLodging({ ...good, block: [7, "x"] }).block).toEqual(["7", "x"]);
  });
});

test("numberBlocks: in order of appearance, one block by default, lengths must agree", () => {
  const { index, labels } = numberBlocks(["b", 2, "b", "2"], 4);
  expect([Array.from(index), labels]).toEqual([
    [0, 1, 0, 1],
    ["b", "2"],
  ]);
  expect(numberBlocks(undefined, 2)).toEqual({ index: new Int32Array(2), labels: ["1"] });
  refuses(() => numberBlocks(["a"], 2), "length-mismatch");
});

describe("chooseDispersion", () => {
  const counts = { density: [20, 30, 40], lodged: [1, 2, 3], examined: [10, 10, 10], block: ["1", "1", "1"] };
  const twice = { ...counts, density: [20, 20, 40] };
  const choose = (
    data: typeof counts | { density: number[]; lodged: number[]; examined: null; block: string[] },
    asked: "binomial" | "quasi" | "beta-binomial" | undefined,
    dof: number,
    bias: "none" | "firth" = "none",
  ) => {
    const notes: string[] = [];
    return [chooseDispersion(data, asked, bias, dof, notes), notes.length] as const;
  };
  test("quasi where plots of one density, or eight degrees of freedom, show the spread; binomial with a note elsewhere", () => {
    expect(choose(twice, undefined, 1)).toEqual(["quasi", 0]);
    expect(choose(twice, undefined, 0)).toEqual(["binomial", 1]);
    expect(choose(counts, undefined, 7)).toEqual(["binomial", 1]);
    expect(choose(counts, undefined, 8)).toEqual(["quasi", 0]);
    expect(choose(counts, "quasi", 1)).toEqual(["quasi", 0]);
    expect(choose(counts, "quasi", 0)).toEqual(["binomial", 1]);
    expect(choose(counts, "binomial", 9)).toEqual(["binomial", 0]);
    expect(choose(counts, "beta-binomial", 0)).toEqual(["beta-binomial", 0]);
  });
  test("shares are quasi and nothing else; beta-binomial needs whole counts and no bias reduction", () => {
    const shares = { ...counts, lodged: [0.1, 0.2, 0.3], examined: null };
    expect(choose(shares, undefined, 0)).toEqual(["quasi", 1]);
    expect(choose(shares, "quasi", 5)).toEqual(["quasi", 1]);
    refuses(() => choose(shares, "binomial", 5), "not-offered");
    refuses(() => choose(shares, "beta-binomial", 5), "not-offered");
    refuses(() => choose({ ...counts, lodged: [1, 2, 2.5] }, "beta-binomial", 5), "invalid-data");
    refuses(() => choose({ ...counts, examined: [10, 10, 9.5] }, "beta-binomial", 5), "invalid-data");
    refuses(() => choose(counts, "beta-binomial", 5, "firth"), "not-offered");
    refuses(() => choose(counts, "poisson" as "quasi", 5), "invalid-option");
  });
});

describe("noneLodged", () => {
  const data = {
    density: [30, 20, 30, 40],
    lodged: [0, 0, 0, 0],
    examined: [100, 200, 100, 200],
    block: ["1", "1", "1", "1"],
  };
  test("bounds 1 - 0.05^(1 / n), n the plants of this density and denser", () => {
    const none = noneLodged(data, 0.1, 0.95, 0);
    expect(none.examined).toBe(600);
    assertDigits(none.upper, 1 - 0.05 ** (1 / 600), 10);
    expect(none.statement).toBe("none of 600 plants: below 0.5 % at 95 %");
    expect(none.densities.map(({ density, examined }) => [density, examined])).toEqual([
      [20, 600],
      [30, 400],
      [40, 200],
    ]);
    none.densities.forEach(({ examined, upper }) => void assertDigits(upper, 1 - 0.05 ** (1 / examined), 10));
  });
  test("with a correlation of 0.01, 100 plants count as 100 / 1.99 and 200 as 200 / 2.99", () => {
    const { upper, densities, statement, examined } = noneLodged(data, 0.1, 0.9, 0.01);
    expect(examined).toBe(600);
    assertDigits(densities[2].upper, 1 - 0.1 ** (2.99 / 200), 10);
    assertDigits(upper, 1 - 0.1 ** (1 / ((2 * 100) / 1.99 + (2 * 200) / 2.99)), 10);
    // 1 - 0.1^(1 / 234.28) = 0.978 %, rounded upwards to two digits
    expect(statement).toBe(
      "none of 600 plants: below 0.98 % at 90 %, with a correlation of 0.01 between plants of a plot",
    );
  });
  test("the percentage is rounded upwards, and is kept where it is exact", () => {
    // 1 - level = (1 - u)^n: n = 1 gives u = level
    const one = (level: number) =>
      noneLodged({ ...data, density: [20], lodged: [0], examined: [1] }, 0.1, level, 0).statement;
    expect(one(0.95)).toBe("none of 1 plants: below 95 % at 95 %");
    expect(one(0.9)).toBe("none of 1 plants: below 90 % at 90 %");
    // 1 - 0.05^(1 / 59) = 4.951 % is at most 5 %
    expect(noneLodged({ ...data, density: [20], lodged: [0], examined: [59] }, 0.1, 0.95, 0).statement).toMatch(
      /below 5 %/,
    );
  });
  test("without counts there is no bound", () => {
    const none = noneLodged({ ...data, examined: null }, 0.1, 0.95, 0);
    expect(none).toMatchObject({ examined: null, upper: null, level: 0.95 });
    expect(none.statement).toMatch(/4 plots.*10 %/);
    expect(none.densities).toEqual([20, 30, 40].map((density) => ({ density, examined: 0, upper: null })));
  });
});

describe("shares and their borders", () => {
  test("0 and all of n end the intervals exactly at 0 and 1; the level is open at both ends", () => {
    expect(wilsonInterval(0, 10).lower).toBe(0);
    expect(wilsonInterval(10, 10).upper).toBe(1);
    // by symmetry
    assertDigits(wilsonInterval(10, 10).lower, 1 - wilsonInterval(0, 10).upper, 14);
    assertDigits(clopperPearsonInterval(10, 10).lower, 0.025 ** (1 / 10), 12);
    expect(clopperPearsonInterval(10, 10).upper).toBe(1);
    // 80 % Wilson limits from z = 1.2815515655446004: R, prop.test(3, 10, conf.level = 0.8, correct = FALSE)
    const z2 = 1.2815515655446004 ** 2;
    assertDigits(
      wilsonInterval(3, 10, 0.8).lower,
      (0.3 + z2 / 20 - Math.sqrt(z2 * (0.021 + z2 / 400))) / (1 + z2 / 10),
      12,
    );
    for (const level of [0, 1, -1, Number.NaN]) {
      refuses(() => wilsonInterval(1, 10, level), "invalid-option", /level/);
      refuses(() => clopperPearsonInterval(1, 10, level), "invalid-option", /level/);
      refuses(() => upperBoundWhenNone(10, level), "invalid-option", /level/);
    }
    for (const [events, trials] of [
      [-1, 10],
      [11, 10],
      [0, 0],
      [0, -5],
      [0, Infinity],
      [Number.NaN, 10],
    ]) {
      refuses(() => wilsonInterval(events, trials), "invalid-data");
      refuses(() => clopperPearsonInterval(events, trials), "invalid-data");
    }
    refuses(() => effectivePlants(0, 0.1), "invalid-data");
    refuses(() => effectivePlants(5, -0.1), "invalid-option");
    assertDigits(effectivePlants(21, 0.05), 10.5, 15); // 21 / (1 + 20 * 0.05)
  });
});

describe("predictLodging", () => {
  test("0 when nothing lodged, 1 when everything did, and an error without an estimate", () => {
    const density = [20, 30, 40];
    const none = fitLodging({ density, lodged: [0, 0, 0], examined: [50, 50, 50] });
    const all = fitLodging({ density, lodged: [50, 50, 50], examined: [50, 50, 50] });
    expect([none.status, all.status]).toEqual(["none-lodged", "all-lodged"]);
    expect(predictLodging(none, [10, 99])).toEqual([0, 0]);
    expect(predictLodging(all, [10, 99])).toEqual([1, 1]);
    refuses(() => lodgedShareCurve({ ...none, status: "singular" } as typeof none), "not-estimable", /singular/);
  });
});

describe("flags when nothing or everything lodged, by hand", () => {
  const density = [20, 30, 40];
  const examined = [10, 20, 30];
  test("none: 60, 50, 30 plants pooled; probability 0.9^n; the bound 1 - 0.05^(1 / n)", () => {
    const { method, flags, firstAbove } = standabilityFlags(fitLodging({ density, lodged: [0, 0, 0], examined }));
    expect(method).toBe("exact");
    [60, 50, 30].forEach((n, d) => {
      assertDigits(flags[d].probability, 0.9 ** n, 12);
      assertDigits(flags[d].interval.upper, 1 - 0.05 ** (1 / n), 12);
      expect(flags[d]).toMatchObject({ density: density[d], plots: 1, lodged: 0, examined: examined[d], share: 0 });
      expect(flags[d].interval).toMatchObject({ lower: 0, lowerOpen: false, upperOpen: false, level: 0.95 });
    });
    // 0.9^60 = 0.0018, 0.9^50 = 0.0052, 0.9^30 = 0.042: all at most 5 %
    expect(flags.map(({ state }) => state)).toEqual(["stands", "stands", "stands"]);
    // upper ends 4.9, 5.8 and 9.5 % stay below 10 %
    expect(firstAbove).toEqual({ lower: null, estimate: null, upper: null });
  });
  test("all: 10, 30, 60 plants pooled; probability 1 - 0.1^n", () => {
    const { flags, firstAbove } = standabilityFlags(fitLodging({ density, lodged: examined, examined }));
    [10, 30, 60].forEach((n, d) => {
      assertDigits(flags[d].probability, 1 - 0.1 ** n, 14);
      assertDigits(flags[d].interval.lower, 0.05 ** (1 / n), 12);
      expect(flags[d]).toMatchObject({ share: 1, state: "lodges" });
      expect(flags[d].interval.upper).toBe(1);
    });
    expect(firstAbove).toEqual({ lower: 20, estimate: 20, upper: 20 });
  });
  test("the verdicts change at 5, 50 and 95 %", () => {
    // the densest plot is judged by its own plants alone: probability (1 - tolerated)^n
    const state = (n: number, tolerated: number) =>
      standabilityFlags(fitLodging({ density, lodged: [0, 0, 0], examined: [n, n, n] }), { tolerated }).flags[2].state;
    expect(state(1, 0.96)).toBe("stands"); // 0.04
    expect(state(1, 0.75)).toBe("likely-stands"); // 0.0625
    expect(state(2, 0.3)).toBe("likely-stands"); // 0.49
    expect(state(2, 0.28)).toBe("likely-lodges"); // 0.5184
    expect(state(2, 0.03)).toBe("likely-lodges"); // 0.9409
    expect(state(2, 0.02)).toBe("lodges"); // 0.9604
  });
  test("options are checked at their borders", () => {
    const fit = fitLodging({ density, lodged: [0, 0, 0], examined });
    for (const bad of [0, 1, Number.NaN]) {
      refuses(() => standabilityFlags(fit, { tolerated: bad }), "invalid-option", /tolerated/);
      refuses(() => standabilityFlags(fit, { level: bad }), "invalid-option", /level/);
    }
    refuses(() => standabilityFlags(fit, { method: "exact" as "wald" }), "invalid-option", /method/);
    const shares = standabilityFlags(fitLodging({ density, lodged: [0, 0, 0], examined: null }));
    expect(shares).toMatchObject({ method: "exact", flags: [] });
    expect(shares.reason).toMatch(/^No lodging/);
  });
});

describe("crowdingSlope at its borders", () => {
  test("refuses what has no logarithm, lengths that differ, levels on or beyond the ends", () => {
    const good = { density: [1, 2, 4], trait: [4, 2, 1] };
    refuses(() => crowdingSlope({ density: [], trait: [] }), "invalid-data", /empty/);
    refuses(() => crowdingSlope({ ...good, trait: [1] }), "length-mismatch");
    refuses(() => crowdingSlope({ ...good, density: [0, 2, 4] }), "invalid-data", /density\[0\]/);
    refuses(() => crowdingSlope({ ...good, density: [1, Infinity, 4] }), "invalid-data", /density\[1\]/);
    refuses(() => crowdingSlope({ ...good, trait: [1, 2, 0] }), "invalid-data", /trait\[2\]/);
    refuses(() => crowdingSlope({ ...good, trait: [1, Infinity, 2] }), "invalid-data", /trait\[1\]/);
    for (const level of [0, 1]) refuses(() => crowdingSlope(good, { level }), "invalid-option");
  });
  test("one density: no slope; two plots: a slope without error; a perfect line: no p-value", () => {
    expect(crowdingSlope({ density: [3, 3, 3], trait: [1, 2, 3] })).toMatchObject({
      status: "not-estimable",
      slope: null,
      standardError: null,
      nobs: 3,
      dofResidual: 1,
    });
    const two = crowdingSlope({ density: [1, 4], trait: [4, 2] });
    expect(two).toMatchObject({
      status: "converged",
      standardError: null,
      interval: null,
      pValue: null,
      dofResidual: 0,
    });
    assertDigits(two.slope, -0.5, 14);
  });
  test("blocks are removed with their own sizes: hand-worked on ln x = 0, 1 | 0, 1, 2", () => {
    // ln y: block a 1, 3; block b 0, 1, 5. Within-block Sxx 0.5 + 2, Sxy 1 + 5, slope 2.4; Syy 2 + 14, RSS 16 - 14.4, 2 df.
    const fit = crowdingSlope(
      {
        density: [0, 1, 0, 1, 2].map(Math.exp),
        trait: [1, 3, 0, 1, 5].map(Math.exp),
        block: ["a", "a", "b", "b", "b"],
      },
      { level: 0.9 },
    );
    assertDigits(fit.slope, 2.4, 13);
    expect(fit.dofResidual).toBe(2);
    assertDigits(fit.standardError, Math.sqrt(1.6 / 2 / 2.5), 12);
    // t(0.95; 2) = 2.9199855803537 (tables); two-sided p for t with 2 df: 1 - t / sqrt(2 + t^2)
    assertDigits(fit.interval?.upper, 2.4 + 2.9199855803537 * Math.sqrt(0.32), 11);
    assertDigits(fit.interval?.lower, 2.4 - 2.9199855803537 * Math.sqrt(0.32), 11);
    const t = 2.4 / Math.sqrt(0.32);
    assertDigits(fit.pValue, 1 - t / Math.sqrt(2 + t * t), 9);
    expect(fit.interval).toMatchObject({ level: 0.9, method: "t", lowerOpen: false, upperOpen: false });
  });
});
