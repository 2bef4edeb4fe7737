import { describe, expect, test } from "vitest";
import { acceptedSet } from "../../src/standability/acceptedSet.ts";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { profileStatistic, waldStatistic } from "../../src/standability/limitStatistic.ts";
import type { LodgingFit } from "../../src/standability/lodgingFit.ts";
import { cutoff, standabilityLimit } from "../../src/standability/standabilityLimit.ts";
import { assertDigits } from "../assertDigits.ts";
import { type Limits, referenceModels } from "../fit/binomialReference.ts";
import extra from "../oracle/lodging/extra.json" with { type: "json" };

const constructed = { density: [24, 28, 32, 36, 40], lodged: [6, 9, 17, 26, 44], examined: [200, 200, 200, 200, 200] };
const sim07 = referenceModels().find(({ model }) => model.id === "sim07")!.columns as Record<string, number[]>;
const counts = { density: sim07.density, lodged: sim07.lodged, examined: sim07.plants };
const blocked = { ...counts, block: sim07.block };

test("constructed counts: the 10 % density with its Fieller and likelihood-ratio limits", () => {
  const fit = fitLodging(constructed);
  const fieller = standabilityLimit(fit, { method: "fieller" });
  const profile = standabilityLimit(fit, { method: "profile" });
  expect(fieller.kind).toBe("interior");
  assertDigits(fieller.density, 33.56275, 7);
  // Computed in R from glm's default fit; printed with 7 digits.
  assertDigits(fieller.interval?.lower, 31.73353, 6);
  assertDigits(fieller.interval?.upper, 35.0482, 6);
  assertDigits(profile.interval?.lower, 31.83077, 6);
  assertDigits(profile.interval?.upper, 35.08761, 6);
});

describe("limits of reference models at 5, 10, 20 and 50 % (test/oracle/lodging/binomial.json)", () => {
  for (const { model, columns } of referenceModels()) {
    if (!model.thresholds) continue;
    test(model.id, () => {
      const density = columns[model.formula.replace(/^.*~\s*/, "")] as number[];
      const input = { density, lodged: columns[model.events] as number[], examined: columns[model.trials] as number[] };
      const fits = {
        plain: fitLodging(input, { dispersion: "binomial" }),
        quasi: fitLodging(input, { dispersion: "quasi" }),
      };
      for (const { p, x, fieller95, fieller95_quasi, profile95, profile95_quasi_F } of model.thresholds!) {
        assertDigits(standabilityLimit(fits.plain, { tolerated: p, method: "fieller" }).crossing, x, 8, `${p}`);
        compare(fits.plain, p, x, waldStatistic, fieller95, 8);
        compare(fits.quasi, p, x, waldStatistic, fieller95_quasi, 8);
        // The reference roots were found to 1e-12 of x on a deviance with about 1e-13 of noise: 6 digits and more hold.
        compare(fits.plain, p, x, profileStatistic, profile95, 6);
        compare(fits.quasi, p, x, profileStatistic, profile95_quasi_F, 6);
      }
    });
  }

  /** Ends of the accepted set around the estimate, searched outside the tested range too, where the public limit is open. */
  function compare(
    fit: LodgingFit,
    p: number,
    x: number,
    make: typeof waldStatistic,
    expected: Limits & { readonly kind?: string },
    digits: number,
  ): void {
    if (expected.kind !== undefined && expected.kind !== "interval") return; // sets that are not intervals: tested below
    const { centre, spread } = fit.working!;
    const z = (x - centre) / spread;
    const limit = cutoff(fit, 0.95);
    for (const [end, side] of [
      [expected.lower, -1],
      [expected.upper, 1],
    ] as const) {
      if (end === null) continue; // the reference search found no end
      const goal = (end - centre) / spread;
      const points = Array.from({ length: 9 }, (_, i) => z + ((goal - z) * 1.02 * i) / 8).sort((a, b) => a - b);
      const piece = acceptedSet(make(fit, p), limit, points)[0];
      const found = side < 0 ? piece.lower : piece.upper;
      assertDigits(centre + spread * (found ?? Number.NaN), end, digits, `${p} ${side}`);
    }
  }
});

test("with blocks the limit is where the share averaged over blocks reaches the tolerated one", () => {
  const fit = fitLodging(blocked);
  const { density } = standabilityLimit(fit, { method: "fieller" });
  const { intercept, slope } = fit.coefficients;
  const shares = fit.blockEffects.map(({ effect }) => 1 / (1 + Math.exp(-(intercept! + effect + slope! * density!))));
  assertDigits(shares.reduce((sum, share) => sum + share, 0) / 4, 0.1, 12);
  // The average block itself (mean on the link scale) has a lower share there.
  expect(1 / (1 + Math.exp(-(intercept! + slope! * density!)))).toBeLessThan(0.1);
});

test("the drop of deviance with the block-averaged share forced is what R's optim finds", () => {
  for (const [k, link] of (["logit", "cloglog"] as const).entries()) {
    const fit = fitLodging(blocked, { link, dispersion: "binomial" });
    assertDigits(fit.deviance, extra.forced.free[k], 9);
    const statistic = profileStatistic(fit, 0.1);
    // The reference minimises over four parameters with a root inside: the difference of deviances carries about 7 digits.
    extra.forced.at.forEach(
      (at, i) => void assertDigits(statistic((at - 90) / 30), extra.forced[link][i] - extra.forced.free[k], 6),
    );
  }
});

test("at the ends of the profile interval the forced deviance is the cut-off above the free one, for every dispersion model", () => {
  for (const dispersion of ["binomial", "quasi", "beta-binomial"] as const) {
    const fit = fitLodging(blocked, { dispersion });
    const { interval } = standabilityLimit(fit, { method: "profile" });
    const statistic = profileStatistic(fit, 0.1);
    for (const end of [interval!.lower!, interval!.upper!]) {
      assertDigits(statistic((end - fit.working!.centre) / fit.working!.spread), cutoff(fit, 0.95), 8);
    }
  }
});

describe("the limit outside the tested range is not a number", () => {
  test("above", () => {
    const limit = standabilityLimit(fitLodging(constructed), { tolerated: 0.5, method: "profile" });
    expect(limit.kind).toBe("above-range");
    expect(limit.density).toBeNull();
    expect(limit.crossing).toBeGreaterThan(40); // for information only
    expect(limit.interval).toMatchObject({ lower: 40, upper: null, upperOpen: true, lowerOpen: false });
  });

  test("below", () => {
    const limit = standabilityLimit(fitLodging(constructed), { tolerated: 0.005, method: "fieller" });
    expect(limit.kind).toBe("below-range");
    expect(limit.density).toBeNull();
    expect(limit.interval).toMatchObject({ lower: null, lowerOpen: true });
    expect(limit.interval?.upper).toBeLessThanOrEqual(40);
  });

  test("one end open when the data do not bound it inside the range", () => {
    const fit = fitLodging({ density: [24, 28, 32, 36], lodged: [2, 3, 4, 7], examined: [60, 60, 60, 60] });
    const limit = standabilityLimit(fit, { method: "profile" });
    expect(limit.kind).toBe("interior");
    expect(limit.interval).toMatchObject({ upper: null, upperOpen: true, lowerOpen: false });
  });

  test("a share that falls with density has no highest density", () => {
    const fit = fitLodging({ density: [24, 28, 32, 36], lodged: [20, 12, 6, 2], examined: [60, 60, 60, 60] });
    const limit = standabilityLimit(fit, { method: "fieller" });
    expect(limit).toMatchObject({ kind: "none", density: null });
    expect(limit.reason).toContain("falls");
  });
});

test("a set that is not an interval is listed in pieces, and its outer ends are open", () => {
  // Weak slope, wide spread: the Fieller set is the outside of an interval.
  const density = Array.from({ length: 20 }, (_, i) => 30 + 2 * (i % 10));
  const lodged = [1, 9, 0, 6, 1, 0, 8, 2, 12, 1, 3, 0, 7, 1, 2, 9, 1, 0, 6, 10];
  const fit = fitLodging({ density, lodged, examined: new Array<number>(20).fill(40) });
  expect(fit.slopeTest!.pValue).toBeGreaterThan(0.05);
  const { kind, interval } = standabilityLimit(fit, { method: "fieller", tolerated: 0.16 });
  expect(kind).toBe("above-range");
  expect(interval).toMatchObject({ lower: null, upper: null, lowerOpen: true, upperOpen: true });
  const [left, right] = interval!.pieces!;
  expect([left.lower, right.upper]).toEqual([null, null]);
  const distance = (x: number) => waldStatistic(fit, 0.16)((x - fit.working!.centre) / fit.working!.spread);
  assertDigits(distance(left.upper!), cutoff(fit, 0.95), 9);
  assertDigits(distance(right.lower!), cutoff(fit, 0.95), 9);
  expect(distance((left.upper! + right.lower!) / 2)).toBeGreaterThan(cutoff(fit, 0.95));
});

describe("nothing lodged", () => {
  const fit = fitLodging({
    density: [60, 70, 80, 90, 100, 110],
    lodged: [0, 0, 0, 0, 0, 0],
    examined: [100, 100, 100, 100, 100, 100],
  });

  test("none of 600 plants: below 0.5 % at 95 %", () => {
    const limit = standabilityLimit(fit);
    expect(limit.kind).toBe("above-range");
    expect(limit.noneLodged?.statement).toBe("none of 600 plants: below 0.5 % at 95 %");
    // 1 - 0.05^(1/600); the rule of three gives 3 / 600 = 0.005.
    assertDigits(limit.noneLodged?.upper, 1 - 0.05 ** (1 / 600), 10);
    expect(limit.interval).toMatchObject({ lower: 110, upper: null, upperOpen: true });
  });

  test("too few plants at the top leave the limit open from the density on that still has enough", () => {
    const sparse = fitLodging({ density: [60, 70, 80], lodged: [0, 0, 0], examined: [40, 20, 10] });
    const limit = standabilityLimit(sparse);
    expect(limit.kind).toBe("none");
    // 10 plants: bound 26 %; 30 plants: 9.5 % <= 10 %.
    expect(limit.interval).toMatchObject({ lower: 70, upper: null });
  });

  test("plants of one plot that fall together count for less", () => {
    const limit = standabilityLimit(fit, { assumedIcc: 0.1 });
    assertDigits(limit.noneLodged?.upper, 1 - 0.05 ** (1 / (600 / (1 + 99 * 0.1))), 10);
    expect(limit.noneLodged?.statement).toContain("correlation of 0.1");
  });

  test("everything lodged is below the range", () => {
    expect(standabilityLimit(fitLodging({ density: [1, 2], lodged: [9, 9], examined: [9, 9] })).kind).toBe(
      "below-range",
    );
  });
});

describe("bootstrap", () => {
  const fit = fitLodging(blocked);
  const limit = standabilityLimit(fit);

  test("is the default where the spread between plots is estimated, and can be repeated", () => {
    expect(limit.interval?.method).toBe("fieller-bootstrap");
    expect(standabilityLimit(fit)).toEqual(limit);
    expect(standabilityLimit(fit, { seed: 2 })).not.toEqual(limit);
    expect(standabilityLimit(fitLodging(constructed)).interval?.method).toBe("profile");
  });

  test("its ends lie where the squared distance equals its own cut-off", () => {
    const statistic = waldStatistic(fit, 0.1);
    for (const end of [limit.interval!.lower!, limit.interval!.upper!]) {
      assertDigits(statistic((end - fit.working!.centre) / fit.working!.spread), limit.bootstrap!.cutoff!, 9);
    }
  });

  test("without extra spread and with many plants the cut-off is near that of the normal, 3.84", () => {
    const many = fitLodging({
      density: [24, 28, 32, 36, 40],
      lodged: [60, 90, 170, 260, 440],
      examined: [2000, 2000, 2000, 2000, 2000],
    });
    const { bootstrap } = standabilityLimit(many, { method: "bootstrap", resamples: 3999 });
    // The 95 % point of 3999 draws has a standard error of about 0.13.
    expect(Math.abs(bootstrap!.cutoff! - 3.84)).toBeLessThan(0.45);
  });

  test("percentiles keep replicates outside the range and count them", () => {
    const weak = fitLodging({ density: [24, 28, 32, 36], lodged: [2, 3, 4, 7], examined: [60, 60, 60, 60] });
    const { interval, bootstrap } = standabilityLimit(weak, { method: "percentile" });
    expect(interval?.upperOpen).toBe(true);
    expect(bootstrap!.above).toBeGreaterThan(0.025 * bootstrap!.resamples);
  });

  test("shares without counts are refused, and get another default", () => {
    const shares = fitLodging({
      density: counts.density,
      lodged: counts.lodged.map((k, i) => k / counts.examined[i]),
      examined: null,
    });
    expect(() => standabilityLimit(shares, { method: "bootstrap" })).toThrow(
      expect.objectContaining({ code: "not-offered" }),
    );
    expect(standabilityLimit(shares).interval?.method).toBe("profile");
  });

  test("separated counts still give a bounded limit between the divided densities", () => {
    const separated = fitLodging({
      density: [60, 70, 80, 90, 100, 110, 60, 70, 80, 90, 100, 110],
      lodged: [0, 0, 0, 50, 52, 55, 0, 0, 0, 48, 51, 50],
      examined: [40, 42, 45, 50, 52, 55, 44, 41, 46, 48, 51, 50],
    });
    const answer = standabilityLimit(separated);
    expect(answer.kind).toBe("interior");
    expect(answer.density).toBeGreaterThan(80);
    expect(answer.density).toBeLessThan(90);
    expect(answer.interval!.lower).toBeGreaterThan(70);
    expect(answer.interval!.upper).toBeLessThan(90);
  });
});

test("results survive JSON unchanged, and options are checked", () => {
  const fit = fitLodging(blocked);
  for (const method of ["bootstrap", "fieller", "profile", "percentile"] as const) {
    const limit = standabilityLimit(fit, { method, resamples: 199 });
    expect(JSON.parse(JSON.stringify(limit))).toEqual(limit);
  }
  expect(() => standabilityLimit(fit, { tolerated: 10 })).toThrow(expect.objectContaining({ code: "invalid-option" }));
  expect(() => standabilityLimit(fit, { level: 1 })).toThrow(expect.objectContaining({ code: "invalid-option" }));
  expect(() => standabilityLimit(fit, { resamples: 10 })).toThrow(expect.objectContaining({ code: "invalid-option" }));
});
