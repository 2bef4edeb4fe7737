import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { curveBand } from "../../src/derive/curveBand.ts";
import { curveRows } from "../../src/derive/curveRows.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { optimumInterval } from "../../src/interval/optimumInterval.ts";
import { assertDigits } from "../assertDigits.ts";

const oracle = JSON.parse(readFileSync(new URL("../oracle/curveBand.json", import.meta.url), "utf8"));
const data = { density: oracle.density, yield: oracle.yield, block: oracle.block };
const at: number[] = oracle.at;

describe("curveBand", () => {
  test("of a parabola alone is the t interval that R's lm gives for the average block", () => {
    const band = curveBand(data, { family: "quadratic", at });
    at.forEach((_, i) => {
      assertDigits(band.lower[i], oracle.quadratic.lower[i], 11);
      assertDigits(band.upper[i], oracle.quadratic.upper[i], 11);
    });
  });

  test("of a linear-plateau alone is the profile set that direct numeric search finds", () => {
    const band = curveBand(data, { family: "linear-plateau", at });
    const width = oracle.linearPlateau.upper[2] - oracle.linearPlateau.lower[2];
    at.forEach((_, i) => {
      // Joins are swept on a grid, so an end may fall short by up to 1 % of the width, and never reach beyond.
      for (const [end, sign] of [
        ["lower", 1],
        ["upper", -1],
      ] as const) {
        const short = sign * (band[end][i] - oracle.linearPlateau[end][i]);
        expect(short).toBeGreaterThan(-1e-5 * width);
        expect(short).toBeLessThan(0.01 * width);
      }
    });
  });

  test("over all families contains the bands of the families that fit, cut at the common cut-off", () => {
    const all = curveBand(data, { at });
    expect(all.method).toBe("envelope");
    const richest = (["quadratic", "linear-plateau", "quadratic-plateau"] as const).map((one) => fitCurve(one, data));
    const best = richest.reduce((a, b) => ((b.rss as number) < (a.rss as number) ? b : a));
    const one = curveBand(data, { family: best.family, at });
    expect(one.method).toBe("profile");
    // The candidate with the smallest RSS sets the cut-off, so its own band lies inside that of all (same cut-off, more curves).
    all.lower.forEach((low, i) => {
      expect(low).toBeLessThanOrEqual(one.lower[i] + 1e-9);
      expect(all.upper[i]).toBeGreaterThanOrEqual(one.upper[i] - 1e-9);
    });
  });

  test("does not care for the order of plots, and follows the units", () => {
    const plain = curveBand(data, { at });
    const turned = curveBand(
      { density: data.density.toReversed(), yield: data.yield.toReversed(), block: data.block.toReversed() },
      { at },
    );
    const scaled = curveBand(
      {
        density: data.density.map((x: number) => 2.471 * x),
        yield: data.yield.map((y: number) => y / 16),
        block: data.block,
      },
      { at: at.map((x) => 2.471 * x) },
    );
    at.forEach((_, i) => {
      assertDigits(turned.lower[i], plain.lower[i], 10);
      assertDigits(16 * scaled.lower[i], plain.lower[i], 10);
      assertDigits(16 * scaled.upper[i], plain.upper[i], 10);
    });
  });

  test("is tight where the optimum interval is, and says why there is none", () => {
    expect(optimumInterval(data).lowerOpen).toBe(false);
    const two = curveBand({ density: [1, 2], yield: [3, 4] });
    expect(two.density).toEqual([]);
    expect(two.reason).toContain("no residual degrees of freedom");
    expect(() => curveBand(data, { level: 1 })).toThrow("level");
    expect(() => curveBand(data, { families: ["mitscherlich"] })).toThrow("exact families");
  });

  test("of a smooth family comes from its covariance matrix and is centred on the curve", () => {
    const band = curveBand(data, { family: "mitscherlich", at });
    expect(band.method).toBe("delta");
    const fit = fitCurve("mitscherlich", data);
    if (band.reason === null) {
      expect(fit.status).toBe("converged");
      expect(band.lower[2]).toBeLessThan(band.upper[2]);
    }
  });
});

describe("curveRows", () => {
  test("residuals, standardised residuals and normal scores are those of R's lm", () => {
    // R 4.2.2: lm(y ~ x + I(x^2) + b) of curveBand.R; rstandard() and qnorm((rank - 3/8) / (n + 1/4)).
    const { rows, means } = curveRows(data, fitCurve("quadratic", data));
    expect(rows.length).toBe(18);
    const sum = rows.reduce((total, { residual }) => total + residual, 0);
    expect(Math.abs(sum)).toBeLessThan(1e-9);
    assertDigits(rows[0].standardised as number, -0.207537238612, 8);
    assertDigits(rows[9].standardised as number, 1.424553748375, 8);
    const scores = rows.map(({ normalScore }) => normalScore as number).sort((a, b) => a - b);
    assertDigits(scores[17], 1.82174852992, 8);
    expect(means.map(({ plots }) => plots)).toEqual([3, 3, 3, 3, 3, 3]);
    // Balanced blocks: adjusted level means are the plain ones.
    assertDigits(means[0].mean, (171 + 176 + 168) / 3, 12);
  });
});
