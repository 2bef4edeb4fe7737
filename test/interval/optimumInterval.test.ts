import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { compareCurves } from "../../src/fit/compareCurves.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { optimumInterval } from "../../src/interval/optimumInterval.ts";
import { optimumSet } from "../../src/interval/optimumSets.ts";
import { fQuantile } from "../../src/numeric/distributions.ts";
import { joinResponse } from "../../src/numeric/joinDesign.ts";
import { assertDigits } from "../assertDigits.ts";
import { dummies, plainRss } from "../bruteForce.ts";

type Family = "quadratic" | "linear-plateau" | "quadratic-plateau";

interface Plots {
  readonly density: number[];
  readonly yield: number[];
  readonly block: number[];
}

function randomTrial(s: number): Plots {
  const random = streamRandom(11, s);
  const levels = [18, 23, 28, 33, 38, 43].slice(0, 4 + random.below(3)).map((x) => x + random.next());
  const join = 24 + 16 * random.next();
  const sd = 2 + 6 * random.next();
  const power = 1 + random.below(2);
  const block: number[] = [];
  const density: number[] = [];
  for (let b = 0; b < 3; b++) {
    for (const x of levels) {
      if (random.below(10) === 0) continue;
      density.push(x);
      block.push(b);
    }
  }
  return {
    density,
    block,
    yield: density.map(
      (x, i) => 195 - (power === 1 ? 1.4 : 0.1) * Math.max(join - x, 0) ** power + 4 * block[i] + sd * random.normal(),
    ),
  };
}

/** Least RSS of a family with the optimum of Y - r x at x0 (inside the range), by plain constrained searches. */
function constrainedRss(family: Family, data: Plots, x0: number, r: number): number {
  const one = data.density.map(() => 1);
  const blocks = dummies(data.block);
  const minus = (take: (x: number) => number): number[] => data.yield.map((y, i) => y - take(data.density[i]));
  /** RSS with y = blocks + k h + fixed, k restricted to [from, infinity). */
  const ray = (y: number[], h: number[], from: number): number => {
    const at = (k: number): number =>
      plainRss(
        blocks,
        y.map((v, i) => v - k * h[i]),
        one,
      );
    // RSS is a parabola in k: three points give its vertex.
    const [a, b, c] = [at(0), at(1), at(2)];
    const curve = (a - 2 * b + c) / 2;
    const best = (3 * a - 4 * b + c) / (4 * curve);
    return at(Math.max(best, from));
  };
  if (family === "quadratic")
    return ray(
      minus((x) => r * x),
      data.density.map((x) => -((x - x0) ** 2)),
      0,
    );
  if (family === "linear-plateau")
    return ray(
      data.yield,
      data.density.map((x) => -Math.max(x0 - x, 0)),
      r,
    );
  const at = (logK: number): number => {
    const k = Math.exp(logK);
    const join = x0 + r / (2 * k);
    return plainRss(
      blocks,
      minus((x) => -k * Math.max(join - x, 0) ** 2),
      one,
    );
  };
  if (r === 0)
    return ray(
      data.yield,
      data.density.map((x) => -(Math.max(x0 - x, 0) ** 2)),
      0,
    );
  let best = -12;
  for (let g = -12; g <= 9; g += 0.05) if (at(g) < at(best)) best = g;
  let low = best - 0.05;
  let high = best + 0.05;
  for (let i = 0; i < 60; i++) {
    const a = high - 0.618 * (high - low);
    const b = low + 0.618 * (high - low);
    if (at(a) < at(b)) high = b;
    else low = a;
  }
  return at((low + high) / 2);
}

for (const family of ["quadratic", "linear-plateau", "quadratic-plateau"] as const) {
  for (const r of [0, 0.4]) {
    test(`the ${family} optimum set at price ratio ${r} is the set a dense constrained search accepts`, () => {
      let inside = 0;
      let outside = 0;
      // The quadratic-plateau with a price needs a search over the curvature at every density: fewer trials.
      const trials = family === "quadratic-plateau" && r > 0 ? 14 : 40;
      for (let s = 0; s < trials; s++) {
        const data = randomTrial(s);
        const prepared = prepareData(data);
        const { low, span } = prepared.design;
        const least = Math.min(...compareCurves(data).fits.flatMap((fit) => (fit.rss === null ? [] : [fit.rss])));
        const cutoff = least * 1.25;
        const set = optimumSet(family, prepared.design, joinResponse(prepared.design, prepared.y), r, cutoff);
        for (let i = 1; i < 30; i++) {
          const u = i / 30;
          const rss = constrainedRss(family, data, low + span * u, r);
          // Points within rounding of the border may fall either way.
          if (Math.abs(rss / cutoff - 1) < 1e-7) continue;
          const accepted = set.inside.some(([from, to]) => u >= from && u <= to);
          expect(accepted, `set ${s}, density ${low + span * u}, RSS ${rss} against ${cutoff}`).toBe(rss < cutoff);
          if (accepted) inside++;
          else outside++;
        }
      }
      expect(Math.min(inside, outside)).toBeGreaterThan(60);
    });
  }
}

describe("optimumInterval", () => {
  test("Fieller's interval and the quadratic's profile interval are the same set", () => {
    let compared = 0;
    for (let s = 0; s < 250; s++) {
      const data = randomTrial(s);
      for (const target of ["agronomic", "economic"] as const) {
        const fieller = optimumInterval(data, { target, priceRatio: 0.4, method: "fieller" });
        const profile = optimumInterval(data, { target, priceRatio: 0.4, method: "profile", family: "quadratic" });
        if (fieller.lower === null || fieller.upper === null || fieller.pieces) continue;
        compared++;
        assertDigits(profile.lower, fieller.lower, 9);
        assertDigits(profile.upper, fieller.upper, 9);
      }
    }
    expect(compared).toBeGreaterThan(40);
  });

  test("the envelope holds every density that some family accepts at the common cut-off", () => {
    for (let s = 0; s < 40; s++) {
      const data = randomTrial(s);
      const envelope = optimumInterval(data, { level: 0.9, calibrate: false });
      const prepared = prepareData(data);
      const { fits } = compareCurves(data);
      const rival = fits.filter((fit) => fit.family !== "flat");
      const dof = Math.min(...rival.map((fit) => fit.dofResidual));
      const cutoff = Math.min(...rival.map((fit) => fit.rss as number)) * (1 + fQuantile(0.9, 1, dof) / dof);
      for (let i = 1; i < 20; i++) {
        const x = prepared.design.low + (prepared.design.span * i) / 20;
        const least = Math.min(
          ...(["quadratic", "linear-plateau", "quadratic-plateau"] as const).map((f) => constrainedRss(f, data, x, 0)),
        );
        const pieces = envelope.pieces ?? [{ lower: envelope.lower, upper: envelope.upper }];
        const held = pieces.some((p) => (p.lower === null || x >= p.lower) && (p.upper === null || x <= p.upper));
        if (Math.abs(least / cutoff - 1) > 1e-7) expect(held, `set ${s}, density ${x}`).toBe(least < cutoff);
      }
    }
  });

  test("the calibrated cut-off is deterministic, says how it was made, and its simulations are those of the stated level", () => {
    const data = randomTrial(3);
    const one = optimumInterval(data, { seed: 4 });
    expect(optimumInterval(data, { seed: 4 })).toEqual(one);
    expect(one.cutoff?.simulations).toBe(999);
    const plain = optimumInterval(data, { calibrate: false });
    expect(plain.cutoff?.simulations).toBeNull();
    expect(plain.cutoff?.factor).toBe(one.cutoff?.plain);
    const profile = optimumInterval(data, {
      method: "profile",
      family: "quadratic",
      calibrate: true,
      simulations: 19_999,
    });
    // One linear family: F is exact, so the simulation must find it. 19,999 draws give the 95 % quantile to about 2 %.
    expect(Math.abs((profile.cutoff?.factor as number) / (profile.cutoff?.plain as number) - 1)).toBeLessThan(0.08);
  });

  test("a higher level never gives a narrower envelope", () => {
    for (let s = 0; s < 30; s++) {
      const data = randomTrial(s);
      const narrow = optimumInterval(data, { level: 0.8 });
      const wide = optimumInterval(data, { level: 0.99 });
      if (wide.lower !== null) expect(narrow.lower as number).toBeGreaterThanOrEqual(wide.lower);
      if (wide.upper !== null) expect(narrow.upper as number).toBeLessThanOrEqual(wide.upper);
    }
  });

  test("without residual degrees of freedom nothing is bounded, and it says so", () => {
    const interval = optimumInterval({ density: [1, 2, 3], yield: [1, 2, 2.5] });
    expect(interval.lowerOpen && interval.upperOpen).toBe(true);
    expect(interval.reason).toContain("no residual degrees of freedom");
  });

  test("plots that share a strip bring a warning; the bootstrap then draws strips", () => {
    const data = randomTrial(2);
    const cluster = data.density.map((_, i) => Math.floor(i / 2));
    expect(optimumInterval(data).warnings).toBeUndefined();
    expect(optimumInterval({ ...data, cluster }).warnings?.join()).toContain("too short");
    const bootstrap = optimumInterval({ ...data, cluster }, { method: "bootstrap" });
    expect(bootstrap.warnings?.join()).not.toContain("independent");
  });

  test("an unknown method, a missing price or a smooth family is refused with a code", () => {
    const data = randomTrial(1);
    expect(() => optimumInterval(data, { method: "guess" as "profile" })).toThrow(
      expect.objectContaining({ code: "invalid-option" }),
    );
    expect(() => optimumInterval(data, { target: "economic" })).toThrow(
      expect.objectContaining({ code: "invalid-option" }),
    );
    expect(() => optimumInterval(data, { method: "profile", family: "exponential" })).toThrow(
      expect.objectContaining({ code: "not-offered" }),
    );
    expect(() => optimumInterval(data, { level: 1 })).toThrow(expect.objectContaining({ code: "invalid-option" }));
  });
});
