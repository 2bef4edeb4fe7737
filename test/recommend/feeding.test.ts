import { describe, expect, test } from "vitest";
import { readTrial, streamRandom } from "../../src/index.ts";
import { leastSquares } from "../../src/numeric/leastSquares.ts";
import { densityLimits } from "../../src/recommend/densityLimits.ts";
import { densityFedBy, fitNitrogenSurface } from "../../src/recommend/nitrogenSurface.ts";
import { removalTable, uptakeTable } from "../../src/recommend/nutrients.ts";
import { recommendRate } from "../../src/recommend/recommendRate.ts";
import { assertDigits } from "../assertDigits.ts";
import { analysed, parabola, prices, sampleTrial } from "./sampleTrial.ts";

const analysis = analysed(sampleTrial(parabola(226, 32, 0.08), { sigma: 1e-9, blockSigma: 0, blocks: 3 }));
const field = { hybrid: "Amber 12", establishment: 0.95, planterStep: 0.5 } as const;
const plain = { elsewhere: "none", draws: 200 } as const;

describe("uptake", () => {
  test("a crop of 12.0 t/ha dry grain takes up 286 kg N, 114 kg P2O5, 202 kg K2O and 26 kg S: 1.13, 0.45, 0.80, 0.10 lb/bu", () => {
    // Bender et al. (2013), Agronomy Journal 105, 161-170 (meeting abstract 71536 prints all four); per bushel by hand:
    // 286 / 12 x 0.845 x 56 / 1000 = 1.128.
    const { perTonneDryGrain } = uptakeTable[0];
    const perBushel = (kilograms: number): number => (kilograms * 0.845 * 56) / 1000;
    expect(perBushel(perTonneDryGrain.N).toFixed(2)).toBe("1.13");
    expect(perBushel(perTonneDryGrain.P2O5).toFixed(2)).toBe("0.45");
    expect(perBushel(perTonneDryGrain.K2O).toFixed(2)).toBe("0.80");
    expect(perBushel(perTonneDryGrain.S).toFixed(2)).toBe("0.10");
  });

  test("removal with grain is kept apart: 0.37 and 0.23 lb a bushel of maize", () => {
    // Villamil, Nafziger & Behnke (2019): 2,335 Illinois samples.
    const maize = removalTable.find(({ crop }) => crop === "maize");
    expect(maize?.poundsPerBushel).toEqual({ P2O5: 0.37, K2O: 0.23 });
  });
});

describe("feeding limit", () => {
  /** K2O per bushel as the table has it. */
  const perBushel = ((202 / 12) * 0.845 * 56) / 1000;

  test("caps at the lowest density that already reaches the supported yield", () => {
    // By hand: 160 lb soil + 40 lb applied at half recovery = 180 lb; / 0.7966 = 225.96 bu. With the top of 226 that is reached at
    // 32 - sqrt((226 - 225.96) / 0.08). For 150 + 10: 160 lb / 0.7966 = 200.85 bu, reached at 32 - sqrt(25.15 / 0.08) = 14.27: below
    // the lowest tested stand of 17.1.
    const cap = (soil: number, applied: number) =>
      densityLimits(analysis, { ...field, supply: { unit: "lb/ac", K2O: { soil, applied, recovery: 0.5 } } }, plain);
    const supported = (lb: number): number => lb / perBushel;
    const reached = (bushels: number): number => (32 - Math.sqrt((226 - bushels) / 0.08)) / 0.95;
    const mild = cap(150, 40);
    expect(mild.limits.feeding.kind).toBe("at");
    assertDigits(mild.balances[0].supportedYield, supported(170), 9);
    // Read off a grid of 128 cells by straight lines: 3 digits.
    assertDigits(mild.limits.feeding.rate, reached(supported(170)), 3);
    expect(cap(140, 20).limits.feeding.kind).toBe("at-lowest");
    expect(cap(300, 0).limits.feeding.kind).toBe("at-highest");
  });

  test("the scarcest of P2O5, K2O and S decides, and the rooting factor works on the soil's share only", () => {
    const of = (supply: object) => densityLimits(analysis, { ...field, supply: { unit: "lb/ac", ...supply } }, plain);
    const both = of({ K2O: { soil: 300 }, P2O5: { soil: 95 } });
    expect(both.limits.feeding.basis).toContain("P2O5");
    const rooted = of({ K2O: { soil: 100, applied: 100, recovery: 0.6 }, rootingFactor: 1.2 });
    // 100 x 1.2 + 100 x 0.6.
    assertDigits(rooted.balances[0].available, 180, 12);
  });

  test("nitrogen is compared and warned about, and never moves the rate", () => {
    const rate = (soil: number) => recommendRate(analysis, { ...field, supply: { unit: "lb/ac", N: { soil } } }, plain);
    const hungry = rate(40);
    expect(hungry.rate).toBe(rate(400).rate);
    expect(hungry.limits.feeding.kind).toBe("none");
    expect(hungry.balances[0].caps).toBe(false);
    expect(hungry.cautions.join(" ")).toMatch(/Nitrogen is compared, never prescribed.*more than the 40 lb\/ac/);
    expect(JSON.stringify(hungry)).not.toMatch(/apply|N rate of/i);
  });

  test("uptake can be the user's own, per bushel or per tonne", () => {
    const own = (unit: "lb/bu" | "kg/t", K2O: number) =>
      densityLimits(analysis, { ...field, supply: { unit: "lb/ac", K2O: { soil: 180 }, uptake: { unit, K2O } } }, plain)
        .balances[0];
    assertDigits(own("lb/bu", 0.9).supportedYield, 200, 9);
    // 0.9 lb in 56 lb = 16.071 kg in a tonne.
    assertDigits(own("kg/t", 900 / 56).supportedYield, 200, 9);
  });
});

/** Density x nitrogen trial with a known surface: more nitrogen moves the best density up. */
function nitrogenTrial(scatter: number) {
  const random = streamRandom(8, 0);
  const rows = [1, 2, 3, 4].flatMap((block) =>
    [18, 24, 30, 36, 42].flatMap((rate) =>
      [60, 120, 180, 240].map((n) => ({
        crop: "maize",
        hybrid: "Amber 12",
        block,
        seeding_rate_k_ac: rate,
        stand_k_ac: rate * 0.95,
        n_rate_lb_ac: n,
        yield_bu_ac: surface(rate * 0.95, n) + scatter * random.normal(),
      })),
    ),
  );
  return readTrial(rows);
}
const surface = (x: number, n: number): number => 40 + 5 * x - 0.1 * x * x + 0.5 * n - 0.0015 * n * n + 0.006 * x * n;

describe("density x nitrogen surface", () => {
  test("recovers a known surface exactly and says where yield turns at each nitrogen rate", () => {
    const { trial } = nitrogenTrial(0);
    const plots = trial?.plots ?? [];
    const nitrogen = plots.map(({ traits }) => traits.find(([name]) => name === "n_rate_lb_ac")?.[1] as number);
    const fit = fitNitrogenSurface({
      density: plots.map(({ density }) => density as number),
      nitrogen,
      yield: plots.map((plot) => plot.yield as number),
      block: plots.map(({ block }) => block),
    });
    assertDigits(fit.coefficients.intercept, 40, 8);
    assertDigits(fit.coefficients.density, 5, 9);
    assertDigits(fit.coefficients.densitySquared, -0.1, 9);
    assertDigits(fit.coefficients.nitrogen, 0.5, 8);
    assertDigits(fit.coefficients.nitrogenSquared, -0.0015, 9);
    assertDigits(fit.coefficients.densityNitrogen, 0.006, 9);
    // (5 + 0.006 n) / 0.2.
    assertDigits(densityFedBy(fit, 120), 28.6, 8);
  });

  test("its covariance is that of the plain least-squares fit in raw units", () => {
    // Independent of the scaling inside: the general solver on raw columns.
    const { trial } = nitrogenTrial(6);
    const plots = trial?.plots ?? [];
    const x = plots.map(({ density }) => density as number);
    const n = plots.map(({ traits }) => traits.find(([name]) => name === "n_rate_lb_ac")?.[1] as number);
    const y = plots.map((plot) => plot.yield as number);
    const fit = fitNitrogenSurface({ density: x, nitrogen: n, yield: y });
    const raw = leastSquares(
      [x.map(() => 1), x, x.map((v) => v * v), n, n.map((v) => v * v), x.map((v, i) => v * n[i])],
      y,
    );
    assertDigits(fit.coefficients.densityNitrogen, raw.coef[5], 9);
    const expected = (i: number, j: number): number => raw.vcov?.[i + 1][j + 1] as number;
    for (let i = 0; i < 5; i++) {
      for (let j = 0; j < 5; j++) {
        // Some covariances of this balanced design are zero: errors are judged against the standard errors.
        const scale = Math.sqrt(expected(i, i) * expected(j, j));
        expect(Math.abs((fit.vcov?.[i][j] as number) - expected(i, j)) / scale).toBeLessThan(1e-8);
      }
    }
    assertDigits(fit.interaction?.t, raw.coef[5] / (raw.stderror?.[5] as number), 9);
  });

  test("the limit is read from the trial when it varied nitrogen, and needs the field's rate", () => {
    const { trial } = nitrogenTrial(4);
    if (trial === null) throw new Error("no trial");
    const analysed120 = analysed(trial);
    const of = (nitrogenRate?: number) =>
      densityLimits(
        analysed120,
        { hybrid: "Amber 12", prices, ...(nitrogenRate === undefined ? {} : { nitrogenRate }) },
        { trial, draws: 300 },
      );
    const at120 = of(120).limits.nitrogenFromData;
    expect(at120.kind).toBe("at");
    // Truth 28.6 plants = 30.1 seeds; the interval must hold it.
    const interval = at120.interval;
    expect((interval?.lower as number) < 30.1 && 30.1 < (interval?.upper as number)).toBe(true);
    expect((of(180).limits.nitrogenFromData.rate as number) > (at120.rate as number)).toBe(true);
    expect(of().notes.join(" ")).toContain("field.nitrogenRate");
    expect(of(500).limits.nitrogenFromData.basis).toContain("outside");
  });
});
