import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { flexScore } from "../../src/derive/flexScore.ts";
import { agronomicOptimum, economicOptimum } from "../../src/derive/optimum.ts";
import type { CurveQuantity } from "../../src/derive/quantity.ts";
import { quantityInterval } from "../../src/derive/quantityInterval.ts";
import { compareCurves } from "../../src/fit/compareCurves.ts";
import { predictCurve } from "../../src/fit/fittedCurve.ts";
import { bootstrapCurves } from "../../src/interval/bootstrap.ts";
import type { IntervalData } from "../../src/interval/intervalData.ts";
import { optimumInterval } from "../../src/interval/optimumInterval.ts";
import { assertDigits } from "../assertDigits.ts";

/** Invented hybrid: `join` and `rise` shape its curve; `drop` makes it yield less when crowded. */
function hybrid(
  seed: number,
  { join = 32, rise = 0.1, sd = 4, blocks = 4 } = {},
): { density: number[]; yield: number[]; block: number[] } {
  const random = streamRandom(seed, 0);
  const density: number[] = [];
  const block: number[] = [];
  for (let b = 0; b < blocks; b++) for (const x of [18, 23, 28, 33, 38, 43]) density.push(x) && block.push(b);
  return {
    density,
    block,
    yield: density.map((x, i) => 198 - rise * Math.max(join - x, 0) ** 2 + 3 * block[i] + sd * random.normal()),
  };
}

describe("estimates", () => {
  test("every quantity is what the public functions say of the chosen curve", () => {
    let compared = 0;
    for (let s = 0; s < 12; s++) {
      const data = hybrid(s);
      const { fits, best } = compareCurves(data);
      const fit = fits.find((one) => one.family === best);
      if (!fit) throw new Error("no fit");
      const [y23, y33] = predictCurve(fit, [23, 33]);
      const flex = flexScore(fit, { between: [20, 40] });
      const at = (quantity: CurveQuantity): number | null =>
        quantityInterval(data, quantity, { method: "bootstrap", resamples: 10 }).estimate;
      const agronomic = agronomicOptimum(fit);
      const economic = economicOptimum(fit, { grainPrice: 4.5, seedCost: 2.25 });
      // 8 digits: the kernel's level sums against fits from residuals.
      assertDigits(at({ kind: "yield", density: 23 }), y23, 8);
      assertDigits(at({ kind: "gain", from: 23, to: 33 }), y33 - y23, 7);
      assertDigits(at({ kind: "gain", from: 23, to: 33, priceRatio: 0.5 }), y33 - y23 - 5, 7);
      assertDigits(at({ kind: "flex-score", between: [20, 40] }), flex.score as number, 8);
      if (flex.left !== null) assertDigits(at({ kind: "flex-score", between: [20, 40], part: "left" }), flex.left, 7);
      if (flex.right !== null)
        assertDigits(at({ kind: "flex-score", between: [20, 40], part: "right" }), flex.right, 7);
      assertDigits(at({ kind: "yield-at-optimum" }), agronomic.yield, 8);
      assertDigits(at({ kind: "yield-at-optimum", prices: { grainPrice: 4.5, seedCost: 2.25 } }), economic.yield, 8);
      if (agronomic.kind === "interior") {
        compared++;
        assertDigits(at({ kind: "agronomic-optimum" }), agronomic.density as number, 8);
      } else expect(at({ kind: "agronomic-optimum" })).toBeNull();
      if (economic.kind === "interior")
        assertDigits(at({ kind: "economic-optimum", priceRatio: 0.5 }), economic.density as number, 8);
    }
    expect(compared).toBeGreaterThan(3);
  });
});

describe("one door", () => {
  test("optimum and flex score give the intervals of optimumInterval and bootstrapCurves", () => {
    const data = hybrid(3);
    const envelope = quantityInterval(data, { kind: "economic-optimum", priceRatio: 0.4 });
    const same = optimumInterval(data, { target: "economic", priceRatio: 0.4 });
    expect([envelope.lower, envelope.upper]).toEqual([same.lower, same.upper]);
    const boot = bootstrapCurves(data, { seed: 8, between: [20, 40] });
    const flex = quantityInterval(data, { kind: "flex-score", between: [20, 40] }, { method: "bootstrap", seed: 8 });
    expect(flex.bootstrap).toEqual(boot.flexScore);
  });

  test("a slope at the lowest density has no upper limit when only that density may lie below the plateau", () => {
    const data = {
      density: [18, 18, 18, 28, 28, 28, 38, 38, 38, 48, 48, 48],
      yield: [150, 152, 149, 200, 201, 198, 199, 202, 200, 201, 199, 200],
    };
    const slope = quantityInterval(data, { kind: "slope", density: 18 });
    expect(slope.upperOpen).toBe(true);
    expect(slope.reason).toContain("no upper limit");
    expect(quantityInterval(data, { kind: "gain", from: 18, to: 28 }).upperOpen).toBe(false);
  });
});

describe("probabilities", () => {
  test("they are shares of the kept replicates", () => {
    const data = hybrid(6);
    const options = { seed: 3, resamples: 3000 } as const;
    const { probabilities } = quantityInterval(
      data,
      { kind: "agronomic-optimum" },
      { ...options, method: "bootstrap", above: [28, 33] },
    );
    const { replicates } = bootstrapCurves(data, { ...options, keep: true });
    const optima = replicates?.agronomic ?? [];
    for (const { above, probability, undetermined, error } of probabilities) {
      const missing = optima.filter((x) => x === null).length / 3000;
      const share = optima.filter((x) => x !== null && x > above).length / 3000;
      assertDigits(undetermined + 1, missing + 1, 12);
      assertDigits(probability, share + missing / 2, 12);
      assertDigits(error, Math.sqrt((probability * (1 - probability)) / 3000), 10);
    }
  });

  test("P(gain > cost) is the normal probability for a parametric bootstrap of a line", () => {
    // Gain of a straight line = 10 b; b* is normal about b with its standard error (variance known in the bootstrap world).
    const data = hybrid(9, { join: 100, rise: 0.004, sd: 6 });
    const { fits } = compareCurves(data, { families: ["linear"] });
    const b = fits[0].coefficients["linear"] as number;
    const se = fits[0].standardErrors["linear"] as number;
    const cost = 10 * b - 8 * se;
    const { probabilities } = quantityInterval(
      data,
      { kind: "gain", from: 23, to: 33 },
      { method: "bootstrap", family: "linear", scheme: "parametric", resamples: 40_000, above: cost },
    );
    // Phi(0.8) = 0.788145, any table; five Monte-Carlo standard errors.
    expect(Math.abs(probabilities[0].probability - 0.788145)).toBeLessThan(5 * probabilities[0].error);
  });
});

describe("differences", () => {
  const flex = { kind: "flex-score", between: [20, 40] } as const;

  test("the difference of two hybrids' flex scores is that of their replicates, from independent streams", () => {
    const [a, b] = [hybrid(1), hybrid(2, { join: 40, rise: 0.06 })];
    const options = { seed: 5, resamples: 2000, above: 0 } as const;
    const result = quantityInterval(a, { kind: "difference", of: flex, against: b }, options);
    const mine = quantityInterval(a, flex, { ...options, method: "bootstrap" });
    const other = quantityInterval(b, flex, { ...options, method: "bootstrap" });
    assertDigits(result.estimate, (mine.estimate as number) - (other.estimate as number), 12);
    const width = (one: { lower: number | null; upper: number | null }): number =>
      (one.upper as number) - (one.lower as number);
    // Independent: widths add roughly as squares. 15 %: the parts are not normal.
    const expected = Math.hypot(width(mine), width(other));
    expect(Math.abs(width(result) / expected - 1)).toBeLessThan(0.15);
    expect(result.probabilities[0].probability).toBeGreaterThan(0.5);
  });

  test("the same environments are drawn for both hybrids, so what they share cancels", () => {
    const random = streamRandom(77, 0);
    const rows: { density: number[]; environment: string[]; block: string[]; a: number[]; b: number[] } = {
      density: [],
      environment: [],
      block: [],
      a: [],
      b: [],
    };
    for (let e = 0; e < 10; e++) {
      // Environments differ in how much yield rises; both hybrids feel it alike.
      const rise = 0.04 + 0.12 * random.next();
      for (const b of ["1", "2"]) {
        for (const x of [18, 26, 34, 42]) {
          rows.density.push(x);
          rows.environment.push(`site ${e}`);
          rows.block.push(b);
          rows.a.push(190 - rise * Math.max(36 - x, 0) ** 2 + 0.3 * random.normal());
          rows.b.push(185 - rise * Math.max(36 - x, 0) ** 2 + 0.3 * random.normal());
        }
      }
    }
    const side = (y: number[]): IntervalData => ({
      density: rows.density,
      environment: rows.environment,
      block: rows.block,
      yield: y,
    });
    const options = { scheme: "cluster", families: ["quadratic"], resamples: 2000, seed: 4 } as const;
    const gain = { kind: "gain", from: 18, to: 34 } as const;
    const width = (one: { lower: number | null; upper: number | null }): number =>
      (one.upper as number) - (one.lower as number);
    const alone = width(quantityInterval(side(rows.a), gain, { ...options, method: "bootstrap" }));
    const paired = width(
      quantityInterval(side(rows.a), { kind: "difference", of: gain, against: side(rows.b) }, options),
    );
    expect(paired).toBeLessThan(alone / 5);
  });

  test("a difference of optima one of which is not bounded is open on that side only", () => {
    const rising = hybrid(4, { join: 80, rise: 0.01, sd: 2 });
    const result = quantityInterval(
      rising,
      { kind: "difference", of: { kind: "agronomic-optimum" }, against: hybrid(3, { join: 28, rise: 0.3, sd: 2 }) },
      { above: 0 },
    );
    expect([result.lowerOpen, result.upperOpen]).toEqual([false, true]);
    expect(result.probabilities[0].probability).toBeGreaterThan(0.9);
    expect(result.reason).toContain("not bounded");
  });
});

test("densities outside the tested range, unknown kinds and unfit methods are refused with a code", () => {
  const data = hybrid(1);
  const code = (code: string): unknown => expect.objectContaining({ code });
  expect(() => quantityInterval(data, { kind: "yield", density: 50 })).toThrow(code("invalid-option"));
  expect(() => quantityInterval(data, { kind: "flex-score", between: [30, 20] })).toThrow(code("invalid-option"));
  expect(() => quantityInterval(data, { kind: "gains" } as never)).toThrow(code("invalid-option"));
  expect(() => quantityInterval(data, { kind: "yield", density: 30 }, { method: "guess" as "profile" })).toThrow(
    code("invalid-option"),
  );
  const difference = { kind: "difference", of: { kind: "yield", density: 30 }, against: data } as const;
  expect(() => quantityInterval(data, difference, { method: "envelope" })).toThrow(code("not-offered"));
  expect(() => quantityInterval(data, difference, { limits: "bca" })).toThrow(code("not-offered"));
});
