import { describe, expect, test } from "vitest";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { assertDigits } from "../assertDigits.ts";
import { referenceModels } from "../fit/binomialReference.ts";
import extra from "../oracle/lodging/extra.json" with { type: "json" };

const reference = (id: string) => {
  const { model, columns } = referenceModels().find(({ model: m }) => m.id === id)!;
  const { density, plants, lodged, block } = columns as Record<string, number[]>;
  return { model, counts: { density, lodged, examined: plants }, block: block as unknown as string[] };
};
const sim07 = reference("sim07");
const blocked = { ...sim07.counts, block: sim07.block };

test("the constructed counts give the estimates, errors and deviance that R prints", () => {
  const fit = fitLodging({
    density: [24, 28, 32, 36, 40],
    lodged: [6, 9, 17, 26, 44],
    examined: [200, 200, 200, 200, 200],
  });
  expect(fit.status).toBe("converged");
  expect(fit.dispersionModel).toBe("binomial"); // one plot per density: no spread to judge
  assertDigits(fit.coefficients.intercept, -6.950757, 7);
  assertDigits(fit.coefficients.slope, 0.1416312, 7);
  // glm's own print: its standard errors come from the iteration before the last (relative error 3e-6 here).
  assertDigits(fit.standardErrors.intercept, 0.776425, 5);
  assertDigits(fit.standardErrors.slope, 0.0217966, 5);
  assertDigits(fit.deviance, 0.171146, 5);
});

test("quasi-binomial errors and p value are those of R (reference set sim07)", () => {
  const fit = fitLodging(sim07.counts);
  const [intercept, slope] = sim07.model.coef;
  expect(fit.dispersionModel).toBe("quasi");
  assertDigits(fit.coefficients.intercept, intercept.est, 8);
  assertDigits(fit.coefficients.slope, slope.est, 8);
  assertDigits(fit.standardErrors.intercept, intercept.se_quasi, 8);
  assertDigits(fit.standardErrors.slope, slope.se_quasi, 8);
  assertDigits(fit.dispersion, sim07.model.dispersion_pearson, 8);
  assertDigits(fit.deviance, sim07.model.deviance, 8);
  expect(fit.dofResidual).toBe(sim07.model.df_residual);
  expect(fit.logLikelihood).toBeNull(); // a quasi-likelihood has none
  assertDigits(fitLodging(sim07.counts, { dispersion: "binomial" }).logLikelihood, sim07.model.loglik, 8);
});

test("with blocks the intercept is the mean of the block levels and the slope test is R's analysis of deviance", () => {
  const { model } = reference("sim07_blocks");
  const fit = fitLodging(blocked);
  const value = (name: string) => model.coef.find((c) => c.name === name)!.est;
  const levels = [0, value("blockB2"), value("blockB3"), value("blockB4")].map(
    (effect) => value("(Intercept)") + effect,
  );
  const average = levels.reduce((sum, level) => sum + level, 0) / 4;
  assertDigits(fit.coefficients.intercept, average, 8);
  assertDigits(fit.coefficients.slope, value("density"), 8);
  fit.blockEffects.forEach(({ effect }, b) => void assertDigits(effect, levels[b] - average, 7));
  // Variance of that mean from R's covariance matrix (order: intercept, B2, B3, B4, density).
  const weights = [1, 0.25, 0.25, 0.25, 0];
  const variance = weights.reduce((s, wi, i) => s + weights.reduce((t, wj, j) => t + wi * wj * model.vcov[i][j], 0), 0);
  assertDigits(fit.standardErrors.intercept, Math.sqrt(variance * model.dispersion_pearson), 8);
  assertDigits(fit.slopeTest?.statistic, model.compare_with!.quasi_f, 8);
  // R's far tail of F carries fewer digits than the statistic.
  assertDigits(fit.slopeTest?.pValue, model.compare_with!.p_quasi, 6);
});

test("complementary log-log fit and covariance agree with R", () => {
  const fit = fitLodging(sim07.counts, { link: "cloglog", dispersion: "binomial" });
  assertDigits(fit.coefficients.intercept, extra.cloglog.coef[0], 8);
  assertDigits(fit.coefficients.slope, extra.cloglog.coef[1], 8);
  fit.vcov!.flat().forEach((value, k) => void assertDigits(value, extra.cloglog.vcov.flat()[k], 7));
  assertDigits(fit.deviance, extra.cloglog.deviance, 8);
  assertDigits(fit.pearson, extra.cloglog.pearson, 8);
  assertDigits(fit.logLikelihood, extra.cloglog.loglik, 8);
});

test("beta-binomial: estimates, correlation and log-likelihood of R's direct maximisation", () => {
  const fit = fitLodging(sim07.counts, { dispersion: "beta-binomial" });
  const { par, se, icc, loglik } = extra.beta_binomial.sim07; // on z = (density - 90) / 30; 7 digits, see fitBinomial.test.ts
  assertDigits(fit.coefficients.slope, par[1] / 30, 7);
  assertDigits(fit.coefficients.intercept, par[0] - 3 * par[1], 7);
  assertDigits(fit.standardErrors.slope, se[1] / 30, 6);
  assertDigits(fit.icc?.value, icc, 6);
  assertDigits(fit.logLikelihood, loglik, 8);
});

test("shares without counts are fitted by quasi-likelihood as in R", () => {
  const fit = fitLodging({ density: sim07.counts.density, lodged: extra.shares.share, examined: null });
  assertDigits(fit.coefficients.intercept, extra.shares.coef[0], 8);
  assertDigits(fit.coefficients.slope, extra.shares.coef[1], 8);
  assertDigits(fit.standardErrors.slope, extra.shares.se[1], 8);
  assertDigits(fit.dispersion, extra.shares.phi, 8);
  expect(fit.dispersionModel).toBe("quasi");
  expect(fit.icc).toBeNull();
  const nulls = fitLodging({
    density: sim07.counts.density,
    lodged: extra.shares.share,
    examined: extra.shares.share.map(() => null),
  });
  expect(nulls).toEqual(fit);
});

describe("separation never gives an exploding coefficient", () => {
  test("complete separation: status, gap and the bias-reduced fit", () => {
    const { counts } = reference("sim09_complete_separation");
    const fit = fitLodging(counts);
    expect(fit.status).toBe("separation");
    expect(fit.bias).toBe("firth");
    expect(fit.separation).toMatchObject({ kind: "density", direction: "rising", gap: [80, 90] });
    assertDigits(fit.coefficients.slope, extra.firth.separated.coef[1] / 25, 8);
    expect(fit.notes.join(" ")).toContain("bias-reduced (Firth)");
  });

  test("lodging at the highest density only is separation too", () => {
    const fit = fitLodging({ density: [24, 30, 36, 42], lodged: [0, 0, 0, 12], examined: [50, 50, 50, 50] });
    expect(fit.status).toBe("separation");
    assertDigits(fit.coefficients.slope, extra.firth.top_only.coef[1] / 9, 8);
  });

  test("replicated separated plots: no false precision from a dispersion near 0", () => {
    const { counts } = reference("sim09_complete_separation");
    const twice = {
      density: [...counts.density, ...counts.density],
      lodged: [...counts.lodged, ...counts.lodged],
      examined: [...counts.examined, ...counts.examined],
    };
    const fit = fitLodging(twice);
    expect(fit.dispersionModel).toBe("quasi");
    expect(fit.dispersion).toBeLessThan(1);
    expect(fit.scale).toBe(1);
  });

  test("a block without lodging is separated although the slope is not", () => {
    const fit = fitLodging({
      density: [1, 2, 3, 1, 2, 3],
      lodged: [1, 2, 5, 0, 0, 0],
      examined: [20, 20, 20, 20, 20, 20],
      block: ["a", "a", "a", "b", "b", "b"],
    });
    expect(fit.status).toBe("separation");
    expect(fit.separation?.kind).toBe("block");
    expect(Math.abs(fit.blockEffects[1].effect)).toBeLessThan(5);
    expect(fit.notes.join(" ")).toContain("Block b");
  });

  test("nothing lodged, or everything: a status and no numbers", () => {
    const none = fitLodging(reference("sim10_no_event").counts);
    expect(none.status).toBe("none-lodged");
    expect(none.coefficients).toEqual({ intercept: null, slope: null });
    expect(fitLodging({ density: [1, 2], lodged: [5, 5], examined: [5, 5] }).status).toBe("all-lodged");
  });
});

test("one density, or one per block, cannot give a slope", () => {
  expect(fitLodging({ density: [30, 30], lodged: [1, 2], examined: [20, 20] }).status).toBe("singular");
  expect(fitLodging({ density: [30, 34], lodged: [1, 2], examined: [20, 20], block: ["a", "b"] }).status).toBe(
    "singular",
  );
});

test("the fit does not depend on row order, and follows a change of density unit", () => {
  const fit = fitLodging(blocked);
  const turned = (values: readonly (number | string)[]) => [...values].reverse();
  const reversed = fitLodging({
    density: turned(blocked.density) as number[],
    lodged: turned(blocked.lodged) as number[],
    examined: turned(blocked.examined) as number[],
    block: turned(blocked.block),
  });
  assertDigits(reversed.coefficients.slope, fit.coefficients.slope!, 11);
  assertDigits(reversed.standardErrors.intercept, fit.standardErrors.intercept!, 11);
  const thousand = fitLodging({ ...blocked, density: blocked.density.map((x) => x * 1000) });
  assertDigits(thousand.coefficients.slope! * 1000, fit.coefficients.slope!, 11);
  assertDigits(thousand.coefficients.intercept, fit.coefficients.intercept!, 11);
  assertDigits(thousand.standardErrors.intercept, fit.standardErrors.intercept!, 11);
});

test("counting the opposite fault mirrors the logit fit", () => {
  const fit = fitLodging(blocked);
  const standing = fitLodging({ ...blocked, lodged: blocked.lodged.map((k, i) => blocked.examined[i] - k) });
  assertDigits(standing.coefficients.slope, -fit.coefficients.slope!, 11);
  assertDigits(standing.dispersion, fit.dispersion!, 11);
});

test("the dispersion default: quasi as soon as the spread between plots can be judged", () => {
  const stands = Array.from({ length: 12 }, (_, i) => 25 + i);
  const fit = fitLodging({
    density: stands,
    lodged: [1, 0, 2, 1, 3, 2, 5, 3, 6, 4, 9, 7],
    examined: new Array<number>(12).fill(40),
  });
  expect(fit.dispersionModel).toBe("quasi"); // no two plots share a density, but 10 degrees of freedom are left
  expect(
    fitLodging({ density: [1, 2], lodged: [1, 3], examined: [9, 9] }, { dispersion: "quasi" }).dispersionModel,
  ).toBe("binomial");
});

test("the result survives JSON unchanged", () => {
  const cases = [
    fitLodging(blocked),
    fitLodging(blocked, { dispersion: "beta-binomial" }),
    fitLodging(reference("sim10_no_event").counts),
  ];
  for (const fit of cases) expect(JSON.parse(JSON.stringify(fit))).toEqual(fit);
});

test("a caller's mistakes throw a code", () => {
  const good = { density: [1, 2, 3], lodged: [0, 1, 2], examined: [5, 5, 5] };
  expect(() => fitLodging({ ...good, lodged: [0, 1] })).toThrow(expect.objectContaining({ code: "length-mismatch" }));
  expect(() => fitLodging({ ...good, lodged: [0, 1, 6] })).toThrow(expect.objectContaining({ code: "invalid-data" }));
  expect(() => fitLodging({ ...good, density: [1, Number.NaN, 3] })).toThrow(
    expect.objectContaining({ code: "invalid-data" }),
  );
  expect(() => fitLodging({ ...good, examined: [5, null, 5] })).toThrow(
    expect.objectContaining({ code: "not-offered" }),
  );
  expect(() => fitLodging({ ...good, examined: null, lodged: [0, 0.1, 0.2] }, { dispersion: "beta-binomial" })).toThrow(
    expect.objectContaining({ code: "not-offered" }),
  );
  expect(() => fitLodging(good, { dispersion: "beta-binomial", bias: "firth" })).toThrow(
    expect.objectContaining({ code: "not-offered" }),
  );
  expect(() => fitLodging({ ...good, examined: null, lodged: [0, 10, 20] })).toThrow(
    expect.objectContaining({ code: "invalid-data" }),
  );
});
