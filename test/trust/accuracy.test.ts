/**
 * Correct digits on certified and reference answers. Two floors: the bars of bars.json, which come from outside, and the whole digits
 * that we had (floors.json, a ratchet: it holds our own measurements and proves nothing by itself, but a lost digit fails).
 * `npm run accuracy` writes bench/accuracy.md and raises the ratchet.
 */
import { describe, expect, test } from "vitest";
import anova from "../oracle/nist_anova.json" with { type: "json" };
import univariate from "../oracle/nist_univariate.json" with { type: "json" };
import { barOf, bars, keyOf, OF_R } from "./bar.ts";
import { distributionScores } from "./distributionScores.ts";
import floors from "./floors.json" with { type: "json" };
import { exactSums } from "./nistScores.ts";
import { digitsOf, type Score } from "./score.ts";
import { areas } from "./scorecard.ts";

const slow = process.env.STANDCURVE_SLOW === "1";
const ratchet = floors.floors as Readonly<Record<string, number>>;
const seen = new Set<string>();

test("digits are those of the log relative error, between 0 and 15", () => {
  expect(digitsOf(1.0001, 1)).toBeCloseTo(4, 6);
  expect(digitsOf(0.001, 0)).toBeCloseTo(3, 12);
  expect([digitsOf(2, 2), digitsOf(null, 2), digitsOf(Number.NaN, 2), digitsOf(7, 2)]).toEqual([15, 0, 0, 0]);
});

describe("no figure is under its bar, and none loses a digit", () => {
  for (const [area, measure] of Object.entries(areas)) {
    // Minutes only where many processes share the machine.
    test(area, { timeout: 600_000 }, () => {
      const measured = area === "Distribution functions" ? distributionScores(slow) : measure();
      const scores = measured.filter(({ figure }) => figure !== OF_R);
      for (const score of scores) seen.add(keyOf(score));
      expect(scores.map(lost).filter((text) => text !== null)).toEqual([]);
    });
  }

  test("every stored floor was measured, those beside the repository where the folder is there", () => {
    const beside = floors.beside as readonly string[];
    const missing = Object.keys(ratchet).filter((key) => !seen.has(key) && !beside.includes(key));
    expect(missing).toEqual([]);
  });
});

describe("what no method on doubles can reach, by whole-number arithmetic on the data as read", () => {
  for (const { name, data, certified } of anova.sets.filter((set) => /SmLs0[78]/.test(set.name))) {
    test(`${name}: the exact answer of the data as read has ${name === "SmLs07t" ? 4 : 3} of the certified digits`, () => {
      const exact = exactSums(data);
      const fewest = Math.min(
        digitsOf(exact.between, certified.between_ss),
        digitsOf(exact.within, certified.within_ss),
      );
      expect(Math.floor(fewest)).toBe(bars.find(({ set }) => set === name)?.reachable);
    });
  }
  test("NumAcc4: 8 of the certified digits of the standard deviation", () => {
    const { data, certified } = univariate.sets.find(({ name }) => name === "NumAcc4")!;
    // doubles near 1e7 are multiples of 2^-29
    const whole = data.map((v) => BigInt(Math.round((v - 1e7) * 2 ** 29)));
    const n = BigInt(whole.length);
    const sum = whole.reduce((total, v) => total + v, 0n);
    const squares = n * whole.reduce((total, v) => total + v * v, 0n) - sum * sum;
    const sd = Math.sqrt(Number(squares) / Number(n * (n - 1n))) / 2 ** 29;
    expect(Math.floor(digitsOf(sd, certified.sd))).toBe(bars.find(({ set }) => set === "NumAcc4")?.reachable);
  });
});

/** What was lost, in words; null when nothing was. */
function lost(score: Score): string | null {
  const { digits, reachable } = barOf(score);
  const bar = reachable ?? digits;
  if (!(score.digits >= bar)) return `${keyOf(score)}: ${score.digits.toFixed(2)} digits, the bar is ${bar}`;
  const floor = ratchet[keyOf(score)];
  if (floor === undefined) return `${keyOf(score)}: has no floor yet; run \`node bench/accuracy.mjs\``;
  return score.digits >= floor ? null : `${keyOf(score)}: ${score.digits.toFixed(2)} digits, it had ${floor}`;
}
