import { expect, test } from "vitest";
import { type RandomStream, streamRandom } from "../../src/core/random.ts";
import { curveOf } from "../../src/curves/catalogue.ts";
import { fitSmoothCurve } from "../../src/fit/fitSmoothCurve.ts";
import type { SmoothFamily } from "../../src/fit/smoothFamilies.ts";
import { dummies, plainRss } from "../bruteForce.ts";

const sets = process.env.STANDCURVE_SLOW === "1" ? 1500 : 40;

interface Plots {
  readonly x: number[];
  readonly y: number[];
  readonly block: number[];
  readonly weight: number[];
}

/** Unbalanced trials of 11 to 30 plots in 1 to 3 blocks around a curve of any of the families, densities tied or not. */
function trial(random: RandomStream): Plots {
  const between = (low: number, high: number): number => low + (high - low) * random.next();
  const n = Math.floor(between(11, 31));
  const levels = Array.from({ length: Math.floor(between(4, 8)) }, () => between(15, 110));
  const own = random.next() < 0.3;
  const blocks = Math.floor(between(1, 4));
  const peak = between(20, 150);
  const family = (["exponential", "reciprocal", "parabolic-reciprocal", "mitscherlich"] as const)[
    Math.floor(between(0, 4))
  ];
  const theta = {
    exponential: [Math.log((10 * Math.E) / peak), -1 / peak],
    reciprocal: [between(0, 6), 0.1],
    "parabolic-reciprocal": [0.04 * peak, 0.02, 0.04 / peak],
    mitscherlich: [10, between(4, 30), between(0.01, 0.1)],
  }[family];
  const noise = between(0.02, 0.8);
  const x = Array.from({ length: n }, (_, i) =>
    i < 4 || !own ? levels[i < levels.length ? i : Math.floor(between(0, levels.length))] : between(15, 110),
  );
  const block = x.map((_, i) =>
    i < levels.length ? 0 : i < levels.length + blocks ? i - levels.length : Math.floor(between(0, blocks)),
  );
  const y = x.map((v, i) => Math.max(curveOf(family).mean(v, theta) + noise * random.normal() + 0.3 * block[i], 0.5));
  const weighted = random.next() < 0.5;
  return { x, y, block, weight: x.map(() => (weighted ? between(0.3, 3) : 1)) };
}

/** Shape columns of a family over a grid of its nonlinear parameters, unlike the grid of the library. */
function* columnsOf(family: SmoothFamily, x: readonly number[], random: RandomStream): Generator<number[]> {
  const low = Math.min(...x);
  const high = Math.max(...x);
  for (let k = 0; k < 150; k++) {
    const u = (k + random.next()) / 150;
    if (family === "exponential") yield x.map((v) => (v / high) * Math.exp(((u * 9 - 7) / high) * (v - low)));
    if (family === "mitscherlich") yield x.map((v) => Math.exp(-((0.001 * 3000 ** u) / (high - low)) * (v - low)));
    if (family === "reciprocal") {
      const ratio = u < 0.5 ? (2 * u - 0.999) / high : (1e-3 * 1e6 ** (2 * u - 1)) / high; // b / a
      yield x.map((v) => v / (1 + ratio * v));
    }
    if (family === "parabolic-reciprocal") {
      const peak = low * (high / low) ** (2 * u - 0.5);
      for (const dip of [-1.6, -1, 0, 1, 4]) yield x.map((v) => v / (1 + (dip * v) / peak + (v / peak) ** 2));
    }
  }
}

test(`on ${sets} random trials no grid of parameters beats the fit, and every fit ends well`, () => {
  for (let k = 0; k < sets; k++) {
    const random = streamRandom(11, k);
    const { x, y, block, weight } = trial(random);
    const blocks = dummies(block);
    const contrasts = blocks.slice(1).map((column) => column.map((v, i) => v - blocks[0][i]));
    for (const family of ["exponential", "reciprocal", "parabolic-reciprocal", "mitscherlich"] as const) {
      const fit = fitSmoothCurve(family, Float64Array.from(x), Float64Array.from(y), {
        block: Int32Array.from(block),
        blockCount: blocks.length,
        weight: Float64Array.from(weight),
      });
      const what = `trial ${k}, ${family}`;
      // a parabolic reciprocal may have no least-squares fit: the better the higher its spike between two densities
      if (fit.status === "not-estimable" && fit.reason?.includes("spike")) continue;
      expect(fit.status, `${what}: ${fit.reason}`).toBe("converged");
      let least = Infinity;
      for (const column of columnsOf(family, x, random)) {
        least = Math.min(least, plainRss([column, ...(family === "mitscherlich" ? blocks : contrasts)], y, weight));
      }
      expect(fit.rss, what).toBeLessThanOrEqual(least * (1 + 1e-12));
      if (fit.limit === null) expect(fit.digits, what).toBeGreaterThan(9);
      expect(JSON.stringify(fit), what).not.toMatch(/null,null|NaN|Infinity/);
    }
  }
});
