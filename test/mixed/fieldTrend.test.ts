import { describe, expect, test } from "vitest";
import { combineEstimates } from "../../src/mixed/combineEstimates.ts";
import { fieldTrend } from "../../src/mixed/fieldTrend.ts";
import { fitCorrelated } from "../../src/mixed/fitCorrelated.ts";
import { assertDigits } from "../assertDigits.ts";
import { oracleJson, oracleRows } from "./sharedData.ts";

interface Gls {
  readonly loglik: number;
  readonly coefficients: number[];
  readonly se: number[];
  readonly sigma: number;
  readonly rho: number;
  readonly nugget: number;
}
const oracle = oracleJson<{
  ar1: Gls;
  nugget: Gls;
  meta: { estimate: number[]; se: number[]; tau2: number; mu: number; se_plain: number; se_hk: number };
}>("fieldTrend.json");
const rows = oracleRows("fieldTrend.csv");
const density = rows.map((row) => Number(row["density"]));
const position = rows.map((row) => Number(row["position"]));
const yields = rows.map((row) => Number(row["yield"]));

describe("fitCorrelated", () => {
  const z = Float64Array.from(density, (x) => (x - 30) / 10);
  const columns = [z.map(() => 1), z, z.map((v) => v * v), Float64Array.from(position, (s) => s - 30.5)];
  const line = density.map(() => "");
  test.each([
    ["ar1", false],
    ["nugget", true],
  ] as const)("agrees with nlme's gls (%s)", (name, nugget) => {
    const want = oracle[name];
    const fit = fitCorrelated(Float64Array.from(yields), columns, Float64Array.from(position), line, {
      correlated: true,
      nugget,
    });
    assertDigits(fit?.logLikelihood, want.loglik, 9);
    // The likelihood is flat at its top: its digits halve in rho, and nlme stops near 1e-6 too.
    assertDigits(fit?.rho, want.rho, 5);
    expect(Math.abs((fit?.nuggetShare ?? 1) - want.nugget)).toBeLessThan(1e-5);
    want.coefficients.forEach((b, j) => {
      assertDigits(fit?.coefficients[j], b, 5);
      assertDigits(Math.sqrt(fit?.vcov[j][j] ?? 0), want.se[j], 5);
    });
  });
});

describe("fieldTrend", () => {
  test("gives naive and adjusted optimum side by side", () => {
    const result = fieldTrend({ density, yield: yields, position });
    if (result.kind !== "adjusted") throw new Error(result.reason);
    assertDigits(result.shift, result.adjusted.optimum.density - result.naive.optimum.density, 12);
    expect(result.confounding).toBeLessThan(0.2);
    expect(result.neighbourCorrelation).toBeGreaterThan(0.3);
    expect(result.correlation?.p).toBeLessThan(0.05);
    expect(result.notes.join(" ")).toContain("neighbouring plots");
    expect(JSON.parse(JSON.stringify(result))).toEqual(result);
  });
  test("a straight trend is taken out exactly: yields without noise but with a slope over the field", () => {
    const noise = (i: number): number => 1e-4 * (((i * 7919) % 13) - 6);
    const clean = density.map((x, i) => 10 + 0.06 * (x - 30) - 0.009 * (x - 30) ** 2 + 0.2 * position[i] + noise(i));
    const result = fieldTrend({ density, yield: clean, position }, { correlated: false });
    if (result.kind !== "adjusted") throw new Error(result.reason);
    expect(Math.abs(result.adjusted.optimum.density - (30 + 0.06 / 0.018))).toBeLessThan(0.02); // noise of 6e-4 in yield
    assertDigits(result.trend[0].coefficient, 0.2, 4); // same noise
  });
  test("densities laid out in order over the field are confounded with it, and the adjustment is refused", () => {
    const ordered = position.map((s) => 20 + 5 * Math.floor((s - 1) / 12));
    const result = fieldTrend({ density: ordered, yield: yields, position });
    expect(result.kind).toBe("refused");
    expect(result.confounding).toBeGreaterThan(0.8);
  });
});

describe("combineEstimates", () => {
  test("REML tau^2 and Hartung-Knapp errors agree with R (root of the score)", () => {
    const { estimate, se, tau2, mu, se_plain, se_hk } = oracle.meta;
    const list = estimate.map((value, i) => ({ label: `E${i}`, estimate: value, standardError: se[i] }));
    const result = combineEstimates(list, { floor: false });
    assertDigits(result.tau2, tau2, 10);
    assertDigits(result.estimate, mu, 11);
    assertDigits(result.standardError, se_hk, 10);
    assertDigits(combineEstimates(list, { hartungKnapp: false }).standardError, se_plain, 10);
  });
  test("the thirteen BCG vaccine trials (Viechtbauer 2010, J. Stat. Softw. 36(3), section 3: tau2 0.3132, mu -0.7145, SE 0.1798)", () => {
    const y = [
      -0.8893, -1.5854, -1.3481, -1.4416, -0.2175, -0.7861, -1.6209, 0.012, -0.4694, -1.3713, -0.3394, 0.4459, -0.0173,
    ];
    const v = [0.3256, 0.1946, 0.4154, 0.02, 0.0512, 0.0069, 0.223, 0.004, 0.0564, 0.073, 0.0124, 0.5325, 0.0714];
    const result = combineEstimates(
      y.map((estimate, i) => ({ label: `${i}`, estimate, standardError: Math.sqrt(v[i]) })),
      { hartungKnapp: false },
    );
    // Inputs are rounded to four decimals, so the answers agree to about three figures.
    expect(Math.abs(result.tau2 - 0.3132)).toBeLessThan(2e-4);
    expect(Math.abs(result.estimate + 0.7145)).toBeLessThan(1e-4);
    expect(Math.abs(result.standardError - 0.1798)).toBeLessThan(1e-4);
  });
  test("estimates that agree have no variance between them; few of them get no interval for the next", () => {
    const result = combineEstimates(
      [1, 1.05, 0.98].map((estimate, i) => ({ label: `${i}`, estimate, standardError: 0.5 })),
    );
    expect(result.tau2).toBe(0);
    expect(result.prediction).toBeNull();
    expect(result.twoStage).toBe(true);
  });
  test("mistakes of the caller throw a code", () => {
    expect(() => combineEstimates([{ label: "a", estimate: 1, standardError: 1 }])).toThrow(
      expect.objectContaining({ code: "not-estimable" }),
    );
    expect(() => combineEstimates([1, 2].map((estimate) => ({ label: "a", estimate, standardError: 0 })))).toThrow(
      expect.objectContaining({ code: "invalid-data" }),
    );
  });
});
