import { expect, test } from "vitest";
import { readTrial } from "../../src/index.ts";
import { elsewhereContrasts, maizeElsewhere } from "../../src/recommend/elsewhere.ts";
import { recommendRate } from "../../src/recommend/recommendRate.ts";
import { assertDigits } from "../assertDigits.ts";
import { analysed, parabola, prices, sampleTrial } from "./sampleTrial.ts";

test("knowledge from elsewhere is maize's only; another crop is judged by its trial, your own can be given", () => {
  const rows = [1, 2, 3].flatMap((block) =>
    [80, 110, 140, 170, 200].map((rate) => ({
      crop: "soybean",
      hybrid: "S1",
      block,
      seeding_rate_k_ac: rate,
      yield_bu_ac: 55 - 0.0008 * (160 - rate) ** 2 + Math.sin(7 * block + rate),
    })),
  );
  const { trial } = readTrial(rows);
  if (trial === null) throw new Error("no trial");
  const analysis = analysed(trial);
  const field = { hybrid: "S1", prices: { grainPrice: 10, seedCostPerThousand: 0.5 } };
  const r = recommendRate(analysis, field, { trial, draws: 200 });
  expect(r.evidence.elsewhere).toBeNull();
  expect(r.rate).toBeGreaterThan(80);
  const elsewhere = {
    optimum: 120,
    optimumSpread: 5,
    unit: "1000 plants/ac",
    bend: 0.00002,
    bendSpread: 0.3,
    source: "own trials",
  } as const;
  const own = recommendRate(analysis, field, { trial, draws: 200, elsewhere });
  expect(own.evidence.elsewhere?.source).toBe("own trials");
  expect(own.rate).toBeLessThan(r.rate);
  expect(own.evidence.elsewhere?.rateWithout).toBe(r.rate);
});

test("its two contrasts have the moments of the parabolas they stand for", () => {
  // Monte Carlo over optimum ~ N(31.6, 5) and ln bend ~ N(ln .0005, .7), 200,000 draws of a low-discrepancy sequence: 2 % for the
  // covariance, whose lognormal tail is long.
  const range = [18, 42] as const;
  const { mean, vcov } = elsewhereContrasts(maizeElsewhere, 200, range, "1000 plants/ac", 1);
  const n = 200_000;
  const sums = [0, 0, 0, 0, 0];
  for (let i = 0; i < n; i++) {
    const [u, v] = [((i + 1) * 0.7548776662466927) % 1, ((i + 1) * 0.5698402909980532) % 1];
    const radius = Math.sqrt(-2 * Math.log(u));
    const m = 31.6 + 5 * radius * Math.cos(2 * Math.PI * v);
    const k = 200 * 0.0005 * Math.exp(0.7 * radius * Math.sin(2 * Math.PI * v));
    const y = (x: number): number => -k * (x - m) ** 2;
    const rise = y(42) - y(18);
    const sag = 2 * y(30) - y(18) - y(42);
    [rise, sag, rise * rise, rise * sag, sag * sag].forEach((value, j) => {
      sums[j] += value / n;
    });
  }
  const near = (a: number, b: number): void => expect(Math.abs(a / b - 1)).toBeLessThan(0.02);
  near(sums[0], mean[0]);
  near(sums[1], mean[1]);
  near(sums[2] - sums[0] ** 2, vcov[0][0]);
  near(sums[4] - sums[1] ** 2, vcov[1][1]);
  // The covariance is small beside the spreads: judged as a correlation.
  const correlation = (a: number): number => a / Math.sqrt(vcov[0][0] * vcov[1][1]);
  expect(Math.abs(correlation(sums[3] - sums[0] * sums[1]) - correlation(vcov[0][1]))).toBeLessThan(0.005);
});

test("a trial that knows more is moved less by it, a poor one comes near it", () => {
  const elsewhere = { ...maizeElsewhere, optimum: 40, optimumSpread: 3, bendSpread: 0.1 };
  const rate = (sigma: number, blocks: number, seed: number, knowledge: typeof elsewhere | "none"): number => {
    const trial = sampleTrial(parabola(190, 24, 0.1), { sigma, blocks, seed });
    const field = { hybrid: "Amber 12", establishment: 0.95, prices };
    const { limits } = recommendRate(analysed(trial), field, { trial, draws: 300, elsewhere: knowledge });
    return limits.economicOptimum.rate as number;
  };
  // What the knowledge alone would say: optimum 40, less the price's part r / (2 bend), bend = 0.0005 x a yield of some 160.
  const alone = (40 - 3.75 / 0.95 / 4.5 / (2 * 0.0005 * 160)) / 0.95;
  const seeds = [6, 7, 8, 9, 10];
  const away = (sigma: number, blocks: number, knowledge: typeof elsewhere | "none"): number =>
    seeds.reduce((sum, seed) => sum + Math.abs(rate(sigma, blocks, seed, knowledge) - alone), 0) / seeds.length;
  const moved = (sigma: number, blocks: number): number => away(sigma, blocks, "none") - away(sigma, blocks, elsewhere);
  expect(Math.abs(moved(1, 6))).toBeLessThan(0.5);
  expect(moved(40, 2)).toBeGreaterThan(4);
});

test("a density in another unit means the same knowledge", () => {
  const a = elsewhereContrasts(maizeElsewhere, 200, [18, 42], "1000 plants/ac", 1);
  const b = elsewhereContrasts(maizeElsewhere, 200, [18_000, 42_000], "plants/ac", 1);
  const seeds = elsewhereContrasts(maizeElsewhere, 200, [20, 46.6666666667], "1000 plants/ac", 0.9);
  assertDigits(b.mean[1], a.mean[1], 12);
  assertDigits(b.vcov[0][1], a.vcov[0][1], 11);
  assertDigits(seeds.mean[0], a.mean[0], 8);
});

test("two densities carry a straight line only, and the answer stays inside them", () => {
  const trial = sampleTrial((x) => 150 + 1.5 * x, { rates: [24, 34], sigma: 3 });
  const field = { hybrid: "Amber 12", planterStep: 1, prices };
  const r = recommendRate(analysed(trial), field, { trial, draws: 100, elsewhere: "none" });
  expect(r.rate).toBe(34);
  expect(r.bindingLimit).toBe("tested-range");
  expect(r.evidence.basis).toBe("fits of the analysis");
  // Published knowledge of the bend can turn the line, but not beyond what was grown.
  const bent = recommendRate(analysed(trial), field, { trial, draws: 100 });
  expect(bent.rate >= 24 && bent.rate <= 34).toBe(true);
});

test("a trial too small for a curve gives no rate, and the reason", () => {
  const trial = sampleTrial(parabola(200, 30, 0.06), { rates: [20, 30, 40], blocks: 1, sigma: 2 });
  expect(() => recommendRate(analysed(trial), { hybrid: "Amber 12", prices }, { trial })).toThrow(
    /Amber 12 could not be analysed: .*too few/,
  );
});
