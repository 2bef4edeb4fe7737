import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { compareCurves } from "../../src/fit/compareCurves.ts";
import { fitCurve } from "../../src/fit/fitCurve.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { factorModel } from "../../src/numeric/factorModel.ts";
import { assertDigits } from "../assertDigits.ts";
import { dummies, plainRss } from "../bruteForce.ts";

function trial(
  truth: (x: number) => number,
  sd: number,
  seed = 1,
): { density: number[]; yield: number[]; block: number[] } {
  const random = streamRandom(seed, 0);
  const density: number[] = [];
  const block: number[] = [];
  for (let b = 0; b < 4; b++) {
    for (const x of [18, 23, 28, 33, 38, 43]) {
      density.push(x);
      block.push(b);
    }
  }
  return { density, block, yield: density.map((x, i) => truth(x) + 3 * block[i] + sd * random.normal()) };
}

describe("compareCurves", () => {
  test("weights are exp(-delta / 2) normalised and sum to 1", () => {
    const { ranking, fits } = compareCurves(trial((x) => 200 - 0.08 * (x - 32) ** 2, 5));
    const best = Math.min(...fits.map((fit) => fit.aicc as number));
    const raw = fits.map((fit) => Math.exp((best - (fit.aicc as number)) / 2));
    const total = raw.reduce((a, b) => a + b, 0);
    ranking.forEach((rank, i) => {
      assertDigits(rank.weight, raw[i] / total, 12);
    });
  });

  test("counts blocks, shape, join and variance in AICc", () => {
    const data = trial((x) => 200 - 0.08 * (x - 32) ** 2, 5);
    const fit = fitCurve("linear-plateau", data);
    const n = 24;
    const k = 4 + 2 + 1; // four blocks (the plateau among them), slope, join, variance
    const expected =
      n * (Math.log((2 * Math.PI * (fit.rss as number)) / n) + 1) + 2 * k + (2 * k * (k + 1)) / (n - k - 1);
    assertDigits(fit.aicc, expected, 12);
    expect(fit.dofResidual).toBe(24 - 6);
  });

  test("chooses the flat curve when there is no response", () => {
    expect(compareCurves(trial(() => 180, 5, 4)).best).toBe("flat");
  });

  test("says that three densities cannot choose between the curves that fit exactly alike", () => {
    const random = streamRandom(5, 1);
    const density = [60, 80, 100].flatMap((x) => [x, x, x, x, x]);
    const yields = density.map((x) => 11.5 - 0.003 * Math.max(85 - x, 0) ** 2 + 0.3 * random.normal());
    const { tied, warnings } = compareCurves({ density, yield: yields });
    expect(tied).toEqual(
      ["quadratic", "linear-plateau", "quadratic-plateau"].filter((f) => tied.includes(f as "quadratic")),
    );
    expect(tied.length).toBeGreaterThan(1);
    expect(warnings.map((warning) => warning.code)).toContain("tie");
  });

  test("says so when plots are too few for AICc", () => {
    const { warnings } = compareCurves({ density: [2, 4, 6, 8], yield: [1.176, 1.73, 1.98, 1.946] });
    expect(warnings.map((warning) => warning.code)).toContain("too-few-plots");
  });

  test("the averaged curve is the weighted mean of the curves, with its own optimum on it", () => {
    const data = trial((x) => 200 - 0.08 * (x - 32) ** 2, 5);
    const { averaged, ranking, fits } = compareCurves(data);
    const i = 30;
    const x = averaged?.density[i] as number;
    const mean = fits.reduce((sum, fit, f) => {
      const { intercept, linear, quadratic, plateau, slope, curvature, join } = fit.coefficients as Record<
        string,
        number
      >;
      const y =
        plateau === undefined
          ? intercept + (linear ?? 0) * x + (quadratic ?? 0) * x * x
          : plateau - (slope ?? curvature) * Math.max(join - x, 0) ** (slope === undefined ? 2 : 1);
      return sum + ranking[f].weight * y;
    }, 0);
    assertDigits(averaged?.yield[i], mean, 10);
    const [low, high] = fits[0].range;
    const density = averaged?.density ?? [];
    expect([density[0], density.at(-1)]).toEqual([low, high]);
    assertDigits(density[1] - density[0], (high - low) / (density.length - 1), 9);
    expect(averaged?.optimum.density).toBeGreaterThanOrEqual(low);
    expect(averaged?.optimum.density).toBeLessThanOrEqual(high);
    expect(averaged?.optimum.yield).toBeGreaterThanOrEqual(Math.max(...(averaged?.yield ?? [])) - 1e-9);
  });
});

describe("lack of fit", () => {
  test("compares with density as a factor and the same blocks, balanced or not", () => {
    const random = streamRandom(9, 2);
    for (let s = 0; s < 30; s++) {
      const full = trial((x) => 190 - Math.abs(x - 30), 4, 100 + s);
      const keep = full.density.map((_, i) => i < 6 || random.below(5) > 0);
      const pick = (values: number[]): number[] => values.filter((_, i) => keep[i]);
      const data = { density: pick(full.density), yield: pick(full.yield), block: pick(full.block) };
      const { ss, dof } = factorModel(prepareData(data).design, Float64Array.from(data.yield));
      const columns = [...dummies(data.block), ...dummies(data.density).slice(1)];
      assertDigits(
        ss,
        plainRss(
          columns,
          data.yield,
          data.density.map(() => 1),
        ),
        9,
      );
      expect(dof).toBe(data.density.length - columns.length);
    }
  });

  test("cannot be tested without replication, and says so", () => {
    const { ranking } = compareCurves({ density: [1, 2, 3, 4, 5, 6, 7], yield: [1, 2, 3, 3.5, 3.4, 3.6, 3.5] });
    expect(ranking[1].lackOfFit).toMatchObject({ kind: "untestable" });
  });
});
