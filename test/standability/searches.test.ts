import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { binomialLinks } from "../../src/fit/fitBinomialLinks.ts";
import { acceptedSet, crossing } from "../../src/standability/acceptedSet.ts";
import { averageLink, averageShare, shareConstraint, shareCrossing } from "../../src/standability/averageShare.ts";
import { betaBinomialSample } from "../../src/standability/betaBinomialSample.ts";
import { greatestOnRange } from "../../src/standability/greatestOnRange.ts";
import { assertDigits } from "../assertDigits.ts";

describe("greatestOnRange", () => {
  test("the highest of several humps, ends, and a flat top's first point", () => {
    // sin x has its first top at pi / 2; the second, 5 pi / 2, is as high: the smaller wins
    assertDigits(greatestOnRange(Math.sin, 0, 10).at, Math.PI / 2, 8);
    assertDigits(greatestOnRange((x) => Math.sin(x) + x / 100, 0, 10).at, 2.5 * Math.PI + 0.01, 6);
    expect(greatestOnRange((x) => x, 2, 7)).toEqual({ at: 7, value: 7 });
    expect(greatestOnRange((x) => -x, 2, 7)).toEqual({ at: 2, value: -2 });
    expect(greatestOnRange(() => 3, 2, 7)).toEqual({ at: 2, value: 3 });
    expect(greatestOnRange((x) => x, 4, 4)).toEqual({ at: 4, value: 4 });
  });
  test("a spike narrower than the grid is found at a corner given, and missed without", () => {
    const spike = (x: number) => Math.max(0, 1 - 1000 * Math.abs(x - 3.333));
    expect(greatestOnRange(spike, 0, 10, [3.333])).toEqual({ at: 3.333, value: 1 });
    expect(greatestOnRange(spike, 0, 10).value).toBe(0);
    // corners on or outside the ends are not looked at
    expect(greatestOnRange(spike, 4, 10, [3.333, 4, 10]).value).toBe(0);
  });
  test("looks at the ends themselves and at `cells` equal steps, before it narrows down", () => {
    const seen: number[] = [];
    const falling = (x: number) => {
      seen.push(x);
      return -x;
    };
    greatestOnRange(falling, 0, 1, [], 4);
    expect(seen.slice(0, 5)).toEqual([0, 0.25, 0.5, 0.75, 1]);
    seen.length = 0;
    greatestOnRange(falling, 0, 64);
    expect(seen.slice(0, 65)).toEqual(Array.from({ length: 65 }, (_, i) => i));
  });
});

describe("acceptedSet", () => {
  const grid = [0, 1, 2, 3, 4, 5];
  test("a parabola: (x - 2.5)^2 <= 1 on [1.5, 3.5]", () => {
    const [piece, ...rest] = acceptedSet((x) => (x - 2.5) ** 2, 1, grid);
    expect(rest).toEqual([]);
    assertDigits(piece.lower, 1.5, 14);
    assertDigits(piece.upper, 3.5, 14);
  });
  test("open at an end that is inside; nothing, everything, two pieces", () => {
    const right = acceptedSet((x) => -x, -2.5, grid);
    assertDigits(right[0].lower, 2.5, 14);
    expect(right[0].upper).toBeNull();
    const left = acceptedSet((x) => x, 2.5, grid);
    expect(left[0].lower).toBeNull();
    assertDigits(left[0].upper, 2.5, 14);
    expect(acceptedSet(() => 2, 1, grid)).toEqual([]);
    expect(acceptedSet(() => 1, 1, grid)).toEqual([{ lower: null, upper: null }]);
    const two = acceptedSet((x) => 1 - (x - 2.5) ** 2, 0, grid);
    expect(two.length).toBe(2);
    expect([two[0].lower, two[1].upper]).toEqual([null, null]);
    assertDigits(two[0].upper, 1.5, 14);
    assertDigits(two[1].lower, 3.5, 14);
  });
});

describe("crossing", () => {
  test("roots known in closed form, either direction, ends that are roots", () => {
    assertDigits(
      crossing((x) => x * x - 2, 0, 2),
      Math.SQRT2,
      15,
    );
    assertDigits(
      crossing((x) => 2 - x * x, 0, 2),
      Math.SQRT2,
      15,
    );
    assertDigits(
      crossing((x) => x * x - 2, 2, 0),
      Math.SQRT2,
      15,
    );
    assertDigits(
      crossing((x) => Math.exp(x) - 1e6, -50, 50),
      Math.log(1e6),
      14,
    );
    assertDigits(
      crossing((x) => x ** 9 - 1e-9, 0, 5),
      0.1,
      13,
    );
    expect(crossing((x) => x - 1, 1, 2)).toBe(1);
    expect(crossing((x) => x - 2, 1, 2)).toBe(2);
    assertDigits(
      crossing((x) => (x < 0.7 ? -1 : 1), 0, 1),
      0.7,
      14,
    );
  });
  test("false position that halves a stubborn end: few evaluations", () => {
    let asked = 0;
    const f = (x: number) => {
      asked++;
      return Math.exp(x) - 1e6;
    };
    crossing(f, 0, 50);
    expect(asked).toBeLessThan(60); // plain false position needs thousands, bisection 55
    expect(crossing((x) => (x < 0.5 ? Number.NEGATIVE_INFINITY : 1), 0, 1)).toBeCloseTo(0.5, 14);
  });
});

describe("shares averaged over blocks", () => {
  const theta = Float64Array.of(-1.2, 0.4, -0.3, 0.8);
  const logit = binomialLinks.logit;
  const inverse = (eta: number) => 1 / (1 + Math.exp(-eta));
  test("the mean of the blocks' shares, by hand", () => {
    const byHand = (inverse(-1.2 + 0.4) + inverse(0.4 + 0.4) + inverse(-0.3 + 0.4)) / 3;
    assertDigits(averageShare(theta, 3, 0.5, logit), byHand, 14);
    assertDigits(averageLink(theta, 3, 0.5, logit, null), Math.log(byHand / (1 - byHand)), 13);
    expect(averageLink([2, 3], 1, 0.5, logit, null)).toBe(3.5);
    const gradient = new Float64Array(2).fill(9);
    averageLink([2, 3], 1, 0.5, logit, gradient);
    expect(Array.from(gradient)).toEqual([1, 0.5]);
  });
  test("gradient and curvature are differences of the value, for both links", () => {
    for (const link of [binomialLinks.logit, binomialLinks.cloglog]) {
      const z = 0.7;
      const gradient = new Float64Array(4).fill(9);
      const eta = averageLink(theta, 3, z, link, gradient);
      const h = 1e-5;
      const at = (j: number, by: number) =>
        averageLink(
          theta.map((t, k) => t + (k === j ? by : 0)),
          3,
          z,
          link,
          null,
        );
      for (let j = 0; j < 4; j++) {
        // central differences: ten digits at h = 1e-5
        expect(Math.abs(gradient[j] - (at(j, h) - at(j, -h)) / (2 * h))).toBeLessThan(1e-9);
      }
      const { addCurvature, restore, gradient: slope } = shareConstraint(3, z, averageShare(theta, 3, z, link), link);
      const own = new Float64Array(4);
      slope(theta, own);
      own.forEach((v, j) => void assertDigits(v, gradient[j], 13));
      // second derivatives of the mean share over the slope of the link there
      const curvature = new Float64Array(16);
      addCurvature?.(theta, 2, curvature);
      const share = (by: readonly number[]) =>
        averageShare(
          theta.map((t, k) => t + by[k]),
          3,
          z,
          link,
        );
      for (let i = 0; i < 4; i++)
        for (let j = 0; j < 4; j++) {
          const d = 1e-4;
          const unit = (si: number, sj: number) =>
            [0, 1, 2, 3].map((k) => (k === i ? si * d : 0) + (k === j ? sj * d : 0));
          const second =
            (share(unit(1, 1)) - share(unit(1, -1)) - share(unit(-1, 1)) + share(unit(-1, -1))) / (4 * d * d);
          // second differences: six digits
          expect(Math.abs(curvature[i * 4 + j] - (2 * second) / link.slope(eta))).toBeLessThan(1e-6);
        }
      const moved = Float64Array.from(theta, (t, k) => t + 0.3 * k - 0.5);
      restore(moved);
      assertDigits(averageShare(moved, 3, z, link), averageShare(theta, 3, z, link), 12);
      assertDigits(moved[1] - moved[0], theta[1] - theta[0] + 0.3, 12); // all levels move alike
    }
  });
  test("shareCrossing inverts averageShare; a flat line crosses nothing", () => {
    for (const share of [0.05, 0.1, 0.5, 0.9]) {
      const z = shareCrossing(theta, 3, share, logit) as number;
      assertDigits(averageShare(theta, 3, z, logit), share, 12);
    }
    assertDigits(shareCrossing([2, 4], 1, 0.5, logit), -0.5, 14);
    expect(shareCrossing([1, 2, 3, 0], 3, 0.1, logit)).toBeNull();
  });
});

test("betaBinomialSample: none, all, and all alike", () => {
  const random = streamRandom(4, 1);
  for (let i = 0; i < 50; i++) {
    expect(betaBinomialSample(20, 0, 0.3, random)).toBe(0);
    expect(betaBinomialSample(20, 1, 0.3, random)).toBe(20);
    expect([0, 20]).toContain(betaBinomialSample(20, 0.4, 1, random));
  }
  // icc = 1: all plants or none, with probability share. 2,000 draws of 0.25: standard error 0.0097
  let all = 0;
  for (let i = 0; i < 2000; i++) if (betaBinomialSample(20, 0.25, 1, random) === 20) all++;
  expect(Math.abs(all / 2000 - 0.25)).toBeLessThan(0.04);
});
