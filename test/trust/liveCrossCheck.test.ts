/**
 * Fresh random trials every day, fitted here and by the R of this machine in one call, compared at stated digits.
 * Runs in the slow suite where Rscript is present. The seed is the date (UTC); STANDCURVE_SEED repeats a run.
 */
import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { beforeAll, describe, expect, test } from "vitest";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { bootstrapJob, distribution, readDraws } from "../../src/interval/bootstrapJob.ts";
import { givenDraws } from "../../src/interval/givenDraws.ts";
import { prepareIntervalData } from "../../src/interval/intervalData.ts";
import { vertexScalar } from "../../src/interval/scalar.ts";
import { remlFit } from "../../src/mixed/remlFit.ts";
import * as door from "../../src/numeric/distributions.ts";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { assertDigits } from "../assertDigits.ts";
import { freshTrials } from "./freshTrials.ts";

const seed = Number(process.env.STANDCURVE_SEED ?? new Date().toISOString().slice(0, 10).replaceAll("-", ""));
const run = process.env.STANDCURVE_SLOW === "1" && spawnSync("Rscript", ["--version"]).status === 0;

interface Polynomial {
  readonly est: number | number[];
  readonly se: number | number[];
  readonly rss: number;
  readonly df: number;
}
interface Answers {
  readonly version: string;
  readonly curves: {
    readonly linear: Polynomial;
    readonly quadratic: Polynomial;
    readonly linear_plateau: { readonly join: number; readonly rss: number };
    readonly quadratic_plateau: { readonly join: number; readonly rss: number };
  }[];
  readonly lodging: {
    coef: number[];
    se: number[];
    deviance: number;
    blocked_slope: number;
    blocked_deviance: number;
  }[];
  readonly mixed: { loglik: number; fixed: number[]; se: number[]; variance: Record<string, number> }[];
  readonly bootstrap: { indices: number[][]; t0: number; t: number[]; percentile: number[]; basic: number[] }[];
  readonly tails: { upper: number; quantile: number }[];
}

describe.skipIf(!run)(`fresh trials of seed ${seed} (STANDCURVE_SEED=${seed} repeats them)`, () => {
  const trials = freshTrials(seed);
  let answers: Answers;

  beforeAll(() => {
    const folder = mkdtempSync(join(tmpdir(), "standcurve-live-"));
    try {
      writeFileSync(join(folder, "trials.json"), JSON.stringify(trials));
      const script = join(import.meta.dirname, "liveCrossCheck.R");
      const text = execFileSync("Rscript", [script, join(folder, "trials.json")], {
        encoding: "utf8",
        maxBuffer: 1e8,
      });
      answers = JSON.parse(text) as Answers;
      console.log(`live cross-check: seed ${seed}, ${answers.version}`);
    } finally {
      rmSync(folder, { recursive: true });
    }
  });

  test("straight lines and parabolas with blocks: R's lm to 9 digits", () => {
    trials.curves.forEach(({ truth, ...data }, k) => {
      for (const [family, names] of [
        ["linear", ["linear"]],
        ["quadratic", ["linear", "quadratic"]],
      ] as const) {
        const fit = fitCurve(family, data);
        const { est, se, rss, df } = answers.curves[k][family];
        names.forEach((name, j) => {
          assertDigits(fit.coefficients[name], [est].flat()[j], 9, `trial ${k} (${truth}) ${family} ${name}`);
          assertDigits(fit.standardErrors[name], [se].flat()[j], 9, `trial ${k} (${truth}) ${family} se ${name}`);
        });
        assertDigits(fit.rss, rss, 9, `trial ${k} ${family} rss`);
        expect(fit.dofResidual).toBe(df);
      }
    });
  });

  test("plateaus with blocks: the least RSS of a profile over the join to 9 digits, never above it, and its join to 5", () => {
    let joins = 0;
    trials.curves.forEach(({ truth, ...data }, k) => {
      for (const family of ["linear-plateau", "quadratic-plateau"] as const) {
        const fit = fitCurve(family, data);
        const profile = answers.curves[k][family === "linear-plateau" ? "linear_plateau" : "quadratic_plateau"];
        const what = `trial ${k} (${truth}) ${family}`;
        expect(fit.rss, what).toBeLessThanOrEqual(profile.rss * (1 + 1e-12));
        if (fit.limit !== null) continue; // no join to compare: flat, straight, or not identified
        assertDigits(fit.rss, profile.rss, 9, `${what} rss`);
        // 5 digits: a minimum found by comparing values is known to the square root of their rounding.
        assertDigits(fit.coefficients["join"], profile.join, 5, `${what} join`);
        joins++;
      }
    });
    expect(joins).toBeGreaterThan(6);
  });

  test("lodging counts: R's glm to 9 digits, standard errors to 7", () => {
    trials.lodging.forEach((data, k) => {
      const { coef, se, deviance, blocked_slope, blocked_deviance } = answers.lodging[k];
      const { density, lodged, examined, block } = data;
      const plain = fitLodging({ density, lodged, examined }, { dispersion: "binomial" });
      assertDigits(plain.coefficients.intercept, coef[0], 9, `trial ${k} intercept`);
      assertDigits(plain.coefficients.slope, coef[1], 9, `trial ${k} slope`);
      assertDigits(plain.deviance, deviance, 9, `trial ${k} deviance`);
      // 7 digits: glm's errors come from the weights of its last step but one.
      assertDigits(plain.standardErrors.slope, se[1], 7, `trial ${k} se`);
      const blocked = fitLodging({ density, lodged, examined, block }, { dispersion: "binomial" });
      assertDigits(blocked.coefficients.slope, blocked_slope, 9, `trial ${k} slope with blocks`);
      assertDigits(blocked.deviance, blocked_deviance, 9, `trial ${k} deviance with blocks`);
    });
  });

  test("many environments: lme4's REML, log-likelihood to 10 digits, effects to 6, variances to 4", () => {
    trials.mixed.forEach((t, k) => {
      const fit = remlFit({
        y: t.yield,
        x: [t.z.map(() => 1), t.z, t.z.map((z) => z * z)],
        random: [
          { name: "e", group: t.environment },
          { name: "b", group: t.block },
          { name: "h", group: t.hybrid },
        ],
      });
      const { loglik, fixed, se, variance } = answers.mixed[k];
      assertDigits(fit.logLikelihood, loglik, 10, `trial ${k} log-likelihood`);
      // lme4 searches by values of the criterion, flat at its best: variances are known to about the square root of its rounding.
      fixed.forEach((b, j) => {
        assertDigits(fit.coefficients[j], b, 6, `trial ${k} effect ${j}`);
        assertDigits(fit.standardErrors[j], se[j], 4, `trial ${k} se ${j}`);
      });
      for (const { term, value } of fit.varianceComponents) {
        assertDigits(value, variance[term === "residual" ? "Residual" : term], 4, `trial ${k} variance ${term}`);
      }
    });
  });

  test("bootstraps: the replicates and limits of R's boot with its indices, to 9 digits", () => {
    trials.bootstrap.forEach(({ density, yield: yields }, k) => {
      const data = prepareIntervalData({ density, yield: yields });
      const { indices, t, percentile, basic } = answers.bootstrap[k];
      const given = indices.map((row) => row.map((i) => i - 1));
      const draws = givenDraws(data, ["quadratic"], "case", given);
      const scalar = vertexScalar(data.design);
      readDraws(draws, scalar).forEach((v, i) => void assertDigits(v, t[i], 9, `trial ${k} replicate ${i}`));
      for (const [limits, ends] of [
        ["percentile", percentile],
        ["basic", basic],
      ] as const) {
        const options = { families: ["quadratic"], resamples: 200, scheme: "residual", quantile: "normal" } as const;
        const { interval } = distribution(bootstrapJob(data, { ...options, limits }), draws, scalar);
        assertDigits(interval.lower, ends[0], 9, `trial ${k} ${limits} lower`);
        assertDigits(interval.upper, ends[1], 9, `trial ${k} ${limits} upper`);
      }
    });
  });

  test("distribution functions at random arguments: upper tails and quantiles to 9 digits", () => {
    const ours = {
      t: [door.tUpper, door.tQuantile],
      f: [door.fUpper, door.fQuantile],
      chi2: [door.chiSquareUpper, door.chiSquareQuantile],
      beta: [door.betaUpper, door.betaQuantile],
    } as const;
    trials.tails.forEach(({ fn, x, p, a, b }, k) => {
      const [upper, quantile] = ours[fn];
      assertDigits(upper(x, a, b), answers.tails[k].upper, 9, `${fn}(${a}, ${b}) above ${x}`);
      assertDigits(quantile(p, a, b), answers.tails[k].quantile, 9, `${fn}(${a}, ${b}) quantile of ${p}`);
    });
  });
});
