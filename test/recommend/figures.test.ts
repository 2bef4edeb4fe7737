import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { chanceWords, grainUnit, moneyWords, percent, round } from "../../src/recommend/cautions.ts";
import { estimateDraws, estimateQuantile, likely, scaled } from "../../src/recommend/estimate.ts";
import { figureOf, meanOf, quantileOf, rangeInterval } from "../../src/recommend/figure.ts";
import { lowerFactor, timesFactor } from "../../src/recommend/normalDraws.ts";
import { onSeedingAxis } from "../../src/recommend/onSeedingAxis.ts";
import { bestRate, isMore } from "../../src/recommend/returns.ts";
import { stripsFor } from "../../src/recommend/stripsFor.ts";
import { valueOfVarying } from "../../src/recommend/zoneWorth.ts";
import { assertDigits } from "../assertDigits.ts";

const range = { lowest: 2, likely: 3, highest: 6 };

describe("an estimate of three figures is a triangular distribution", () => {
  test("quantiles by area: left part 1/4 of the area, so u = 1/16 is half way up to the mode", () => {
    expect(estimateQuantile(range, 0)).toBe(2);
    assertDigits(estimateQuantile(range, 1 / 16), 2.5, 15);
    assertDigits(estimateQuantile(range, 1 / 4), 3, 15);
    assertDigits(estimateQuantile(range, 1 - 3 / 16), 4.5, 15); // the right triangle halved: a quarter of its 3/4 is left
    expect(estimateQuantile(range, 1)).toBe(6);
    expect(estimateQuantile(7, 0.01)).toBe(7);
    expect(estimateQuantile({ lowest: 4, likely: 4, highest: 4 }, 0.01)).toBe(4);
    assertDigits(estimateQuantile({ lowest: 0, likely: 0, highest: 1 }, 0.75), 0.5, 15);
    assertDigits(estimateQuantile({ lowest: 0, likely: 1, highest: 1 }, 0.25), 0.5, 15);
  });
  test("draws: every middle of equal shares once, shuffled; mean (2 + 3 + 6) / 3, variance (4 + 9 + 36 - 6 - 12 - 18) / 18", () => {
    const draws = estimateDraws(range, 5000, 3, 8);
    expect(Array.from(draws).sort((a, b) => a - b)).toEqual(
      Array.from({ length: 5000 }, (_, i) => estimateQuantile(range, (i + 0.5) / 5000)),
    );
    assertDigits(meanOf(draws), 11 / 3, 5); // midpoints of 5,000 shares
    expect(Math.abs(meanOf(draws.map((v) => (v - 11 / 3) ** 2)) - 13 / 18)).toBeLessThan(1e-3);
    expect(Array.from(draws.subarray(0, 50))).not.toEqual(Array.from(draws.subarray(0, 50)).sort((a, b) => a - b));
    expect(estimateDraws(range, 5000, 3, 8)).toEqual(draws);
    expect(estimateDraws(range, 5000, 3, 9)).not.toEqual(draws);
    expect(Array.from(estimateDraws(4, 3, 1, 1))).toEqual([4, 4, 4]);
  });
  test("likely and scaled", () => {
    expect([likely(5), likely(range)]).toEqual([5, 3]);
    expect([scaled(5, 2), scaled(range, 2)]).toEqual([10, { lowest: 4, likely: 6, highest: 12 }]);
  });
});

describe("figures from draws", () => {
  // R: quantile(c(1, 2, 4, 8, 16), c(.05, .95)) -> 1.2, 14.4; type 7
  test("mean 6.2 and the percentiles of R", () => {
    const figure = figureOf(Float64Array.of(8, 1, 16, 4, 2), 0.9);
    assertDigits(figure.mean, 6.2, 15);
    assertDigits(figure.interval.lower, 1.2, 13);
    assertDigits(figure.interval.upper, 14.4, 13);
    expect(figure.interval).toMatchObject({ level: 0.9, lowerOpen: false, upperOpen: false, method: "draws" });
    expect(quantileOf(Float64Array.of(1, Infinity, Infinity), 0.75)).toBe(Infinity);
    expect(quantileOf(Float64Array.of(1, 3), 0.5)).toBe(2);
  });
  test("draws beyond the tested range: open on their own side, the end of the range on the other", () => {
    const [low, high] = [Number.NEGATIVE_INFINITY, Number.POSITIVE_INFINITY];
    const of = (draws: number[]) => {
      const { lower, upper, lowerOpen, upperOpen } = rangeInterval(Float64Array.from(draws), [20, 40], 0.8);
      return [lower, upper, lowerOpen, upperOpen];
    };
    expect(of([30, 30, 30])).toEqual([30, 30, false, false]);
    expect(of([low, low, low, high, high, high])).toEqual([null, null, true, true]);
    expect(of([low, low, low])).toEqual([null, 20, true, false]);
    expect(of([high, high, high])).toEqual([40, null, false, true]);
  });
});

describe("onSeedingAxis", () => {
  const interval = { lower: 24, upper: 36, lowerOpen: false, upperOpen: false, level: 0.95, method: "profile" };
  test("a known share divides", () => {
    const seeds = onSeedingAxis({ ...interval, pieces: [{ lower: 24, upper: 36 }] }, 30, 0.75);
    assertDigits(seeds.lower, 32, 14);
    assertDigits(seeds.upper, 48, 14);
    expect(seeds).not.toHaveProperty("pieces");
    expect(seeds).toMatchObject({ level: 0.95, method: "profile" });
  });
  test("a doubtful share widens both sides: roots of sums of squares on the logarithm, by hand", () => {
    const share = { lowest: 0.6, likely: 0.75, highest: 0.9 };
    const seeds = onSeedingAxis(interval, 30, share);
    // 0.025-quantile of the triangle: 0.6 + sqrt(0.025 * 0.3 * 0.15); by symmetry 0.9 - the same above
    const reach = Math.sqrt(0.025 * 0.3 * 0.15);
    const side = (own: number, s: number) => 40 * Math.exp(Math.sign(own) * Math.hypot(own, Math.log(s / 0.75)));
    assertDigits(seeds.lower, side(Math.log(24 / 30), 0.9 - reach), 13);
    assertDigits(seeds.upper, side(Math.log(36 / 30), 0.6 + reach), 13);
    // the end of a range is only divided
    const end = onSeedingAxis(interval, null, share);
    assertDigits(end.lower, 32, 14);
    assertDigits(end.upper, 48, 14);
    expect(onSeedingAxis({ ...interval, lower: null, lowerOpen: true }, 30, share).lower).toBeNull();
  });
});

describe("lowerFactor", () => {
  test("L L' is the matrix; a direction without variance gets none", () => {
    const l = lowerFactor([
      [4, 2, -2],
      [2, 10, 2],
      [-2, 2, 11],
    ]);
    expect(l.map((row) => Array.from(row))).toEqual([
      [2, 0, 0],
      [1, 3, 0],
      [-1, 1, 3],
    ]);
    expect(
      lowerFactor([
        [0, 0],
        [0, 9],
      ]).map((row) => Array.from(row)),
    ).toEqual([
      [0, 0],
      [0, 3],
    ]);
    expect(
      lowerFactor([
        [1, 1],
        [1, 1],
      ]).map((row) => Array.from(row)),
    ).toEqual([
      [1, 0],
      [1, 0],
    ]);
  });
  test("draws have the covariance scale^2 V: 20,000 of them, within five standard errors", () => {
    const v = [
      [4, 2],
      [2, 10],
    ];
    const random = streamRandom(9, 0);
    const factor = lowerFactor(v);
    const sums = [0, 0, 0];
    for (let i = 0; i < 20_000; i++) {
      const [a, b] = timesFactor(factor, random, 0.5);
      sums[0] += a * a;
      sums[1] += a * b;
      sums[2] += b * b;
    }
    // standard error of a second moment: sqrt((v_ij^2 + v_ii v_jj) / n) / 4
    [4, 2, 10].forEach((expected, k) => {
      const own = [v[0][0] ** 2 * 2, v[0][1] ** 2 + 40, v[1][1] ** 2 * 2][k];
      expect(Math.abs(sums[k] / 20_000 - expected / 4)).toBeLessThan((5 * Math.sqrt(own / 20_000)) / 4);
    });
  });
});

describe("bestRate and isMore", () => {
  test("peaks inside are found to a millionth of the range, ends exactly, the lowest among equals", () => {
    expect(Math.abs(bestRate((x) => -((x - 31.2345) ** 2), [20, 40]) - 31.2345)).toBeLessThan(2e-5);
    expect(bestRate((x) => x, [20, 40])).toBe(40);
    expect(bestRate((x) => -x, [20, 40])).toBe(20);
    expect(bestRate(() => 5, [20, 40])).toBe(20);
    // the higher of two humps
    const humps = (x: number) => Math.max(3 - Math.abs(x - 24), 4 - Math.abs(x - 37));
    expect(Math.abs(bestRate(humps, [20, 40]) - 37)).toBeLessThan(1e-4);
  });
  test("a billionth more is no more", () => {
    expect(isMore(100 + 1e-8, 100)).toBe(false);
    expect(isMore(100 + 1e-6, 100)).toBe(true);
    expect(isMore(-100 + 1e-8, -100)).toBe(false);
    expect(isMore(-100 + 1e-6, -100)).toBe(true);
    expect(isMore(1e-8, 0)).toBe(true);
    expect(isMore(0, 0)).toBe(false);
  });
});

test("stripsFor: R, smallest n in 3 .. 40 with (qt(1 - alpha / 2, n - 1) + qt(power, n - 1)) s sqrt(2 / n) <= d", () => {
  const replicates = (...given: Parameters<typeof stripsFor>) => stripsFor(...given).replicates;
  expect(replicates([30, 34], 6, 5)).toBe(11);
  expect(replicates([30, 34], -6, 5)).toBe(11);
  expect(replicates([30, 34], 60, 5)).toBe(3);
  expect(replicates([30, 34], 2.85, 5)).toBe(40);
  expect(replicates([30, 34], 2.8, 5)).toBeNull();
  expect(stripsFor([34, 30, 32], 6, 5)).toMatchObject({
    rates: [30, 32, 34],
    most: 40,
    power: 0.8,
    alpha: 0.1,
    sigma: 5,
  });
  expect(stripsFor([30], 6, null)).toMatchObject({ replicates: null, sigma: null, difference: 6 });
});

test("value of varying: money less the same and the cost, draw by draw; a draw of nothing counts half", () => {
  const value = valueOfVarying(Float64Array.of(10, 12, 9, 15), Float64Array.of(8, 11, 9, 12), 1, 50, 0.5);
  // differences 1, 0, -1, 2
  expect(value).toMatchObject({ perArea: 0.01, cost: 1, probability: 0.625 });
  expect(value.total.mean).toBe(0.5);
});

describe("words", () => {
  test("money: sign in front, thousands parted, words behind", () => {
    expect(moneyWords(12.3, "$")).toBe("$12.30");
    expect(moneyWords(-12.3, "$")).toBe("-$12.30");
    expect(moneyWords(1234567.891, "EUR")).toBe("1,234,567.89 EUR");
    expect(moneyWords(-1000, "")).toBe("-1,000.00");
    expect(moneyWords(-0.004, "$")).toBe("$0.00");
    expect(moneyWords(999.999, "$")).toBe("$1,000.00");
  });
  test("percent with three digits, two below 10 %; chances never certain; digits", () => {
    expect([percent(0.1), percent(0.1234), percent(0.0567), percent(0), percent(1)]).toEqual([
      "10 %",
      "12.3 %",
      "5.7 %",
      "0 %",
      "100 %",
    ]);
    expect([1, 0.991, 0.99, 0.634, 0.01, 0.009, 0].map(chanceWords)).toEqual([
      "more than 99 %",
      "more than 99 %",
      "99 %",
      "63 %",
      "1 %",
      "less than 1 %",
      "less than 1 %",
    ]);
    expect([round(1234.5), round(0.0012345), round(98.76, 2)]).toEqual(["1230", "0.00123", "99"]);
    expect(grainUnit("bu/ac")).toBe("bu");
  });
});
