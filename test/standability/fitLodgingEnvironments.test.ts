import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { fitLodgingEnvironments } from "../../src/standability/fitLodgingEnvironments.ts";
import { assertDigits } from "../assertDigits.ts";
import { referenceModels } from "../fit/binomialReference.ts";
import extra from "../oracle/lodging/extra.json" with { type: "json" };

const sim07 = referenceModels().find(({ model }) => model.id === "sim07")!.columns as Record<string, number[]>;
const counts = { density: sim07.density, lodged: sim07.lodged, examined: sim07.plants, environment: sim07.block };

test("coefficients, errors and likelihood of the reference, in the data's own unit", () => {
  const fit = fitLodgingEnvironments(counts);
  const { exact } = extra.mixed; // on z = (density - 90) / 30
  expect(fit.status).toBe("converged");
  assertDigits(fit.coefficients.slope, exact.coef[1] / 30, 8);
  assertDigits(fit.coefficients.intercept, exact.coef[0] - 3 * exact.coef[1], 8);
  assertDigits(fit.standardErrors.slope, exact.se[1] / 30, 7);
  assertDigits(fit.sd, exact.sd, 8);
  assertDigits(fit.logLikelihood, exact.loglik, 9);
  expect(fit.notes.join(" ")).toContain("spread more"); // dispersion of the set is about 2
});

test("the limit is where the share averaged over a fine sample of environments is the tolerated one", () => {
  const { limit, coefficients, sd } = fitLodgingEnvironments(counts);
  expect(limit?.kind).toBe("interior");
  // Trapezoid rule over +- 8 standard deviations, an independent route to the average.
  let [sum, total] = [0, 0];
  for (let u = -8; u <= 8; u += 0.001) {
    const weight = Math.exp(-0.5 * u * u);
    sum += weight / (1 + Math.exp(-(coefficients.intercept! + coefficients.slope! * limit!.density! + sd! * u)));
    total += weight;
  }
  assertDigits(sum / total, 0.1, 9);
  expect(limit!.interval!.lower!).toBeLessThan(limit!.density!);
  expect(limit!.interval!.upper!).toBeGreaterThan(limit!.density!);
});

test("averaged shares lie nearer to one half than typical ones", () => {
  const { shares } = fitLodgingEnvironments(counts);
  for (const { typical, average } of shares) expect(Math.abs(average - 0.5)).toBeLessThan(Math.abs(typical - 0.5));
});

test("many environments recover slope, spread and limit", () => {
  const random = streamRandom(4, 0);
  const rows = {
    density: [] as number[],
    lodged: [] as number[],
    examined: [] as number[],
    environment: [] as number[],
  };
  for (let e = 0; e < 60; e++) {
    const level = 0.8 * random.normal();
    for (const x of [24, 30, 36, 42]) {
      const p = 1 / (1 + Math.exp(8 - 0.18 * x - level));
      rows.density.push(x);
      rows.environment.push(e);
      rows.examined.push(80);
      rows.lodged.push(
        Array.from({ length: 80 }, () => (random.next() < p ? 1 : 0) as number).reduce((a, b) => a + b, 0),
      );
    }
  }
  const fit = fitLodgingEnvironments(rows);
  // Four standard errors either way; that of sd is about 0.08.
  expect(Math.abs(fit.coefficients.slope! - 0.18)).toBeLessThan(4 * fit.standardErrors.slope!);
  expect(Math.abs(fit.coefficients.intercept! + 8)).toBeLessThan(4 * fit.standardErrors.intercept!);
  expect(Math.abs(fit.sd! - 0.8)).toBeLessThan(0.32);
  expect(fit.dispersion!).toBeLessThan(1.4);
  expect(JSON.parse(JSON.stringify(fit))).toEqual(fit);
});

test("statuses and refusals", () => {
  const base = {
    density: [1, 2, 3, 1, 2, 3, 1, 2, 3],
    examined: new Array<number>(9).fill(9),
    environment: [1, 1, 1, 2, 2, 2, 3, 3, 3],
  };
  expect(fitLodgingEnvironments({ ...base, lodged: new Array<number>(9).fill(0) }).status).toBe("none-lodged");
  expect(fitLodgingEnvironments({ ...base, lodged: [0, 0, 4, 0, 0, 5, 0, 0, 6] }).status).toBe("separation");
  expect(() =>
    fitLodgingEnvironments({ ...base, lodged: [0, 1, 4, 0, 1, 5, 0, 2, 6], environment: [1, 1, 1, 1, 1, 1, 2, 2, 2] }),
  ).toThrow(expect.objectContaining({ code: "not-estimable" }));
  expect(() => fitLodgingEnvironments({ ...base, examined: null, lodged: new Array<number>(9).fill(0.1) })).toThrow(
    expect.objectContaining({ code: "not-offered" }),
  );
});
