import { describe, expect, test } from "vitest";
import type { Interval } from "../../src/core/interval.ts";
import { intervalCell, intervalText, nearBestText, optimumCell } from "../../src/report/intervalWords.ts";
import { densityWords, wordsFor } from "../../src/report/words.ts";
import type { DensityUnit } from "../../src/trial/trial.ts";
import { oddTrials } from "./oddTrials.ts";

const show = (x: number): string => x.toFixed(1);

function interval(lower: number | null, upper: number | null, pieces?: Interval["pieces"]): Interval {
  const ends = { lower, upper, lowerOpen: lower === null, upperOpen: upper === null, level: 0.95, method: "envelope" };
  return pieces === undefined ? ends : { ...ends, pieces };
}

describe("intervals in words", () => {
  test("an open end is said as such, never as a number", () => {
    expect(intervalText(interval(26.4, 30.6), show)).toBe("26.4 to 30.6");
    expect(intervalText(interval(28.9, null), show)).toBe("28.9 or more");
    expect(intervalText(interval(null, 22.5), show)).toBe("22.5 or less");
    expect(intervalText(interval(null, null), show)).toBe("not bounded");
  });

  test("the unit stands before 'or more' and after a pair", () => {
    expect(intervalText(interval(28.9, null), show, "plants/m2")).toBe("28.9 plants/m2 or more");
    expect(intervalText(interval(26.4, 30.6), show, "plants/m2")).toBe("26.4 to 30.6 plants/m2");
  });

  test("separate parts are all named, and a table cell that shows the outer ends is starred", () => {
    const parts = interval(null, 29.3, [
      { lower: null, upper: 17 },
      { lower: 24.1, upper: 29.3 },
    ]);
    expect(intervalText(parts, show, "thousand")).toBe("17.0 thousand or less, or 24.1 to 29.3 thousand");
    expect(intervalCell(parts, show)).toBe("29.3 or less *");
  });

  test("open at both ends with a gap between is not 'not bounded'", () => {
    const gap = interval(null, null, [
      { lower: null, upper: 20 },
      { lower: 30, upper: null },
    ]);
    expect(intervalText(gap, show)).toBe("20.0 or less, or 30.0 or more");
    expect(intervalCell(gap, show)).toBe("not bounded *");
  });

  test("an interval without ends that is not open either is none: there is no scatter to judge it by", () => {
    expect(intervalText({ ...interval(null, null), lowerOpen: false, upperOpen: false }, show)).toBe("none");
  });

  test("an optimum at an end of the tested range is there or beyond", () => {
    expect(optimumCell("upper-edge", 42, show, "thousand")).toBe("42.0 thousand or more");
    expect(optimumCell("lower-edge", 18, show)).toBe("18.0 or less");
    expect(optimumCell("interior", 28.9, show)).toBe("28.9");
    expect(optimumCell("none", null, show)).toBe("none");
  });

  test("near-best ranges with a gap name both parts", () => {
    const range = { loss: 1, lower: 17, upper: 41, lowerAtEdge: true, upperAtEdge: true };
    expect(nearBestText(range, show)).toBe("17.0 to 41.0");
    expect(nearBestText({ ...range, pieces: [[17, 18.2] as const, [35, 41] as const] }, show)).toBe(
      "17.0 to 18.2 or 35.0 to 41.0",
    );
  });
});

describe("densities in words", () => {
  test.each<[DensityUnit, number, number, string, string]>([
    ["plants/ac", 42_000, 28_865, "28.9 thousand plants/ac", "28,900 seeds/ac"],
    ["1000 plants/ac", 42, 28.865, "28.9 thousand plants/ac", "28,900 seeds/ac"],
    ["plants/ha", 110_000, 71_328, "71.3 thousand plants/ha", "71,300 seeds/ha"],
    ["1000 plants/ha", 400, 301.27, "301 thousand plants/ha", "301,000 seeds/ha"],
    ["plants/m2", 10.4, 7.1328, "7.13 plants/m2", "7.13 seeds/m2"],
    ["plants/m2", 400, 301.27, "301 plants/m2", "301 seeds/m2"],
    ["plants/ft2", 0.96, 0.66627, "0.666 plants/ft2", "0.666 seeds/ft2"],
  ])("%s up to %d: %d is %s and %s", (unit, highest, x, plants, seeds) => {
    const words = densityWords(unit, "mean-stand", highest);
    expect(`${words.density(x)} ${words.densityUnit}`).toBe(plants);
    expect(`${words.seeds(x)} ${words.seedUnit}`).toBe(seeds);
  });

  test("on the seeding-rate axis the unit counts seeds", () => {
    expect(densityWords("1000 plants/ac", "seeding-rate", 42).densityUnit).toBe("thousand seeds/ac");
  });
});

describe("money in words", () => {
  const analysis = oddTrials["one hybrid"]?.();
  if (analysis === undefined) throw new Error("the trial is missing");

  test("without a currency it is a bare number, a sign goes before it and a word behind", () => {
    expect(wordsFor(analysis).moneyPerArea(3.2)).toBe("3.20 per ac");
    expect(wordsFor(analysis, "$").moneyPerArea(-3.2)).toBe("-$3.20 per ac");
    expect(wordsFor(analysis, "EUR").moneyPerArea(1234.56)).toBe("1,235 EUR per ac");
  });

  test("seed cost goes from money per density unit back to money per 1,000 seeds", () => {
    expect(wordsFor(analysis).seedCost(3.75)).toBe("3.75");
  });
});
