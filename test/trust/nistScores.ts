import { analyseStrata } from "../../src/mixed/analyseStrata.ts";
import { sum2 } from "../../src/numeric/doubleDouble.ts";
import { leastSquares } from "../../src/numeric/leastSquares.ts";
import { levenbergMarquardt } from "../../src/numeric/levenbergMarquardt.ts";
import { linearDesign, linearSets, nonlinearProblem } from "../numeric/nistSets.ts";
import anova from "../oracle/nist_anova.json" with { type: "json" };
import nonlinear from "../oracle/nist_nonlinear.json" with { type: "json" };
import univariate from "../oracle/nist_univariate.json" with { type: "json" };
import { collect, type Score } from "./score.ts";

/** NIST StRD linear sets by the least-squares door. */
export function linearScores(): Score[] {
  const { add, scores } = collect("NIST StRD linear");
  for (const set of linearSets) {
    const fit = leastSquares(linearDesign(set), set.data["y"]);
    set.certified.parameters.forEach((b, j) => void add(set.name, "parameters", fit.coef[j], b));
    set.certified.standard_errors.forEach((s, j) => void add(set.name, "standard errors", fit.stderror?.[j], s));
    add(set.name, "residual sum of squares", fit.rss, set.certified.residual_ss);
  }
  return scores();
}

/** NIST StRD nonlinear sets by the general solver, from both official starts. */
export function nonlinearScores(): Score[] {
  const { add, scores } = collect("NIST StRD nonlinear");
  for (const set of nonlinear.sets) {
    for (const [k, start] of [set.start1, set.start2].entries()) {
      const name = `${set.name}, start ${k + 1}`;
      const fit = levenbergMarquardt(nonlinearProblem(set.model, set.p, set.data.x, set.data.y), start);
      const converged = fit.status === "converged";
      set.certified.parameters.forEach((b, j) => void add(name, "parameters", converged ? fit.theta[j] : null, b));
      // Lanczos1 has no error: its sum of squares (1e-25) and standard errors are what rounding to 14 digits leaves.
      if (set.name === "Lanczos1") continue;
      set.certified.standard_errors.forEach((s, j) => void add(name, "standard errors", fit.stderror?.[j], s));
      add(name, "residual sum of squares", fit.rss, set.certified.residual_sum_of_squares);
    }
  }
  return scores();
}

/** NIST StRD univariate sets: mean and standard deviation by the fit of a flat response, lag-1 autocorrelation of its residuals. */
export function univariateScores(): Score[] {
  const { add, scores } = collect("NIST StRD univariate");
  for (const { name, data, certified } of univariate.sets) {
    const fit = leastSquares([data.map(() => 1)], data);
    const r = fit.residuals;
    add(name, "mean", fit.coef[0], certified.mean);
    add(name, "standard deviation", fit.sigma, certified.sd);
    const lagged = sum2(Array.from(r.subarray(1), (v, i) => v * r[i]));
    add(name, "lag-1 autocorrelation", lagged / fit.rss, certified.lag1_autocorrelation);
  }
  return scores();
}

/** Sums of squares without rounding: doubles near 1e12 are multiples of 2^-13, so these are whole numbers until the last division. */
export function exactSums(data: readonly (readonly number[])[]): { readonly between: number; readonly within: number } {
  const whole = data.map((values) => values.map((v) => BigInt(Math.round((v - 1e12) * 8192))));
  const sum = (values: readonly bigint[]): bigint => values.reduce((total, v) => total + v, 0n);
  const m = BigInt(whole[0].length);
  const n = m * BigInt(whole.length);
  const groups = sum(whole.map((values) => sum(values) ** 2n));
  const within = m * sum(whole.flat().map((v) => v * v)) - groups;
  const between = n * groups - m * sum(whole.flat()) ** 2n;
  return { within: Number(within) / Number(m) / 8192 ** 2, between: Number(between) / Number(m * n) / 8192 ** 2 };
}

/**
 * NIST StRD one-way analyses of variance by the table of strata.
 *
 * SmLs07 and SmLs08 hold 1e12 in steps of 0.1, which doubles round to steps of 0.0001: the data as read no longer have the certified
 * answer. They are compared with it, and with the exact answer of the data as read.
 */
export function anovaScores(): Score[] {
  const { add, scores } = collect("NIST StRD analysis of variance");
  for (const { name, data, certified } of anova.sets) {
    const labels = data.flatMap((values, group) => values.map(() => String(group)));
    const table = analyseStrata({
      yield: data.flat(),
      treatments: [{ name: "group", labels }],
      blocks: [],
      units: [],
    });
    const [between, within] = table.strata.flatMap(({ rows }) => rows);
    add(name, "between", between.ss, certified.between_ss);
    add(name, "within", within.ss, certified.within_ss);
    add(name, "F", between.f, certified.f_statistic);
    add(name, "residual standard deviation", Math.sqrt(within.ms), certified.residual_sd);
    if (!/SmLs0[78]/.test(name)) continue;
    const exact = exactSums(data);
    add(`${name}, data as read`, "between", between.ss, exact.between);
    add(`${name}, data as read`, "within", within.ss, exact.within);
  }
  return scores();
}
