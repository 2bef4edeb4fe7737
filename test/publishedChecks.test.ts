/**
 * Values from handbooks, papers and open data that the main job must reproduce. The source of each expected value stands beside
 * it; "R 4.2.2" means computed there from the published data (the paper itself prints fewer digits).
 */
import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import {
  agronomicOptimum,
  compareCurves,
  compensationElasticity,
  convertYield,
  cropTable,
  deltaInterval,
  earCountYield,
  economicOptimum,
  fiellerSet,
  fitCurve,
  joinInterval,
  optimumInterval,
  partialBudget,
  rowLengthForArea,
  seedingRateFor,
  standardMoistureYield,
} from "../src/index.ts";
import { tQuantile } from "../src/numeric/distributions.ts";
import { crowdingSlope } from "../src/standability/crowdingSlope.ts";
import { assertDigits } from "./assertDigits.ts";

const near = (actual: number | null | undefined, expected: number, tolerance: number): void =>
  expect(Math.abs((actual ?? Number.NaN) - expected)).toBeLessThanOrEqual(tolerance);

describe("measurement", () => {
  test("10,000 lb at 20 % moisture are 9,467.46 lb at 15.5 %, not the 9,240 lb of the usual mistake", () => {
    // Inputs and the wrong method: UF/IFAS SS-AGR-443 (2020). Value: exact formula.
    near(standardMoistureYield(10_000, 20, 15.5), 9467.4556, 1e-3);
  });

  test("1/1000 acre is 17.424 ft of 30-inch row and 34.848 ft of 15-inch row", () => {
    // 43.56 / row width in feet; printed as 17'5" by UT Crops (2011), "Checking corn populations".
    const row = (inches: number): number =>
      rowLengthForArea({ value: 0.001, unit: "ac" }, { value: inches, unit: "in" }, "ft");
    assertDigits(row(30), 17.424, 12);
    assertDigits(row(15), 34.848, 12);
  });

  test("one bushel of maize per acre is 0.0627676647 t/ha", () => {
    // Exact definitions: 56 lb, 1 lb = 0.45359237 kg, 1 ac = 4046.8564224 m2.
    const maize = cropTable.find((crop) => crop.name === "maize");
    expect(maize).toBeDefined();
    assertDigits(convertYield(1, "bu/ac", "t/ha", maize), 0.0627676647, 9);
  });

  test("32,000 plants at 95 % germination and 95 % survival need 35,457 seeds", () => {
    // Formula: Ohio State Extension corn seeding formula.
    near(seedingRateFor(32_000, 0.95, 0.95), 35_457.06, 0.01);
  });

  test("22 ears x 15.75 rows x 34 kernels are 153 bu/ac, 35 x 16 x 36 with 90 thousand kernels a bushel 224", () => {
    // First: Mississippi State, corn8, multiplier 0.013 (prints 153). Second: extension.org 35148, factor 90; an identity.
    near(
      earCountYield({ ears: 22, rowsPerEar: 15.75, kernelsPerRow: 34, thousandKernelsPerUnit: 1 / 0.013 }),
      153.153,
      0.01,
    );
    expect(earCountYield({ ears: 35, rowsPerEar: 16, kernelsPerRow: 36, thousandKernelsPerUnit: 90 })).toBe(224);
  });

  test("220 bu at 3.75 less 36 thousand seeds at 3.00 return 717.00", () => {
    // Nafziger (2019), farmdoc daily (9):80.
    expect(partialBudget({ addedSeed: 36, seedCost: 3, addedYield: 220, grainPrice: 3.75 }).net).toBe(717);
  });

  test("5,000 more seeds at 300 per 80,000 and 0.9 bu at 5 lose 14.25; 3.75 bu would break even", () => {
    // Inputs: Iowa replicated strip trials 2009-13.
    const step = partialBudget({ addedSeed: 5, seedCost: 300 / 80, addedYield: 0.9, grainPrice: 5 });
    near(step.cost, 18.75, 1e-9);
    near(step.breakEvenYield, 3.75, 1e-9);
    near(step.net, -14.25, 1e-9);
  });
});

describe("curves and optima", () => {
  test("a quadratic whose vertex lies outside the tested densities is flagged, not recommended", () => {
    // Carmer & Jackobs (1965), Agronomy Journal 57, 241-244, hybrid 7 (plants per hill); vertex: R 4.2.2.
    const optimum = agronomicOptimum(
      fitCurve("quadratic", { density: [2, 4, 6, 8], yield: [1.062, 1.494, 1.536, 1.724] }),
    );
    expect(optimum.kind).toBe("upper-edge");
    expect(optimum.density).toBe(8);
    near(optimum.outside, 8.32459, 1e-5);
  });

  test("the 25-April row of the planting-date table gives 29.02, 4.661, -0.07675 and its vertex at 30.366 thousand", () => {
    // Data: Nafziger (1994), Journal of Production Agriculture 7, 59-62, percent of maximum. Coefficients: R 4.2.2 lm.
    const density = [10, 12, 14, 16, 18, 20, 22, 24, 26, 28, 30, 32, 34, 36];
    const percent = [68, 74, 79, 84, 88, 92, 94, 97, 98, 99, 100, 100, 99, 97];
    const fit = fitCurve("quadratic", { density, yield: percent });
    near(fit.coefficients["intercept"], 29.0225275, 1e-5);
    near(fit.coefficients["linear"], 4.66133242, 1e-5);
    near(fit.coefficients["quadratic"], -0.07675137, 1e-5);
    near(agronomicOptimum(fit).density, 30.36644, 1e-5);
    // The same curve scaled to 200 bu with 0.833333 bu per thousand plants.
    const scaled = fitCurve("quadratic", { density, yield: percent.map((p) => 2 * p) });
    near(economicOptimum(scaled, { grainPrice: 1, seedCost: 0.833333 }).density, 27.65205, 1e-4);
  });

  const jackson1962 = { density: [0, 67, 134, 201, 268, 335], yield: [46.5, 59, 71.9, 73.1, 74.5, 75.5] };

  test("quadratic-plateau on the Jackson 1962 maize means joins at 225.34; at 0.11 / 1.15 the optimum is 140.78", () => {
    // Engelstad & Parks (1971), Agronomy Journal 63, 21-23, document about 225 and 140. Digits: R 4.2.2.
    const fit = fitCurve("quadratic-plateau", jackson1962);
    near(fit.coefficients["join"], 225.3404, 1e-3);
    near(fit.coefficients["plateau"], 74.74258, 1e-3);
    near(fit.rss, 8.530486, 1e-5);
    near(economicOptimum(fit, { grainPrice: 1.15, seedCost: 0.11 }).density, 140.7837, 1e-3);
  });

  test("linear-plateau on the same data joins at 147.36", () => {
    // Same data; R 4.2.2, exact profile.
    const fit = fitCurve("linear-plateau", jackson1962);
    near(fit.coefficients["join"], 147.3648, 0.01);
    near(fit.coefficients["slope"], 0.189558, 1e-5);
    near((fit.coefficients["plateau"] as number) - 0.189558 * 147.3648, 46.4333, 1e-3);
    near(fit.rss, 2.933334, 1e-5);
  });

  test("on the Knoxville 1962 means both plateau curves fit alike, 82 against 118, and a warning says so", () => {
    // Engelstad & Parks (1971): sums of squares 36.09 for both. R 4.2.2.
    const data = { density: [0, 67, 134, 201, 268, 335], yield: [44.6, 73, 75.2, 83.3, 78.4, 80.9] };
    const line = fitCurve("linear-plateau", data);
    const curve = fitCurve("quadratic-plateau", data);
    near(line.rss, 36.09, 1e-2);
    near(curve.rss, line.rss as number, 1e-3);
    near(line.coefficients["join"], 82.2, 0.1);
    near(curve.coefficients["join"], 117.6, 0.1);
    const { warnings } = compareCurves(data, { families: ["flat", "linear-plateau", "quadratic-plateau"] });
    const warning = warnings.find(({ code }) => code === "optimum-depends-on-family");
    expect(warning?.message).toMatch(/82\.\d.*117\.\d|82\.\d.*118/);
  });

  test("Knoxville 1966 shows no positive response; in 1965 the join is not identified", () => {
    // Same source; R 4.2.2: slope negative in 1966, only the lowest level below the plateau in 1965 (SSE 47.848).
    const falling = fitCurve("linear-plateau", {
      density: jackson1962.density,
      yield: [63, 61.3, 63.4, 59.4, 57.8, 58.3],
    });
    expect(falling.limit).toBe("flat");
    const step = fitCurve("linear-plateau", {
      density: jackson1962.density,
      yield: [59.4, 67.4, 69.6, 62.9, 67, 61.2],
    });
    expect(step.limit).toBe("join-not-identified");
    near(step.rss, 47.848, 1e-3);
  });

  const manual = {
    density: [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 13, 15, 16],
    yield: [0.46, 0.47, 0.57, 0.61, 0.62, 0.68, 0.69, 0.78, 0.7, 0.74, 0.77, 0.78, 0.74, 0.8, 0.8, 0.78],
  };

  test("the 16-point segmented example joins at 12.7477 on a plateau of 0.7775", () => {
    // Data: a statistics package manual, segmented model example. Estimates as remembered from its print [from memory] and
    // recomputed in R 4.2.2.
    const fit = fitCurve("quadratic-plateau", manual);
    const { plateau, curvature, join } = fit.coefficients as { plateau: number; curvature: number; join: number };
    near(join, 12.7477, 1e-4);
    near(plateau, 0.7775, 1e-4);
    near(plateau - curvature * join * join, 0.3921, 1e-4);
    near(2 * curvature * join, 0.0605, 1e-4);
    near(-curvature, -0.00237, 1e-5);
    near(fit.rss, 0.010066, 1e-7);
    near(fit.standardErrors["join"], 1.2781, 1e-3);
  });

  test("profile-F intervals of the two joins on that example are 7.10 to 10.33, and 10.1 upwards", () => {
    // R 4.2.2, dense profile search, to the digits printed.
    const line = joinInterval(manual, { family: "linear-plateau" });
    near(line.lower, 7.1, 0.01);
    near(line.upper, 10.33, 0.01);
    const curve = joinInterval(manual, { family: "quadratic-plateau" });
    near(curve.lower, 10.1, 0.05);
    expect(curve.upper === null || curve.upper > 16).toBe(true);
  });
});

describe("per-plant curves", () => {
  // Carmer & Jackobs (1965), Agronomy Journal 57, 241-244: yield in lb per hill of hybrid 1 at 2, 4, 6, 8 plants per hill.
  const hybrid1 = fitCurve("exponential", { density: [2, 4, 6, 8], yield: [1.176, 1.73, 1.98, 1.946] });

  test("the exponential curve of hybrid 1 has a = .782, k = .865 and its optimum at 6.875 plants per hill", () => {
    // The paper prints .782, .865, 6.875; further digits: R 4.2.2. Y = a x k^x, so a = exp(a'), k = exp(b').
    near(Math.exp(hybrid1.coefficients["a"] as number), 0.7819253, 1e-6);
    near(Math.exp(hybrid1.coefficients["b"] as number), 0.8646299, 1e-6);
    const open = fitCurve("exponential", { density: [2, 4, 6, 8], yield: [1.176, 1.73, 1.98, 1.946] });
    near(agronomicOptimum(open).density, 6.875037, 1e-5);
    near(hybrid1.rss, 0.000826671, 1e-8);
  });

  test("at 0.0466667 lb per plant its economic optimum is 5.90628 plants per hill (Lambert W)", () => {
    near(economicOptimum(hybrid1, { grainPrice: 1, seedCost: 0.0466667 }).density, 5.90628, 1e-5);
  });

  test("the compensation elasticity is 1 at the optimum of every smooth curve that has one", () => {
    // Identity: d ln Y / d ln x = 0 at the optimum. Parameters of the closed forms: handbook of yield-density equations.
    const density = [100, 150, 200, 250, 300, 400];
    const parabolic = fitCurve("parabolic-reciprocal", {
      density,
      yield: density.map((x) => x / (0.002 + 9e-5 * x + 4e-8 * x * x)),
    });
    near(agronomicOptimum(parabolic).density, 223.6068, 1e-3);
    assertDigits(compensationElasticity(parabolic, agronomicOptimum(parabolic).density as number), 1, 8);
    assertDigits(compensationElasticity(hybrid1, agronomicOptimum(hybrid1).density as number), 1, 9);
    const parabola = fitCurve("quadratic", { density: [2, 4, 6, 8], yield: [1.346, 1.818, 1.832, 1.466] });
    assertDigits(compensationElasticity(parabola, agronomicOptimum(parabola).density as number), 1, 9);
  });

  test("log-log slopes of the ear components add up to that of yield per plant, -0.93609", () => {
    // Invented component means; slopes and sum: R 4.2.2 lm on logarithms.
    const density = [24, 28, 32, 36];
    const components = [
      [1.02, 1, 0.98, 0.95],
      [16.4, 16.2, 16, 15.8],
      [38, 36, 33.5, 31],
      [300, 292, 285, 280],
    ];
    const slopes = components.map((trait) => crowdingSlope({ density, trait }).slope as number);
    for (const [i, expected] of [-0.1712433, -0.0916675, -0.5015796, -0.1715964].entries())
      near(slopes[i], expected, 1e-6);
    const product = density.map((_, d) => components.reduce((value, trait) => value * trait[d], 1));
    const whole = crowdingSlope({ density, trait: product }).slope as number;
    near(whole, -0.9360868, 1e-6);
    near(
      slopes.reduce((sum, slope) => sum + slope, 0),
      whole,
      1e-12,
    );
  });

  test("yield per plant of hybrid 3 falls by 0.9539 % for 1 % more plants", () => {
    // Carmer & Jackobs (1965), hybrid 3; slope: R 4.2.2.
    const density = [2, 4, 6, 8];
    const perPlant = [1.298, 1.634, 1.458, 1.384].map((y, i) => y / density[i]);
    near(crowdingSlope({ density, trait: perPlant }).slope, -0.953903, 1e-6);
  });
});

describe("NIST reference data", () => {
  test("Pontius: the quadratic to nine digits and more, standard errors too", () => {
    // NIST StRD, linear least squares, certified values (public domain).
    const sets = JSON.parse(readFileSync(new URL("oracle/nist_linear.json", import.meta.url), "utf8")).sets;
    const pontius = sets.find((set: { name: string }) => set.name === "Pontius");
    const fit = fitCurve("quadratic", { density: pontius.data.x, yield: pontius.data.y });
    ["intercept", "linear", "quadratic"].forEach((name, i) => {
      assertDigits(fit.coefficients[name], pontius.certified.parameters[i], 9, name);
      assertDigits(fit.standardErrors[name], pontius.certified.standard_errors[i], 9, name);
    });
    assertDigits(fit.rss, pontius.certified.residual_ss, 9);
  });
});

describe("intervals of a quadratic's optimum", () => {
  // Bachmaier (2009), Statistical Papers 50, 649-660, low-yield zone, n = 44: estimates and covariance; R 4.2.2.
  const low = {
    linear: 0.03809484076,
    quadratic: -8.197897118e-5,
    varLinear: 2.945556434e-5,
    covariance: -9.85309059e-8,
    varQuadratic: 3.605868357e-10,
  };
  const t = tQuantile(0.975, 41);

  test("Fieller's interval is 173.09 to 260.05 around 199.08", () => {
    // Published as 173 to 260.
    const set = fiellerSet(low, 0.6 / 110, t);
    expect(set.kind).toBe("interval");
    near(set.kind === "interval" ? set.lower : null, 173.0935, 1e-3);
    near(set.kind === "interval" ? set.upper : null, 260.0505, 1e-3);
    near(deltaInterval(low, 0.6 / 110, t).estimate, 199.0772, 1e-3);
  });

  test("the delta interval on the same estimates is 163.90 to 234.26", () => {
    const delta = deltaInterval(low, 0.6 / 110, t);
    near(delta.stderror, 17.41967, 1e-3);
    near(delta.lower, 163.8975, 1e-3);
    near(delta.upper, 234.257, 1e-3);
  });

  test("the data of that paper give the same Fieller interval, open where it leaves the tested rates", () => {
    const lines = readFileSync(new URL("oracle/csv/wheat_nitrogen_bachmaier.csv", import.meta.url), "utf8")
      .trim()
      .split("\n");
    const rows = lines.slice(1).map((line) => line.replaceAll('"', "").split(","));
    const header = lines[0].replaceAll('"', "").split(",");
    const zone = rows.filter((row) => row[header.indexOf("zone")] === "low");
    const data = {
      density: zone.map((row) => Number(row[header.indexOf("nitrogen_kg_ha")])),
      yield: zone.map((row) => Number(row[header.indexOf("yield_t_ha")])),
    };
    const interval = optimumInterval(data, { target: "economic", priceRatio: 0.6 / 110, method: "fieller" });
    near(interval.lower, 173.0935, 1e-3);
    const highest = Math.max(...data.density);
    if (highest > 260.0505) near(interval.upper, 260.0505, 1e-3);
    else expect(interval.upperOpen).toBe(true);
  });

  test("Minnesota site S5: optimum 191.72 beyond the tested rates, Wald 90 % 118.93 to 264.51", () => {
    // Hernandez & Mulla (2008), Agronomy Journal 100, 1221-1229: documented 191.7198 and 118.93 to 264.51. Their profile interval
    // 147.96 to 401.65 interpolates the profile by splines; exact inversion on the same data is 147.1093 to 401.5630 (R 4.2.2).
    const rate = [0, 33.6, 67.2, 100.8, 134.4, 168].flatMap((n) => [n, n, n, n]);
    const grain = [
      8.91634, 8.17685, 9.245, 8.8249, 10.98147, 9.84763, 10.05861, 9.81029, 12.48481, 10.77839, 13.4251, 10.51968,
      14.24289, 14.39509, 12.92164, 13.26923, 15.42649, 13.56748, 15.07575, 14.17512, 14.96135, 14.57867, 14.40876,
      14.7425,
    ];
    const income = grain.map((y, i) => 118.1 * y - 0.6615 * rate[i]);
    const fit = fitCurve("quadratic", { density: rate, yield: income });
    const optimum = agronomicOptimum(fit);
    expect(optimum.kind).toBe("upper-edge");
    near(optimum.outside, 191.7198, 1e-3);
    const vcov = fit.vcov as number[][];
    const estimates = {
      linear: fit.coefficients["linear"] as number,
      quadratic: fit.coefficients["quadratic"] as number,
      varLinear: vcov[1][1],
      covariance: vcov[1][2],
      varQuadratic: vcov[2][2],
    };
    const t90 = tQuantile(0.95, 21);
    const delta = deltaInterval(estimates, 0, t90);
    near(delta.lower, 118.9329, 1e-3);
    near(delta.upper, 264.5067, 1e-3);
    const set = fiellerSet(estimates, 0, t90);
    near(set.kind === "interval" ? set.lower : null, 147.1093, 1e-3);
    near(set.kind === "interval" ? set.upper : null, 401.563, 1e-3);
    // The yield scale with prices says the same as the income scale.
    const direct = economicOptimum(fitCurve("quadratic", { density: rate, yield: grain }), {
      grainPrice: 118.1,
      seedCost: 0.6615,
    });
    near(direct.outside, 191.7198, 1e-3);
  });
});
