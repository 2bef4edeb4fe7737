import { mean as packageMean, sampleStandardDeviation } from "simple-statistics";
import { describe, expect, test } from "vitest";
import { fUpper } from "../../src/numeric/distributions.ts";
import { sum2 } from "../../src/numeric/doubleDouble.ts";
import { leastSquares } from "../../src/numeric/leastSquares.ts";
import { assertDigits } from "../assertDigits.ts";
import anova from "../oracle/nist_anova.json" with { type: "json" };
import univariate from "../oracle/nist_univariate.json" with { type: "json" };

// Digits that the data themselves leave (their decimals are rounded to doubles first): NumAcc3 about 1e6 + 0.1 and NumAcc4
// about 1e7 + 0.1 in steps of 0.1, so a deviation of 0.1 keeps 9 and 8 digits.
const reachable: Readonly<Record<string, number>> = { NumAcc3: 9, NumAcc4: 8 };

describe("NIST StRD univariate sets", () => {
  for (const { name, data, certified } of univariate.sets) {
    test(`${name}: mean, standard deviation and lag-1 autocorrelation`, () => {
      const bar = reachable[name] ?? 11;
      const fit = leastSquares([data.map(() => 1)], data);
      assertDigits(fit.coef[0], certified.mean, 14, "mean by least squares");
      assertDigits(fit.sigma, certified.sd, bar, "standard deviation by least squares");
      assertDigits(packageMean(data), certified.mean, 13, "mean of the package");
      assertDigits(sampleStandardDeviation(data), certified.sd, bar, "standard deviation of the package");
      const r = fit.residuals;
      const lagged = sum2(Array.from(r.subarray(1), (v, i) => v * r[i]));
      assertDigits(lagged / fit.rss, certified.lag1_autocorrelation, bar - 1, "lag-1 autocorrelation");
    });
  }
});

describe("NIST StRD one-way analysis of variance", () => {
  for (const { name, data, certified } of anova.sets) {
    // SmLs07 and SmLs08 hold values of 1e12 in steps of 0.1, which doubles round to steps of 2^-13 = 0.0001: the answer of the
    // rounded data itself differs from the certified one in the fourth digit (see the exact test below)
    const bar = name.startsWith("SmLs07") || name.startsWith("SmLs08") ? 3 : 9;
    test(`${name} to ${bar} digits`, () => {
      const y = data.flat();
      const groups = data.map((_, g) => data.flatMap((values, k) => values.map(() => (k === g ? 1 : 0))));
      const full = leastSquares(groups, y);
      const none = leastSquares([y.map(() => 1)], y);
      // between-groups sum from the means, not as a difference of two large sums
      const between = sum2(data.map((values, g) => values.length * (full.coef[g] - none.coef[0]) ** 2));
      assertDigits(full.rss, certified.within_ss, bar, "within");
      assertDigits(between, certified.between_ss, bar, "between");
      const f = between / certified.between_df / (full.rss / full.dofResidual);
      assertDigits(f, certified.f_statistic, bar, "F");
      assertDigits(full.sigma, certified.residual_sd, bar, "residual sd");
      expect(full.dofResidual).toBe(certified.within_df);
      expect(fUpper(f, certified.between_df, certified.within_df)).toBeGreaterThan(0);
    });
  }

  for (const { name, data } of anova.sets.filter((set) => /SmLs0[78]/.test(set.name))) {
    test(`${name} to 9 digits of the exact answer for the data as doubles hold them`, () => {
      // multiples of 2^-13 (doubles near 1e12) as whole numbers; everything below is exact until the last division
      const whole = data.map((values) => values.map((v) => BigInt(Math.round((v - 1e12) * 8192))));
      const total = whole.flat();
      const sum = (values: readonly bigint[]): bigint => values.reduce((a, b) => a + b, 0n);
      const square = (values: readonly bigint[]): bigint => values.reduce((a, b) => a + b * b, 0n);
      const m = BigInt(whole[0].length);
      const n = BigInt(total.length);
      const within = m * square(total) - sum(whole.map((values) => sum(values) ** 2n)); // times m
      const between = n * sum(whole.map((values) => sum(values) ** 2n)) - m * sum(total) ** 2n; // times m n
      const y = data.flat();
      const full = leastSquares(
        data.map((_, g) => data.flatMap((values, k) => values.map(() => (k === g ? 1 : 0)))),
        y,
      );
      const none = leastSquares([y.map(() => 1)], y);
      assertDigits(full.rss, Number(within) / Number(m) / 8192 ** 2, 9, "within");
      assertDigits(none.rss - full.rss, Number(between) / Number(m * n) / 8192 ** 2, 9, "between");
    });
  }
});
