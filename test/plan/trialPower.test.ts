import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { curveOf } from "../../src/curves/catalogue.ts";
import { optimumInterval } from "../../src/interval/optimumInterval.ts";
import { contrastPower, linearContrast } from "../../src/plan/contrastPower.ts";
import { drawPlots } from "../../src/plan/drawPlots.ts";
import { trueFlex } from "../../src/plan/flexPower.ts";
import { plannedDesign } from "../../src/plan/plannedDesign.ts";
import { powerRows } from "../../src/plan/planRows.ts";
import { type TrialPowerOptions, trialPower } from "../../src/plan/trialPower.ts";
import type { TruthCurve } from "../../src/plan/truthCurves.ts";
import { powerText } from "../../src/report/planText.ts";
import { assertDigits } from "../assertDigits.ts";
import { expectJsonSafe } from "./jsonSafe.ts";

const six = [18, 23, 28, 33, 38, 43];
const four = [24, 28, 32, 36];
/** The truths of the published simulations, thousand plants per acre and bu/ac. */
const q34: TruthCurve = { family: "quadratic", theta: [200 - 0.08 * 34 ** 2, 2 * 0.08 * 34, -0.08], weight: 1 };
const lp30: TruthCurve = { family: "linear-plateau", theta: [195, 1.2, 30], weight: 1 };
const qp32: TruthCurve = { family: "quadratic-plateau", theta: [198, 0.1, 32], weight: 1 };
const base: TrialPowerOptions = { densities: six, prior: { curves: [q34, lp30, qp32] }, sigma: 5, simulations: 500 };

describe("trialPower on published cells", () => {
  test("the envelope covers the truth in 94 to 97 % of trials (published for designs with normal errors), edges included", () => {
    const simulations = process.env["STANDCURVE_SLOW"] === "1" ? 10_000 : 600;
    for (const curve of [q34, lp30, qp32]) {
      const power = trialPower({ ...base, prior: { curves: [curve] }, densities: [four, six], simulations });
      for (const { optimum } of power.points) {
        const { value, error } = optimum.covered;
        // Edge-heavy cells cover more; four Monte-Carlo errors below 94 %.
        expect(value).toBeGreaterThan(0.94 - 4 * (error as number));
      }
    }
  });

  test("24-28-32-36 leaves at least the published 83 % of quadratic trials unbounded, six spread densities few", () => {
    const { points } = trialPower({ ...base, prior: { curves: [q34] }, densities: [four, six] });
    // The published 83 % and 0.5 % are for Fieller's interval of the quadratic alone; the envelope over all curves is wider.
    expect(points[0].optimum.bounded.value).toBeLessThan(0.17);
    expect(points[1].optimum.bounded.value).toBeGreaterThan(0.7);
    expect(points[1].optimum.bounded.value).toBeLessThan(0.995);
  });
});

describe("trialPower against doing it by hand", () => {
  test("the chance of a bounded interval is that of plots drawn one by one and the public interval", () => {
    const { points } = trialPower({ ...base, prior: { curves: [qp32] }, simulations: 1500 });
    const planned = plannedDesign(six, 4);
    const { mean } = curveOf("quadratic-plateau");
    let bounded = 0;
    let width = 0;
    const count = 160;
    for (let i = 0; i < count; i++) {
      const data = drawPlots(planned, (x) => mean(x, qp32.theta), 5, new Float64Array(1), streamRandom(99, i));
      const { lower, upper } = optimumInterval(data);
      if (lower === null || upper === null) continue;
      bounded++;
      width += upper - lower;
    }
    const { bounded: share, width: widths } = points[0].optimum;
    const p = bounded / count;
    expect(Math.abs((share.value as number) - p)).toBeLessThan(
      4 * Math.sqrt((p * (1 - p)) / count + (share.error as number) ** 2),
    );
    expect(Math.abs((widths.value as number) - width / bounded)).toBeLessThan(
      4 * Math.hypot(widths.error as number, 6 / Math.sqrt(bounded)),
    );
  });

  test("linear trend and two-density power are the closed forms of the noncentral F", () => {
    const { points } = trialPower({ ...base, prior: { curves: [q34] }, present: 23, simulations: 10 });
    const means = six.map((x) => curveOf("quadratic").mean(x, q34.theta));
    assertDigits(
      points[0].optimum.linearTrend,
      contrastPower({ contrast: linearContrast(six), means, blocks: 4, sigma: 5 }),
      12,
    );
    assertDigits(
      points[0].optimum.gain?.twoDensities,
      contrastPower({ contrast: [0, -1, 0, 1, 0, 0], means, blocks: 4, sigma: 5 }),
      12,
    );
    assertDigits(points[0].optimum.gain?.gain, 0.08 * 11 ** 2, 10);
  });

  test("a stated gain puts the present rate where that much is missing, for every family", () => {
    for (const curve of [q34, lp30, qp32]) {
      const { points } = trialPower({ ...base, prior: { curves: [curve] }, gain: 6, simulations: 10 });
      assertDigits(points[0].optimum.gain?.gain, 6, 10);
    }
  });

  test("without scatter everything is seen and nothing is lost", () => {
    const { points } = trialPower({ ...base, sigma: 0.01, present: 22, halfWidth: 1, simulations: 200 });
    const { bounded, covered, within, gain, regret, failed } = points[0].optimum;
    expect([bounded.value, within?.value, gain?.seen.value, gain?.wrong.value, failed.count]).toEqual([1, 1, 1, 0, 0]);
    expect(covered.value).toBeGreaterThan(0.9);
    // The rate is found to about 0.01, on curves that lose 1.2 a unit at most.
    expect(regret.value).toBeLessThan(0.02);
  });
});

describe("trialPower", () => {
  test("more blocks, more sites and a wider range all raise the chance of a bounded interval", () => {
    const { points, smallest } = trialPower({ ...base, densities: [four, six], blocks: [4, 8], sites: [1, 2] });
    const chance = (i: number): number => points[i].optimum.bounded.value as number;
    expect(points.map(({ plots }) => plots)).toEqual([16, 32, 32, 64, 24, 48, 48, 96]);
    expect(chance(4)).toBeGreaterThan(chance(0));
    expect(chance(5)).toBeGreaterThan(chance(4));
    expect(chance(7)).toBeGreaterThan(chance(5));
    expect(smallest === null || points[smallest].optimum.bounded.value).not.toBeNull();
  });

  test("the smallest design that is enough is named, or none", () => {
    const options = { ...base, prior: { curves: [q34] }, blocks: [2, 3, 4, 6, 8], enough: 0.9 };
    const { points, smallest } = trialPower(options);
    expect(smallest).not.toBeNull();
    const plots = points.filter(({ optimum }) => (optimum.bounded.value as number) >= 0.9).map((point) => point.plots);
    expect(points[smallest as number].plots).toBe(Math.min(...plots));
    expect(trialPower({ ...options, densities: four, blocks: [2, 3] }).smallest).toBeNull();
  });

  test("trials that cannot be analysed are counted apart, never as 'not seen'", () => {
    const power = trialPower({ ...base, densities: [six, [20, 30, 40]], blocks: 1 });
    const [large, tiny] = power.points;
    expect(large.optimum.failed.count).toBe(0);
    expect(tiny.optimum.failed).toMatchObject({ count: 500 });
    expect(tiny.optimum.failed.reason).toMatch(/no residual degrees/);
    expect(tiny.optimum.bounded).toEqual({ value: null, error: null, count: 0, of: 0 });
    expectJsonSafe(power);
    expect(powerText(power)).toMatch(/Failed: there are no residual degrees/);
  });

  test("a year that moves the optimum at all sites is not averaged out by sites", () => {
    const setting = { ...base, prior: { curves: [q34] }, blocks: 4 };
    const still = trialPower({ ...setting, sites: 8 }).points[0].optimum;
    const sites = trialPower({ ...setting, sites: 8, spread: { site: 3 } }).points[0].optimum;
    const moved = trialPower({ ...setting, sites: 8, spread: { year: 3 } });
    const year = moved.points[0].optimum;
    expect(moved.notes.join()).toMatch(/pooled interval is too short/);
    expect(still.covered.value).toBeGreaterThan(0.93);
    expect(year.covered.value).toBeLessThan(0.5);
    expect(sites.covered.value).toBeGreaterThan(year.covered.value as number);
    expect(year.regret.value).toBeGreaterThan(sites.regret.value as number);
  });

  test("the economic optimum is another, and covered as well", () => {
    const { points } = trialPower({ ...base, prior: { curves: [q34] }, priceRatio: 0.8, simulations: 400 });
    expect(points[0].optimum.covered.value).toBeGreaterThan(0.9);
  });

  test("flex scores far apart are told apart, equal ones hardly ever", () => {
    const flex = { between: [23, 38], simulations: 60, resamples: 150 } as const;
    const far = trialPower({ ...base, prior: { curves: [q34] }, simulations: 10, flex: { ...flex, difference: 20 } })
      .points[0].flex;
    const same = trialPower({ ...base, prior: { curves: [q34] }, simulations: 10, flex: { ...flex, other: q34 } })
      .points[0].flex;
    assertDigits(far?.difference, 20, 10);
    expect(far?.told.value).toBeGreaterThan(0.95);
    expect(far?.wrong.value).toBe(0);
    expect(same?.difference).toBe(0);
    // Told and wrong are the two tails of a 95 % interval; percentile intervals are a little short, and these are 60 pairs.
    expect((same?.told.value as number) + (same?.wrong.value as number)).toBeLessThan(0.22);
    expect(far?.covered.value).toBeGreaterThan(0.85);
    assertDigits(
      trueFlex(q34, [23, 38]),
      100 * (1 - Math.log((200 - 0.08 * 16) / (200 - 0.08 * 121)) / Math.log(38 / 23)),
      12,
    );
  });

  test("lodging limits inside the range are bounded with many plants, and not when nothing lodges", () => {
    const setting = { ...base, prior: { curves: [q34] }, simulations: 10 };
    const sure = trialPower({ ...setting, lodging: { limit: 32, slope: 0.3, examined: 200, icc: 0, simulations: 60 } })
      .points[0].lodging;
    expect(sure?.bounded.value).toBe(1);
    expect(sure?.covered.value).toBeGreaterThan(0.85);
    expect(sure?.status).toEqual({ converged: 60 });
    const none = trialPower({ ...setting, lodging: { limit: 90, slope: 0.3, examined: 20, simulations: 40 } }).points[0]
      .lodging;
    expect(none?.bounded.value).toBe(0);
    expect(none?.status["none-lodged"]).toBeGreaterThan(30);
    expect(Object.values(none?.status ?? {}).reduce((sum, n) => sum + n, 0)).toBe(40);
  });

  test("the same seed gives the same result, and rows and text carry it", () => {
    const options: TrialPowerOptions = {
      ...base,
      simulations: 300,
      halfWidth: 3,
      present: 24,
      blocks: [3, 6],
      budget: { plotLength: { value: 300, unit: "ft" }, plotWidth: { value: 40, unit: "ft" }, costPerPlot: 10 },
      goal: "within",
    };
    const power = trialPower(options);
    expect(trialPower(options)).toEqual(power);
    expect(trialPower({ ...options, seed: 2 }).points[0].optimum).not.toEqual(power.points[0].optimum);
    expectJsonSafe(power);
    const rows = powerRows(power);
    expect(rows).toHaveLength(2);
    expect(rows[0]["boundedChance"]).toBe(power.points[0].optimum.bounded.value);
    expect(new Set(rows.map((row) => Object.keys(row).join())).size).toBe(1);
    expect(powerText(power)).not.toMatch(/NaN|Infinity|undefined/);
  });

  test("names what is wrong", () => {
    expect(() => trialPower({ ...base, goal: "flex" })).toThrow(/needs the option flex/);
    expect(() => trialPower({ ...base, present: 20, gain: 3 })).toThrow(/not both/);
    expect(() => trialPower({ ...base, blocks: [0] })).toThrow(/blocks/);
    expect(() => trialPower({ ...base, spread: { year: -1 } })).toThrow(/spread.year/);
    expect(() => trialPower({ ...base, prior: { curves: [{ ...lp30, theta: [195, -1, 30] }] } })).toThrow(/rise/);
  });
});
