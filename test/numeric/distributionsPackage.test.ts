import jstat from "jstat";
import { expect, test } from "vitest";
import * as ours from "../../src/numeric/distributions.ts";

// A second opinion from a general-purpose package (jstat 1.9.6). It stops at about seven digits (its incomplete beta at 3e-7) and its
// last bits are the engine's, so results never rest on it; the exact oracle is distributions.json.
const SIX_DIGITS = 1e-6;

const agree = (a: number, b: number): void => expect(Math.abs(a - b) / Math.abs(b)).toBeLessThan(SIX_DIGITS);

test.each([0.025, 0.2, 0.5, 0.9, 0.975, 0.995])("quantiles at %f agree with the package to its six digits", (p) => {
  for (const df of [3, 8.5, 40]) {
    if (p !== 0.5) agree(ours.tQuantile(p, df), jstat.studentt.inv(p, df));
    agree(ours.chiSquareQuantile(p, df), jstat.chisquare.inv(p, df));
    agree(ours.fQuantile(p, 3, df), jstat.centralF.inv(p, 3, df));
    agree(ours.gammaQuantile(p, df), jstat.gamma.inv(p, df, 1));
    agree(ours.betaQuantile(p, 2.5, df), jstat.beta.inv(p, 2.5, df));
  }
});

test("distribution functions agree with the package to its six digits", () => {
  for (const x of [0.3, 1, 2.2, 4]) {
    agree(ours.normalCdf(x), jstat.normal.cdf(x, 0, 1));
    agree(ours.tCdf(x, 7), jstat.studentt.cdf(x, 7));
    agree(ours.fCdf(x, 3, 17), jstat.centralF.cdf(x, 3, 17));
    agree(ours.chiSquareCdf(x, 5), jstat.chisquare.cdf(x, 5));
    agree(ours.gammaCdf(x, 2.5), jstat.gamma.cdf(x, 2.5, 1));
    agree(ours.studentizedRangeCdf(x, 4, 12), jstat.tukey.cdf(x, 4, 12));
  }
});
