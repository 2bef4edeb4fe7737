import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { diagnose } from "../../src/derive/diagnose.ts";
import type { Check, CheckName } from "../../src/derive/diagnoseCheck.ts";
import { shapiroWilk } from "../../src/derive/diagnoseNormality.ts";
import { durbinWatson } from "../../src/derive/diagnosePosition.ts";
import { brownForsythe } from "../../src/derive/diagnoseSpread.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { normalQuantile } from "../../src/numeric/distributions.ts";
import { assertDigits } from "../assertDigits.ts";
import { dummies, plainRss } from "../bruteForce.ts";
import oracle from "../oracle/shapiro.json" with { type: "json" };

/** Minimal standard generator (Park & Miller 1988), exact in double: the same numbers as in test/oracle/shapiro.R. */
function uniform(n: number, seed: number): number[] {
  let s = seed;
  return Array.from({ length: n }, () => {
    s = (16807 * s) % 2147483647;
    return s / 2147483647;
  });
}

interface Field {
  readonly density: number[];
  readonly yield: number[];
  readonly block: number[];
  readonly order: number[];
}

/** Invented trial; `shape` adds to the yield of the plot at that place in the field. */
function trial(seed: number, { blocks = 5, sd = 4, shape = (_place: number, _x: number): number => 0 } = {}): Field {
  const random = streamRandom(seed, 0);
  const density: number[] = [];
  const block: number[] = [];
  const yields: number[] = [];
  for (let b = 0; b < blocks; b++) {
    const own = [18, 23, 28, 33, 38, 43];
    for (let k = own.length - 1; k > 0; k--) {
      const j = random.below(k + 1);
      [own[k], own[j]] = [own[j], own[k]];
    }
    for (const x of own) {
      const place = density.length;
      density.push(x);
      block.push(b + 1);
      yields.push(198 - 0.1 * Math.max(34 - x, 0) ** 2 + sd * random.normal() + shape(place, x));
    }
  }
  return { density, block, yield: yields, order: density.map((_, i) => i + 1) };
}

const find = (checks: readonly Check[], name: CheckName): Check => checks.find((one) => one.name === name) as Check;

describe("tests against R", () => {
  for (const { n, shape, w, p } of oracle.shapiro) {
    test(`Shapiro-Wilk of ${n} ${shape} values`, () => {
      const u = uniform(n, n + 7);
      const values =
        shape === "normal"
          ? u.map(normalQuantile)
          : shape === "uniform"
            ? u
            : u.map((v) => Math.exp(2 * normalQuantile(v)));
      const result = shapiroWilk(values);
      assertDigits(result?.w, w, 8, "W");
      // p of values near 1e-40 is a far normal tail of a transform of 1 - W: it keeps fewer digits than W.
      assertDigits(result?.p, p, p > 1e-12 ? 7 : 5, "p");
    });
  }

  test("Brown-Forsythe is the analysis of variance of absolute deviations from the group medians", () => {
    const { y, g, f, p } = oracle.brown_forsythe;
    const groups = [1, 2, 3, 4, 5].map((k) => y.filter((_, i) => g[i] === k));
    const result = brownForsythe(groups);
    assertDigits(result?.f, f, 10);
    assertDigits(result?.p, p, 9);
    expect(result?.dof).toEqual([4, 25]);
  });

  test("Durbin-Watson of 1, -1, 1, -1 is 3, by hand", () => {
    expect(durbinWatson([1, -1, 1, -1], [[0, 1, 2, 3]])).toBe(3);
  });
});

describe("diagnose", () => {
  test("externally studentised residuals are those of a mean-shift model for the plot", () => {
    const data = trial(3);
    const { rows, decision } = diagnose(data);
    // The chosen curve is linear in its coefficients only for line and parabola: choose one of them.
    const forced = decision.family === "quadratic" ? rows : diagnose(data, { families: ["quadratic"] }).rows;
    const one = data.density.map(() => 1);
    const columns = [...dummies(data.block), data.density.map((x) => x - 30), data.density.map((x) => (x - 30) ** 2)];
    const full = plainRss(columns, data.yield, one);
    const dof = data.density.length - columns.length;
    for (const i of [0, 7, 19]) {
      const shifted = plainRss([...columns, data.density.map((_, k) => (k === i ? 1 : 0))], data.yield, one);
      // F of one extra coefficient is t squared.
      const f = (full - shifted) / (shifted / (dof - 1));
      assertDigits((forced[i].studentised as number) ** 2, f, 8, `plot ${i}`);
    }
  });

  test("clean trials raise few alarms: every check keeps its level", () => {
    const hits: Partial<Record<CheckName, number>> = {};
    const runs = 150;
    for (let s = 0; s < runs; s++) {
      for (const { name, p } of diagnose(trial(s + 1000)).checks) {
        if (p !== null && p < 0.05) hits[name] = (hits[name] ?? 0) + 1;
      }
    }
    // 5 % of 150 is 7.5 with a standard deviation of 2.7. The chosen curve is fitted first, and Brown-Forsythe with 5 plots a
    // density is known to be conservative, so only the upper side is asked for: 4 standard deviations more.
    for (const [name, count] of Object.entries(hits)) expect(count, name).toBeLessThan(19);
  });

  test("an outlier is named, and what it does to the optimum is said", () => {
    const data = trial(5);
    const low = data.density.indexOf(43);
    const spoiled = { ...data, yield: data.yield.map((y, i) => (i === low ? y - 45 : y)) };
    const outliers = find(diagnose(spoiled).checks, "outliers");
    expect(outliers.plots).toEqual([low + 1]);
    expect(outliers.verdict).not.toBe("fine");
    expect(outliers.effect?.sentence).toMatch(/^the agronomic optimum (rises|falls|stays|changes)/);
    const without = (values: number[]): number[] => values.filter((_, i) => i !== low);
    const refit = diagnose({ density: without(data.density), yield: without(data.yield), block: without(data.block) });
    expect(outliers.effect?.decision).toEqual(refit.decision);
    expect(find(diagnose(spoiled).checks, "normality").verdict).not.toBe("fine");
  });

  test("scatter that grows with density is found", () => {
    let found = 0;
    for (let s = 0; s < 40; s++) {
      const random = streamRandom(s, 9);
      const data = trial(s, { blocks: 10, sd: 0.5, shape: (_, x) => random.normal() * (x - 16) });
      const check = find(diagnose(data).checks, "spread-by-density");
      if (check.p !== null && check.p < 0.05) found++;
      expect(check.effect?.remedy).toContain("scatter");
    }
    // Chance alone gives 2 of 40. The test is known for its low power with ten values a group, and block means spread the scatter.
    expect(found).toBeGreaterThan(15);
  });

  test("a drift along the field is found and taken off; the adjusted optimum is that of the drift-free trial", () => {
    const shape = (place: number): number => 1.6 * place;
    let found = 0;
    let closer = 0;
    for (let s = 0; s < 30; s++) {
      const drifted = diagnose(trial(s, { shape }), { families: ["quadratic"] });
      const clean = diagnose(trial(s), { families: ["quadratic"] });
      const trend = find(drifted.checks, "position-trend");
      if (trend.p !== null && trend.p < 0.05) found++;
      const truth = clean.decision.agronomic.density as number;
      const naive = Math.abs((drifted.decision.agronomic.density as number) - truth);
      const adjusted = Math.abs((trend.effect?.decision?.agronomic?.density as number) - truth);
      if (adjusted <= naive) closer++;
    }
    expect(found).toBeGreaterThan(12);
    expect(closer).toBeGreaterThan(20);
  });

  test("neighbours that are alike are found", () => {
    let found = 0;
    for (let s = 0; s < 30; s++) {
      const wave = streamRandom(s, 4).next() * 6;
      const data = trial(s, { sd: 1, blocks: 6, shape: (place) => 6 * Math.sin(wave + place / 1.1) });
      const check = find(diagnose(data).checks, "neighbours");
      if (check.p !== null && check.p < 0.05) found++;
    }
    expect(found).toBeGreaterThan(20);
  });

  test("where density runs along the field, trend and density are not told apart", () => {
    const data = trial(2, { blocks: 1 });
    const sorted = {
      ...data,
      density: [18, 23, 28, 33, 38, 43, 18, 23, 28, 33, 38, 43],
      block: Array(12).fill(1),
      order: [1, 3, 5, 7, 9, 11, 2, 4, 6, 8, 10, 12],
    };
    const y = sorted.density.map((x, i) => 198 - 0.1 * Math.max(34 - x, 0) ** 2 + (i % 3));
    const trend = find(diagnose({ ...sorted, yield: y }).checks, "position-trend");
    expect(trend.verdict).toBe("not-tested");
    expect(trend.message).toContain("cannot be told from density");
  });

  test("a curve that misses the density means is told by lack of fit, with the best density mean as effect", () => {
    const random = streamRandom(1, 0);
    const base = trial(1, { sd: 0 });
    const data = { ...base, yield: base.density.map((x) => (x === 28 ? 215 : x < 28 ? 190 : 195) + random.normal()) };
    const check = find(diagnose(data).checks, "mean-by-density");
    expect(check.verdict).not.toBe("fine");
    expect(check.effect?.decision?.agronomic?.density).toBe(28);
  });

  test("the same seed gives the same bytes; bad arguments have codes; results are plain JSON", () => {
    const data = trial(4);
    const result = diagnose(data);
    expect(JSON.stringify(diagnose(data))).toBe(JSON.stringify(result));
    expect(JSON.parse(JSON.stringify(result))).toEqual(result);
    expect(JSON.stringify(result)).not.toMatch(/NaN|Infinity/);
    expect(() => diagnose({ ...data, order: [1] })).toThrow(expect.objectContaining({ code: "length-mismatch" }));
    expect(() => diagnose(data, { alpha: 0 })).toThrow(expect.objectContaining({ code: "invalid-option" }));
    expect(() => diagnose({ density: [1, 2, 3], yield: [1, 2, 3] })).toThrow(
      expect.objectContaining({ code: "not-estimable" }),
    );
    expect(fitCurve("quadratic", data).status).toBe("converged");
  });
});
