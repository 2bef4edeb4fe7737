import { describe, expect, test } from "vitest";
import { type BinomialProblem, binomialCriterion, fitBinomial } from "../../src/fit/fitBinomial.ts";
import { betaBinomialCriterion, fitBetaBinomial } from "../../src/fit/fitBinomialBeta.ts";
import { cloglog, logit } from "../../src/fit/fitBinomialLinks.ts";
import { ordinalCriterion } from "../../src/fit/fitBinomialOrdinal.ts";
import { logGamma } from "../../src/numeric/distributions.ts";
import type { Criterion } from "../../src/numeric/glm.ts";
import { assertDigits } from "../assertDigits.ts";
import extra from "../oracle/lodging/extra.json" with { type: "json" };
import { designOf, referenceModels } from "./binomialReference.ts";

function problem(
  columns: readonly Float64Array[],
  events: ArrayLike<number>,
  trials: ArrayLike<number>,
  link = logit,
): BinomialProblem {
  const p = columns.length;
  const n = events.length;
  const design = Float64Array.from({ length: n * p }, (_, k) => columns[k % p][Math.floor(k / p)]);
  return { design, columns: p, events: Float64Array.from(events), trials: Float64Array.from(trials), link };
}

const coefficientSum = ({ events, trials }: BinomialProblem): number =>
  events.reduce((sum, k, i) => sum + logGamma(trials[i] + 1) - logGamma(k + 1) - logGamma(trials[i] - k + 1), 0);

describe("fitBinomial agrees with R's glm (test/oracle/lodging/binomial.json)", () => {
  for (const { model, columns } of referenceModels()) {
    if (model.separation_suspected) continue;
    test(model.id, () => {
      const task = problem(
        designOf(model.formula, columns),
        columns[model.events] as number[],
        columns[model.trials] as number[],
      );
      const fit = fitBinomial(task);
      expect(fit.status).toBe("converged");
      const vcov = fit.vcov as Float64Array;
      model.coef.forEach(({ est, se }, j) => {
        assertDigits(fit.coef[j], est, 8, model.coef[j].name);
        assertDigits(Math.sqrt(vcov[j * task.columns + j]), se, 8, `standard error of ${model.coef[j].name}`);
      });
      assertDigits(fit.deviance, model.deviance, 8, "deviance");
      assertDigits(fit.pearson, model.pearson_chi2, 8, "Pearson");
      assertDigits(fit.value + coefficientSum(task), model.loglik, 8, "log-likelihood");
      expect(task.events.length - task.columns).toBe(model.df_residual);
    });
  }
});

test("the beetle data of Bliss (1935) give the published logit and complementary log-log fits", () => {
  const dose = [1.6907, 1.7242, 1.7552, 1.7842, 1.8113, 1.8369, 1.861, 1.8839];
  const n = [59, 60, 62, 56, 63, 59, 62, 60];
  const dead = [6, 13, 18, 28, 52, 53, 61, 60];
  const columns = [new Float64Array(8).fill(1), Float64Array.from(dose, (x) => x - 1.8)];
  // Printed with 7-8 digits: Dobson, An Introduction to Generalized Linear Models, after Bliss (1935).
  const published = [
    { link: logit, b0: -60.717455, b1: 34.270326, deviance: 11.232231, pearson: 10.026818, logLikelihood: -18.715135 },
    { link: cloglog, b0: -39.572309, b1: 22.041169, deviance: 3.446439, pearson: 3.294694, logLikelihood: -14.822238 },
  ];
  for (const { link, b0, b1, deviance, pearson, logLikelihood } of published) {
    const task = problem(columns, dead, n, link);
    const fit = fitBinomial(task);
    assertDigits(fit.coef[0] - 1.8 * fit.coef[1], b0, 7);
    assertDigits(fit.coef[1], b1, 7);
    assertDigits(fit.deviance, deviance, 6);
    assertDigits(fit.pearson, pearson, 6);
    assertDigits(fit.value + coefficientSum(task), logLikelihood, 7);
  }
});

test("the budworm data give the published lethal doses of females (parallel logit lines)", () => {
  // Venables & Ripley, Modern Applied Statistics with S: printed 2.231264, 3.263587, 4.295910.
  const dose = [0, 1, 2, 3, 4, 5, 0, 1, 2, 3, 4, 5];
  const dead = [1, 4, 9, 13, 18, 20, 0, 2, 6, 10, 12, 16];
  const male = Float64Array.from(dose, (_, i) => (i < 6 ? 1 : 0));
  const fit = fitBinomial(
    problem([new Float64Array(12).fill(1), male, Float64Array.from(dose)], dead, new Array<number>(12).fill(20)),
  );
  for (const [share, published] of [
    [0.25, 2.231264],
    [0.5, 3.263587],
    [0.75, 4.29591],
  ]) {
    assertDigits((Math.log(share / (1 - share)) - fit.coef[0]) / fit.coef[2], published, 6);
  }
  assertDigits(fit.deviance, 6.757064, 6);
});

const sim07 = referenceModels().find(({ model }) => model.id === "sim07")!.columns as Record<string, number[]>;
const ones = new Float64Array(28).fill(1);
const z = Float64Array.from(sim07.density, (x) => (x - 90) / 30);
const sim07Task = problem([ones, z], sim07.lodged, sim07.plants);

test("the penalised fit is the maximum that R's optim finds for loglik + 0.5 ln|X'WX|", () => {
  const separated = problem(
    [new Float64Array(6).fill(1), Float64Array.from([60, 70, 80, 90, 100, 110], (x) => (x - 85) / 25)],
    [0, 0, 0, 50, 52, 55],
    [40, 42, 45, 50, 52, 55],
  );
  const topOnly = problem(
    [new Float64Array(4).fill(1), Float64Array.of(-1, -1 / 3, 1 / 3, 1)],
    [0, 0, 0, 12],
    [50, 50, 50, 50],
  );
  const cases = [
    [sim07Task, extra.firth.sim07_logit],
    [{ ...sim07Task, link: cloglog }, extra.firth.sim07_cloglog],
    [separated, extra.firth.separated],
    [{ ...separated, link: cloglog }, extra.firth.separated_cloglog],
    [topOnly, extra.firth.top_only],
  ] as const;
  for (const [task, expected] of cases) {
    const fit = fitBinomial(task, { penalised: true });
    expect(fit.status).toBe("converged");
    // The reference ends by Newton steps on numerical derivatives: about 9 digits.
    expected.coef.forEach((value, j) => void assertDigits(fit.coef[j], value, 8));
    assertDigits(fit.value + coefficientSum(task), expected.value, 10);
  }
});

test("for logit the penalised score is Firth's: events + h (1/2 - p) against its own expectation", () => {
  const fit = fitBinomial(sim07Task, { penalised: true });
  const vcov = fit.vcov as Float64Array;
  const score = [0, 0];
  sim07Task.events.forEach((k, i) => {
    const [m, p] = [sim07Task.trials[i], fit.fitted[i]];
    const h = m * p * (1 - p) * (vcov[0] + 2 * z[i] * vcov[1] + z[i] ** 2 * vcov[3]);
    const u = k - m * p + h * (0.5 - p);
    score[0] += u;
    score[1] += u * z[i];
  });
  expect(Math.abs(score[0])).toBeLessThan(1e-8); // events sum to 765
  expect(Math.abs(score[1])).toBeLessThan(1e-8);
});

test("the beta-binomial fit is the maximum that R's optim finds for the gamma-function form", () => {
  const orobanche = referenceModels().find(({ model }) => model.id === "orobanche")!;
  const blocks = ["B1", "B2", "B3", "B4"].map((b) =>
    Float64Array.from((sim07 as Record<string, unknown[]>).block, (x) => (x === b ? 1 : 0)),
  );
  const cases = [
    [sim07Task, extra.beta_binomial.sim07],
    [problem([...blocks, z], sim07.lodged, sim07.plants), extra.beta_binomial.sim07_blocks],
    [
      problem(
        designOf(orobanche.model.formula, orobanche.columns),
        orobanche.columns.germinated as number[],
        orobanche.columns.seeds as number[],
      ),
      extra.beta_binomial.orobanche,
    ],
  ] as const;
  for (const [task, expected] of cases) {
    const fit = fitBetaBinomial(task);
    expect(fit.status).toBe("converged");
    // R's lbeta at 1 / theta = 80 costs the reference some digits: 7 hold for coefficients, 6 for theta and standard errors.
    [...fit.coef].forEach((value, j) => void assertDigits(value, expected.par[j], 7));
    assertDigits(fit.theta, expected.par[task.columns], 6);
    assertDigits(fit.icc, expected.icc, 6);
    const vcov = fit.vcov as Float64Array;
    [...fit.coef].forEach((_, j) => void assertDigits(Math.sqrt(vcov[j * task.columns + j]), expected.se[j], 6));
    assertDigits(fit.value + coefficientSum(task), expected.loglik, 10);
  }
});

test("Orobanche: the beta-binomial fit of the literature, correlation 0.01236 and -logL 53.7668 (Crowder 1978 data)", () => {
  const { model, columns } = referenceModels().find(({ model: m }) => m.id === "orobanche")!;
  const task = problem(designOf(model.formula, columns), columns.germinated as number[], columns.seeds as number[]);
  const fit = fitBetaBinomial(task);
  assertDigits(fit.icc, 0.0123609, 5);
  assertDigits(fit.value + coefficientSum(task), -53.766763, 7);
});

test("without extra spread the beta-binomial fit is the binomial one, with theta at its bound", () => {
  const task = problem(
    [new Float64Array(5).fill(1), Float64Array.of(-1, -0.5, 0, 0.5, 1)],
    [6, 9, 17, 26, 44],
    [200, 200, 200, 200, 200],
  );
  const [beta, plain] = [fitBetaBinomial(task), fitBinomial(task)];
  expect(beta.theta).toBe(0);
  expect(beta.status).toBe("converged");
  plain.coef.forEach((value, j) => void assertDigits(beta.coef[j], value, 10));
  (plain.vcov as Float64Array).forEach((value, j) => void assertDigits((beta.vcov as Float64Array)[j], value, 8));
});

describe("gradients and information are the derivatives of the value", () => {
  const task = problem([ones, z], sim07.lodged, sim07.plants);
  const counts = Float64Array.of(0.3, 1.4, 0.06);
  const ordinal = {
    design: Float64Array.of(-1, -0.5, 0, 0.5, 1, 0.2),
    columns: 1,
    category: Int32Array.of(0, 1, 0, 2, 2, 1),
    categories: 3,
  };
  const cases: [string, Criterion, Float64Array, boolean][] = [
    ["binomial logit", binomialCriterion(task, false), Float64Array.of(-0.8, 2.1), true],
    ["binomial cloglog", binomialCriterion({ ...task, link: cloglog }, false), Float64Array.of(-0.8, 1.1), false],
    ["penalised logit", binomialCriterion(task, true), Float64Array.of(-0.8, 2.1), false],
    ["penalised cloglog", binomialCriterion({ ...task, link: cloglog }, true), Float64Array.of(-0.8, 1.1), false],
    ["beta-binomial logit", betaBinomialCriterion(task), counts, true],
    [
      "beta-binomial cloglog",
      betaBinomialCriterion({ ...task, link: cloglog }),
      Float64Array.of(-0.8, 1.1, 0.06),
      true,
    ],
    ["ordinal", ordinalCriterion(ordinal), Float64Array.of(-0.7, 1.1, 0.9), true],
  ];
  for (const [name, criterion, theta, observed] of cases) {
    test(name, () => {
      const p = criterion.size;
      const [gradient, information] = [new Float64Array(p), new Float64Array(p * p)];
      criterion.evaluate(theta, gradient, information);
      const shifted = (j: number, h: number) => theta.map((value, k) => (k === j ? value + h : value));
      // Fourth-order differences with this step are good to about 1e-8.
      const h = 3e-4;
      const derivative = (f: (at: Float64Array) => number, j: number) =>
        (8 * (f(shifted(j, h)) - f(shifted(j, -h))) - (f(shifted(j, 2 * h)) - f(shifted(j, -2 * h)))) / (12 * h);
      for (let j = 0; j < p; j++) {
        assertDigits(
          gradient[j],
          derivative((at) => criterion.evaluate(at, null, null), j),
          7,
          `gradient ${j}`,
        );
        if (!observed) continue;
        for (let k = 0; k < p; k++) {
          const slope = (at: Float64Array) => {
            const g = new Float64Array(p);
            criterion.evaluate(at, g, new Float64Array(p * p));
            return g[k];
          };
          assertDigits(information[j * p + k], -derivative(slope, j), 7, `information ${j}, ${k}`);
        }
      }
    });
  }
});
