import { describe, expect, test } from "vitest";
import { fitStatistics } from "../../src/fit/curveFit.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { lackOfFit, pureError } from "../../src/fit/lackOfFit.ts";
import { fitRows } from "../../src/fit/leverage.ts";
import { assertDigits } from "../assertDigits.ts";

// R 4.2.2: contrasts(b) <- contr.sum(2); m <- lm(y ~ b + x + I(x^2), weights = w); f <- lm(y ~ b + factor(x), weights = w);
// coef, vcov, logLik, AIC, BIC, hatvalues, resid, anova(m, f).
const trial = {
  density: [20, 24, 28, 32, 36, 20, 24, 28, 32, 36, 28, 36],
  block: [1, 1, 1, 1, 1, 2, 2, 2, 2, 2, 1, 2],
  weight: [1, 2, 1, 1.5, 1, 0.5, 1, 1, 2, 1, 1, 1.2],
  yield: [150, 161, 170, 172, 169, 143, 158, 165, 171, 168, 174, 165],
};

describe("weighted parabola with blocks, as R's lm gives it", () => {
  const parabola = () => fitCurve("quadratic", trial);
  test("coefficients, standard errors and block effects", () => {
    const { coefficients, standardErrors, blockEffects } = parabola();
    assertDigits(coefficients["intercept"], -10.596897811169388, 9);
    assertDigits(coefficients["linear"], 11.437635141119871, 11);
    assertDigits(coefficients["quadratic"], -0.17979777026921381, 11);
    assertDigits(standardErrors["intercept"], 18.140370578218011, 9);
    assertDigits(standardErrors["linear"], 1.2997612223888228, 9);
    assertDigits(standardErrors["quadratic"], 0.02270283376437288, 9);
    expect(blockEffects.map(({ block }) => block)).toEqual(["1", "2"]);
    assertDigits(blockEffects[0].effect, 1.8139937164263766, 10);
    assertDigits(blockEffects[1].effect, -1.8139937164263766, 10);
  });
  test("residual sum of squares, likelihood and criteria; AICc by its formula from R's AIC", () => {
    const own = parabola();
    expect([own.nobs, own.dof, own.dofResidual, own.levels]).toEqual([12, 4, 8, 5]);
    expect(own.range).toEqual([20, 36]);
    assertDigits(own.rss, 36.034669070333443, 11);
    assertDigits(own.sigma, 2.1223415450373864, 11);
    assertDigits(own.logLikelihood, -22.984244605628803, 11);
    assertDigits(own.aic, 55.968489211257605, 11);
    assertDigits(own.bic, 58.393022460197606, 11);
    assertDigits(own.aicc, 55.968489211257605 + (2 * 5 * 6) / (12 - 5 - 1), 11);
  });
  test("residuals and leverages by plot", () => {
    const { residuals, leverage, curve, fitted } = fitRows(prepareData(trial), parabola());
    const hat = [
      0.55843567152436213, 0.34949382323671763, 0.20396604994555367, 0.30509719740112229, 0.43338943046647493,
      0.33359731984223517, 0.28353714133872415, 0.27309578021039083, 0.38635120278853158, 0.30412287877287913,
      0.20396604994555251, 0.36494745452745586,
    ];
    const left = [
      1.949309380031186, -1.1568236170667388, -0.50942796554978731, -1.1085036654179272, -0.95405071667127528,
      -1.4227031871160754, -0.52883618421395906, -1.881440532696984, 1.5194837674348365, 1.6739367161814909,
      3.4905720344502456, -1.3260632838184847,
    ];
    hat.forEach((h, i) => void assertDigits(leverage[i], h, 9, `leverage ${i}`));
    // 1e-9 of yields near 160
    left.forEach((r, i) => void expect(Math.abs(residuals[i] - r)).toBeLessThan(1e-9));
    trial.yield.forEach((y, i) => void assertDigits(fitted[i] + residuals[i], y, 13));
    fitted.forEach((f, i) => {
      assertDigits(f - curve[i], trial.block[i] === 1 ? 1.8139937164263766 : -1.8139937164263766, 8);
    });
  });
  test("lack of fit is R's anova against density as a factor, with and without blocks", () => {
    const pure = pureError(prepareData(trial));
    assertDigits(pure.ss, 31.1380908248381, 12);
    const tested = lackOfFit(parabola(), pure);
    if (tested.kind !== "tested") throw new Error(tested.reason);
    expect(tested.dof).toEqual([2, 6]);
    assertDigits(tested.f, 4.89657824549535 / 2 / (31.1380908248381 / 6), 9);
    assertDigits(tested.p, 0.64523, 5); // five digits printed
    const { block: _, ...single } = trial;
    const line = fitCurve("linear", single);
    assertDigits(line.rss, 387.779101874726, 12);
    assertDigits(line.logLikelihood, -37.23997069158353, 12);
    const alone = pureError(prepareData(single));
    expect(alone.dof).toBe(7);
    assertDigits(alone.ss, 73.5446428571438, 12);
    const bent = lackOfFit(line, alone);
    if (bent.kind !== "tested") throw new Error(bent.reason);
    expect(bent.dof).toEqual([3, 7]);
    assertDigits(bent.p, 0.0063851, 4.5); // five digits printed
  });
});

describe("lackOfFit says why there is no test", () => {
  const reason = (fit: Parameters<typeof lackOfFit>[0], pure: { ss: number; dof: number }) => {
    const answer = lackOfFit(fit, pure);
    return answer.kind === "untestable" ? answer.reason : "tested";
  };
  const fit = fitCurve("linear", { density: [1, 2, 3, 3], yield: [1, 3, 2, 4] });
  test("no replicates, no degrees of freedom left, no scatter, no fit", () => {
    expect(reason(fit, { ss: 0, dof: 0 })).toMatch(/replicated/);
    expect(reason(fit, { ss: 1, dof: 2 })).toMatch(/as many coefficients/);
    expect(reason(fit, { ss: 0, dof: 1 })).toMatch(/agree exactly/);
    expect(reason({ ...fit, rss: null }, { ss: 1, dof: 1 })).toMatch(/not be fitted/);
    expect(reason(fit, { ss: 2, dof: 1 })).toBe("tested");
  });
  test("a curve that rounding puts below the pure error has F = 0 and p = 1", () => {
    expect(lackOfFit({ ...fit, rss: 2 - 1e-15 }, { ss: 2, dof: 1 })).toMatchObject({ f: 0, p: 1 });
  });
});

describe("fitStatistics at its borders", () => {
  test("hand-worked: n = 4, 2 parameters, RSS 4: log-likelihood -2 (ln 2 pi + 1)", () => {
    const s = fitStatistics(4, 2, 4, [1, 1, 1, 1]);
    assertDigits(s.logLikelihood, -2 * (Math.log(2 * Math.PI) + 1), 14);
    assertDigits(s.sigma, Math.SQRT2, 14);
    assertDigits(s.aic, 6 + 4 * (Math.log(2 * Math.PI) + 1), 14);
    expect(s.aicc).toBeNull(); // n - k - 1 = 0
    assertDigits(s.bic, 3 * Math.log(4) + 4 * (Math.log(2 * Math.PI) + 1), 14);
    // five rows leave one: AIC + 2 * 3 * 4 / 1
    const five = fitStatistics(5, 2, 5, [1, 1, 1, 1, 1]);
    assertDigits((five.aicc as number) - (five.aic as number), 24, 12);
  });
  test("a perfect fit has no likelihood; no residual degrees of freedom, no sigma", () => {
    expect(fitStatistics(6, 2, 0, new Float64Array(6).fill(1))).toMatchObject({
      logLikelihood: null,
      aic: null,
      aicc: null,
      bic: null,
      sigma: 0,
    });
    expect(fitStatistics(3, 3, 1, [1, 1, 1])).toMatchObject({ sigma: null, dofResidual: 0, aicc: null });
  });
});

describe("prepareData", () => {
  const refused = (data: Partial<Parameters<typeof prepareData>[0]>, code: string, word: RegExp) =>
    expect(() => prepareData({ density: [1, 2], yield: [3, 4], ...data })).toThrow(
      expect.objectContaining({ code, message: expect.stringMatching(word) }),
    );
  test("names what is wrong, with its place", () => {
    refused({ density: [] }, "invalid-data", /density is empty/);
    refused({ yield: [1] }, "length-mismatch", /2 values but yield has 1/);
    refused({ block: [1] }, "length-mismatch", /block has 1/);
    refused({ weight: [1] }, "length-mismatch", /weight has 1/);
    refused({ density: [1, Number.NaN] }, "invalid-data", /density\[1\] is NaN/);
    refused({ yield: [Infinity, 1] }, "invalid-data", /yield\[0\] is Infinity/);
    refused({ yield: ["3", 1] as unknown as number[] }, "invalid-data", /yield\[0\]/);
    refused({ weight: [1, 0] }, "invalid-data", /weight\[1\] is 0/);
    refused({ weight: [-1, 1] }, "invalid-data", /weight\[0\] is -1/);
    refused({ weight: [1, Infinity] }, "invalid-data", /weight\[1\] is Infinity/);
  });
  test("numbers blocks in the order of their first plot, numbers and texts alike; one block and weights of 1 by default", () => {
    const { block, blockLabels } = prepareData({
      density: [1, 2, 3, 4],
      yield: [1, 2, 3, 4],
      block: ["b", 2, "b", "a"],
    });
    expect(Array.from(block)).toEqual([0, 1, 0, 2]);
    expect(blockLabels).toEqual(["b", "2", "a"]);
    const plain = prepareData({ density: [1, 2], yield: [3, 4] });
    expect([plain.blockLabels, Array.from(plain.block), Array.from(plain.weight)]).toEqual([["1"], [0, 0], [1, 1]]);
  });
});

test("fitCurve refuses an unknown family or direction", () => {
  const data = { density: [1, 2, 3], yield: [1, 2, 3] };
  const code = expect.objectContaining({ code: "invalid-option" });
  expect(() => fitCurve("cubic" as "linear", data)).toThrow(code);
  expect(() => fitCurve("linear", data, { direction: "falling" as "any" })).toThrow(code);
});
