import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { curveOf } from "../../src/curves/catalogue.ts";
import { comparePrepared } from "../../src/fit/compareCurves.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { optimumInterval } from "../../src/interval/optimumInterval.ts";
import { chiSquareCdf } from "../../src/numeric/distributions.ts";
import { joinResponse } from "../../src/numeric/joinDesign.ts";
import { kernelFamilies } from "../../src/numeric/refitKernel.ts";
import { chiSquareDraw } from "../../src/plan/chiSquareDraw.ts";
import { drawPlots, drawShifts } from "../../src/plan/drawPlots.ts";
import { type EnvironmentSpread, trialDraw } from "../../src/plan/drawTrial.ts";
import { plannedDesign } from "../../src/plan/plannedDesign.ts";
import { simulatedAnswer } from "../../src/plan/simulatedAnswer.ts";
import { curveSchedule, priorCurves, shiftCurve, type TruthCurve, trueOptimum } from "../../src/plan/truthCurves.ts";
import { assertDigits } from "../assertDigits.ts";

const curves = priorCurves({ optimum: [26, 38], lossBelow: { distance: 10, loss: [4, 12] }, bestYield: 200 });

describe("the shortened analysis of a simulated trial", () => {
  test("says what the public interval and the AICc choice say of the same plots, at every price", () => {
    let bounded = 0;
    let checked = 0;
    for (let s = 0; s < 250; s++) {
      const random = streamRandom(5, s);
      const levels = [17, 22, 26, 31, 37, 44].slice(0, 3 + random.below(4));
      const blocks = 2 + random.below(4);
      const planned = plannedDesign(levels, blocks);
      const truth = curves[random.below(curves.length)];
      const data = drawPlots(
        planned,
        (x) => curveOf(truth.family).mean(x, truth.theta),
        1 + 7 * random.next(),
        drawShifts(planned, 1, { site: 0, year: 0, siteYear: 0 }, random),
        random,
      );
      const prepared = prepareData(data);
      const r = s % 3 === 0 ? 0.4 * random.next() : 0;
      const { sums, total } = joinResponse(prepared.design, prepared.y);
      const answer = simulatedAnswer(planned.design, planned.plots, blocks, 0.95, r);
      answer.fit(sums, total);
      const comparison = comparePrepared(prepared, { priceRatio: r });
      if (comparison.best === null) continue;
      checked++;
      if (comparison.tied.length === 1) expect(kernelFamilies[answer.chosen()]).toBe(comparison.best);
      const interval = optimumInterval(data, {
        calibrate: false,
        ...(r > 0 ? ({ target: "economic", priceRatio: r } as const) : {}),
      });
      const set = answer.envelope();
      expect([set.lowerOpen, set.upperOpen]).toEqual([interval.lowerOpen, interval.upperOpen]);
      const { low, span } = planned.design;
      // The two ways round differ by rounding of the sums of squares; an end of a set is the root of a quartic.
      if (interval.lower !== null) assertDigits(low + span * set.pieces[0][0], interval.lower, 7);
      if (interval.upper !== null) assertDigits(low + span * set.pieces[set.pieces.length - 1][1], interval.upper, 7);
      expect(answer.flatNotExcluded()).toBe(interval.flatNotExcluded);
      if (r > 0) continue;
      expect(answer.isBounded()).toBe(!interval.lowerOpen && !interval.upperOpen);
      const best = comparison.ranking.find(({ family }) => family === comparison.best)?.optimum;
      if (best && comparison.tied.length === 1) assertDigits(answer.optimum(), best.density, 7);
      if (!interval.lowerOpen && !interval.upperOpen) bounded++;
    }
    expect(checked).toBeGreaterThan(235);
    // Both verdicts must occur often, or the comparison above says little.
    expect(bounded).toBeGreaterThan(25);
    expect(bounded).toBeLessThan(140);
  });
});

describe("drawing trials by level means", () => {
  /** Mean and variance of the level sums, and mean of the total, over many draws. */
  function moments(draw: (i: number, sums: Float64Array) => number, m: number, count: number) {
    const sums = new Float64Array(m);
    const mean = new Float64Array(m);
    const square = new Float64Array(m);
    let total = 0;
    let totalSquare = 0;
    for (let i = 0; i < count; i++) {
      const t = draw(i, sums);
      total += t / count;
      totalSquare += (t * t) / count;
      for (let l = 0; l < m; l++) {
        mean[l] += sums[l] / count;
        square[l] += (sums[l] * sums[l]) / count;
      }
    }
    return {
      mean,
      sd: square.map((q, l) => Math.sqrt(q - mean[l] ** 2)),
      total,
      totalSd: Math.sqrt(totalSquare - total ** 2),
    };
  }

  test.each([
    ["one environment", { site: 0, year: 0, siteYear: 0 }, 1, 1],
    ["sites and years that move the optimum", { site: 2, year: 1.5, siteYear: 1 }, 2, 2],
  ] as [string, EnvironmentSpread, number, number][])(
    "gives the moments of drawing plots: %s",
    (_, spread, sites, years) => {
      const truth: TruthCurve = curves[4];
      const planned = plannedDesign([20, 26, 32, 38], 3, sites * years);
      const { draw } = trialDraw(planned, [truth], 4, spread, sites);
      const count = 4000;
      const fast = moments((i, sums) => draw(0, streamRandom(1, i), sums), 4, count);
      const { mean } = curveOf(truth.family);
      const slow = moments(
        (i, sums) => {
          const random = streamRandom(2, i);
          const shifts = drawShifts(planned, sites, spread, random);
          const data = prepareData(
            drawPlots(planned, (x, shift) => mean(x, shiftCurve(truth, shift)), 4, shifts, random),
          );
          const response = joinResponse(data.design, data.y);
          sums.set(response.sums);
          return response.total;
        },
        4,
        count,
      );
      // Two simulations of 4,000: means within 5 standard errors of their difference, standard deviations within 7 %.
      for (let l = 0; l < 4; l++) {
        expect(Math.abs(fast.mean[l] - slow.mean[l])).toBeLessThan(5 * slow.sd[l] * Math.sqrt(2 / count));
        expect(Math.abs(fast.sd[l] / slow.sd[l] - 1)).toBeLessThan(0.07);
      }
      expect(Math.abs(fast.total - slow.total)).toBeLessThan(5 * slow.totalSd * Math.sqrt(2 / count));
      expect(Math.abs(fast.totalSd / slow.totalSd - 1)).toBeLessThan(0.08);
    },
  );

  test.each([1, 3, 5, 15, 200])("chi-square numbers with %i degrees of freedom follow their distribution", (dof) => {
    const random = streamRandom(8, dof);
    const n = 20_000;
    const drawn = Float64Array.from({ length: n }, () => chiSquareDraw(dof, random)).sort();
    let distance = 0;
    drawn.forEach((x, i) => {
      const p = chiSquareCdf(x, dof);
      distance = Math.max(distance, Math.abs(p - i / n), Math.abs(p - (i + 1) / n));
    });
    // Kolmogorov's 1 in 1,000 point of sqrt(n) D is 1.95 (Smirnov 1948, table).
    expect(distance * Math.sqrt(n)).toBeLessThan(1.95);
  });
});

describe("true curves", () => {
  test("lose the stated yield at the stated distance below their optimum, and have it where they say", () => {
    for (const curve of curves) {
      const { mean } = curveOf(curve.family);
      const { density } = trueOptimum(curve, 0);
      assertDigits(mean(density as number, curve.theta), 200, 12);
      const lost = 200 - mean((density as number) - 10, curve.theta);
      expect([16 / 3, 8, 32 / 3].some((loss) => Math.abs(loss - lost) < 1e-9)).toBe(true);
    }
    expect(curves).toHaveLength(63);
  });

  test("a moved curve is the same curve at a moved density", () => {
    for (const curve of curves.slice(0, 60)) {
      const { mean } = curveOf(curve.family);
      const moved = shiftCurve(curve, 3.5);
      for (const x of [15, 25, 33, 45]) assertDigits(mean(x + 3.5, moved), mean(x, curve.theta), 12);
    }
  });

  test("every curve is simulated in proportion to its weight", () => {
    const weighted = [1, 2, 5].map((weight) => ({ ...curves[0], weight }));
    const counts = [0, 0, 0];
    for (const c of curveSchedule(weighted, 8000)) counts[c]++;
    // Weyl's sequence is off by a few at most.
    expect(counts.map((count, i) => Math.abs(count - [1000, 2000, 5000][i]) <= 5)).toEqual([true, true, true]);
  });
});
