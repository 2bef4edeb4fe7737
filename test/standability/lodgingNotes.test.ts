import { describe, expect, test } from "vitest";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { bootstrapLimits } from "../../src/standability/limitBootstrap.ts";
import { standabilityFlags } from "../../src/standability/standabilityFlags.ts";
import { standabilityLimit } from "../../src/standability/standabilityLimit.ts";
import { assertDigits } from "../assertDigits.ts";

const density = [20, 26, 32, 38, 20, 26, 32, 38];
const examined = density.map(() => 50);

describe("notes of a separated fit", () => {
  const separated = { density, examined, lodged: [0, 0, 50, 50, 0, 0, 50, 50] };
  const kept = /binomial variances are kept/;
  test("by density: it says between which; the note on variances belongs to quasi only", () => {
    const quasi = fitLodging(separated, { dispersion: "quasi" });
    expect(quasi.notes.join(" ")).toMatch(/Density separates.*no lodging below 32, no standing plant above 26/);
    expect(quasi.notes.join(" ")).toMatch(kept);
    const binomial = fitLodging(separated, { dispersion: "binomial" });
    expect(binomial.status).toBe("separation");
    expect(binomial.notes.join(" ")).not.toMatch(kept);
  });
  test("by block: it names the block", () => {
    const block = ["a", "a", "a", "a", "b", "b", "b", "b"];
    const fit = fitLodging({ density, examined, lodged: [0, 0, 0, 0, 2, 5, 9, 20], block });
    expect(fit.separation?.kind).toBe("block");
    expect(fit.notes.join(" ")).toMatch(/Block a has either no lodged plant or nothing else/);
  });
});

test("blocks of one density each say nothing about the slope, however many plots they have", () => {
  const block = ["a", "a", "a", "a", "b", "b", "b", "b"];
  const lodged = [2, 3, 1, 4, 9, 12, 8, 11];
  const apart = fitLodging({ density: [20, 20, 20, 20, 38, 38, 38, 38], examined, lodged, block });
  expect(apart.status).toBe("singular");
  expect(apart.coefficients).toEqual({ intercept: null, slope: null });
  expect(fitLodging({ density: [20, 20, 20, 26, 38, 38, 38, 38], examined, lodged, block }).status).toBe("converged");
});

test("four million plants a density: the interval is narrower than the search grid and still found", () => {
  // Expected counts of logit p = -6 + 0.15 x, so the limit is (logit 0.1 + 6) / 0.15; its error by the delta method.
  const x = [20, 25, 30, 35, 40];
  const p = x.map((v) => 1 / (1 + Math.exp(6 - 0.15 * v)));
  const plants = 4e6;
  const lodged = p.map((v) => Math.round(v * plants));
  const fit = fitLodging({ density: x, lodged, examined: x.map(() => plants) }, { dispersion: "binomial" });
  const truth = (Math.log(1 / 9) + 6) / 0.15;
  const [s0, s1, s2] = [0, 1, 2].map((k) =>
    p.reduce((sum, v, i) => sum + plants * v * (1 - v) * (x[i] - truth) ** k, 0),
  );
  const error = Math.sqrt(s2 / (s0 * s2 - s1 * s1)) / 0.15;
  for (const method of ["fieller", "profile"] as const) {
    const { density: at, interval } = standabilityLimit(fit, { method });
    // counts are rounded to whole plants: 1e-6 of the share
    assertDigits(at, truth, 6);
    // 1.959964 standard errors to either side; the delta method is good to a thousandth here
    assertDigits((at as number) - (interval?.lower as number), 1.959964 * error, 2.5, method);
    assertDigits((interval?.upper as number) - (at as number), 1.959964 * error, 2.5, method);
  }
});

test("replicates below and above the tested range are counted on their own side", () => {
  for (const [lodged, side] of [
    [[4, 7, 9, 14, 5, 6, 10, 15], "below"],
    [[0, 1, 1, 3, 1, 0, 2, 2], "above"],
  ] as const) {
    const fit = fitLodging({ density, examined, lodged });
    const { limits, summary } = bootstrapLimits(fit, { tolerated: 0.1, level: 0.95, resamples: 299, seed: 4 });
    expect(summary.below).toBe(limits.filter((z) => z < -1).length);
    expect(summary.above).toBe(limits.filter((z) => z > 1).length);
    expect(summary[side]).toBeGreaterThan(20);
    expect(Array.from(limits)).toEqual(Array.from(limits).sort((a, b) => a - b));
  }
});

test("flags name how their interval was made", () => {
  const fit = fitLodging({ density, examined, lodged: [1, 2, 6, 14, 0, 3, 7, 12] });
  const methods = (method: "bootstrap" | "wald") =>
    standabilityFlags(fit, { method, resamples: 99 }).flags.map(({ interval }) => interval.method);
  expect(new Set(methods("bootstrap"))).toEqual(new Set(["studentised-bootstrap"]));
  expect(new Set(methods("wald"))).toEqual(new Set(["wald"]));
});

test("plots may come in any order, the densest first", () => {
  const rows = [20, 24, 28, 32, 38, 38].map((x, i) => ({ x, events: [1, 2, 4, 9, 15, 18][i] }));
  const [up, down] = [rows, [...rows].reverse()].map((own) =>
    fitLodging({
      density: own.map(({ x }) => x),
      lodged: own.map(({ events }) => events),
      examined: own.map(() => 50),
    }),
  );
  expect([up.status, down.status]).toEqual(["converged", "converged"]);
  assertDigits(down.coefficients.slope, up.coefficients.slope as number, 9);
  assertDigits(down.standardErrors.slope, up.standardErrors.slope as number, 9);
});
