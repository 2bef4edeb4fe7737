import { describe, expect, test } from "vitest";
import { fitLodging } from "../../src/standability/fitLodging.ts";
import { standabilityFlags } from "../../src/standability/standabilityFlags.ts";
import { assertDigits } from "../assertDigits.ts";
import { referenceModels } from "../fit/binomialReference.ts";

const { model, columns } = referenceModels().find(({ model: m }) => m.id === "sim07")!;
const sim07 = columns as Record<string, number[]>;
const counts = { density: sim07.density, lodged: sim07.lodged, examined: sim07.plants };

test("shares and Wald intervals of independent plants are those that R predicts", () => {
  const { flags, method } = standabilityFlags(fitLodging(counts, { dispersion: "binomial" }));
  expect(method).toBe("wald");
  model.prediction!.forEach(({ x, p, lower95, upper95 }, d) => {
    expect(flags[d].density).toBe(x);
    assertDigits(flags[d].share, p, 8);
    // R's predict uses the weights of the iteration before the last: errors near 1e-8 of the standard error.
    assertDigits(flags[d].interval.lower, lower95, 7);
    assertDigits(flags[d].interval.upper, upper95, 7);
  });
});

test("sums of plots are those of the data", () => {
  const { flags } = standabilityFlags(fitLodging(counts));
  expect(flags.map(({ plots }) => plots)).toEqual([4, 4, 4, 4, 4, 4, 4]);
  expect(flags[3]).toMatchObject({ density: 90, lodged: 26 + 11 + 15 + 9, examined: 74 + 74 + 65 + 60 });
});

test("the four states follow the probability, and rise with density", () => {
  const order = ["stands", "likely-stands", "likely-lodges", "lodges"];
  for (const method of ["wald", "bootstrap"] as const) {
    const { flags } = standabilityFlags(fitLodging({ ...counts, block: sim07.block }), { method });
    for (const { probability, state, share } of flags) {
      const expected = probability <= 0.05 ? 0 : probability <= 0.5 ? 1 : probability < 0.95 ? 2 : 3;
      expect(order.indexOf(state)).toBe(expected);
      if (state === "stands") expect(share).toBeLessThan(0.1);
      if (state === "lodges") expect(share).toBeGreaterThan(0.1);
    }
    const places = flags.map(({ state }) => order.indexOf(state));
    expect([...places].sort((a, b) => a - b)).toEqual(places);
    expect(flags[0].state).toBe("stands");
    expect(flags.at(-1)?.state).toBe("lodges");
  }
});

test("one-sided tests and intervals agree: the lower end exceeds the tolerated share exactly when the probability exceeds 97.5 %", () => {
  const fit = fitLodging(counts);
  for (const tolerated of [0.02, 0.05, 0.1, 0.2, 0.35, 0.5]) {
    for (const { interval, probability } of standabilityFlags(fit, { tolerated, method: "wald" }).flags) {
      expect(interval.lower! > tolerated).toBe(probability > 0.975);
    }
  }
});

test("bootstrap and t agree within Monte-Carlo error where the trial is large", () => {
  const fit = fitLodging({ ...counts, block: sim07.block });
  const [wald, bootstrap] = (["wald", "bootstrap"] as const).map(
    (method) => standabilityFlags(fit, { method, resamples: 1999 }).flags,
  );
  // 23 degrees of freedom and mild spread: the two cut-offs differ by a few percent, the Monte-Carlo error included.
  wald.forEach(({ interval, share }, d) => {
    const width = interval.upper! - interval.lower!;
    expect(Math.abs(bootstrap[d].interval.lower! - interval.lower!)).toBeLessThan(0.1 * width);
    expect(Math.abs(bootstrap[d].interval.upper! - interval.upper!)).toBeLessThan(0.1 * width);
    expect(bootstrap[d].share).toBe(share);
  });
});

test("firstAbove names the lowest density whose lower end, estimate and upper end exceed the tolerated share", () => {
  const { flags, firstAbove } = standabilityFlags(fitLodging(counts));
  const first = (pick: (d: number) => number) => flags.find((_, d) => pick(d) > 0.1)?.density ?? null;
  expect(firstAbove).toEqual({
    lower: first((d) => flags[d].interval.lower!),
    estimate: first((d) => flags[d].share),
    upper: first((d) => flags[d].interval.upper!),
  });
  expect(firstAbove.upper!).toBeLessThanOrEqual(firstAbove.estimate!);
  expect(firstAbove.estimate!).toBeLessThanOrEqual(firstAbove.lower!);
});

describe("nothing lodged", () => {
  const fit = fitLodging({ density: [60, 70, 80], lodged: [0, 0, 0], examined: [40, 20, 10] });

  test("exact bounds pool the plots of a density and of all denser ones", () => {
    const { flags, method } = standabilityFlags(fit);
    expect(method).toBe("exact");
    [70, 30, 10].forEach((plants, d) => {
      assertDigits(flags[d].interval.upper, 1 - 0.05 ** (1 / plants), 12);
      assertDigits(flags[d].probability, 0.9 ** plants, 12); // chance of no lodging at 10 %
      expect(flags[d].share).toBe(0);
    });
    expect(flags.map(({ state }) => state)).toEqual(["stands", "stands", "likely-stands"]);
  });

  test("everything lodged mirrors it", () => {
    const { flags } = standabilityFlags(fitLodging({ density: [60, 70], lodged: [40, 20], examined: [40, 20] }));
    assertDigits(flags[0].interval.lower, 0.05 ** (1 / 40), 12);
    assertDigits(flags[1].interval.lower, 0.05 ** (1 / 60), 12);
    expect(flags.map(({ state }) => state)).toEqual(["lodges", "lodges"]);
  });
});

test("without a fit there are no flags but a reason", () => {
  const { flags, reason } = standabilityFlags(fitLodging({ density: [30, 30], lodged: [1, 2], examined: [20, 20] }));
  expect(flags).toEqual([]);
  expect(reason).toContain("singular");
});

test("the result survives JSON unchanged", () => {
  const flags = standabilityFlags(fitLodging(counts), { resamples: 199 });
  expect(JSON.parse(JSON.stringify(flags))).toEqual(flags);
});
