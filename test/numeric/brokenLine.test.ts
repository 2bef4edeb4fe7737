import { describe, expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import {
  breakCandidates,
  breaksWithGain,
  brokenLineDesign,
  greatestGain,
  levelSums,
  project,
  sumOfSquares,
} from "../../src/numeric/brokenLine.ts";
import { assertDigits } from "../assertDigits.ts";
import { dummies, plainRss } from "../bruteForce.ts";

// Oracle: plain least squares with block dummies, the density and the hinge as columns (test/bruteForce.ts).

function randomTrial(stream: number) {
  const random = streamRandom(11, stream);
  const levels = [0, 0.15 + 0.1 * random.next(), 0.4, 0.55 + 0.1 * random.next(), 0.8, 1].slice(
    stream % 3 === 0 ? 1 : 0,
  );
  const span = [levels[0], levels[levels.length - 1]];
  const scaled = levels.map((v) => (v - span[0]) / (span[1] - span[0]));
  const blocks = 1 + (stream % 3);
  const n = scaled.length * 2 + random.below(6);
  const x = Array.from({ length: n }, (_, i) =>
    i < 2 * scaled.length ? scaled[i % scaled.length] : scaled[random.below(scaled.length)],
  );
  const block = x.map((_, i) => (i < blocks ? i : random.below(blocks)));
  const y = x.map((v) => 3 - 2 * v + 4 * Math.max(v - 0.5, 0) + 0.7 * random.normal());
  const design = brokenLineDesign(Float64Array.from(x), Int32Array.from(block), blocks);
  const rest = project(Float64Array.from(y), design);
  const straight = plainRss(
    [...dummies(block), x],
    y,
    x.map(() => 1),
  );
  const gain = (at: number): number =>
    straight -
    plainRss(
      [...dummies(block), x, x.map((v) => Math.max(v - at, 0))],
      y,
      x.map(() => 1),
    );
  return { design, rest, sums: levelSums(rest, design), straight, gain, scaled };
}

describe("broken line against plain least squares on random trials", () => {
  test("what the projection leaves is the residual of the straight line with blocks", () => {
    for (let s = 0; s < 12; s++) {
      const { rest, straight } = randomTrial(s);
      assertDigits(sumOfSquares(rest), straight, 10, `trial ${s}`);
    }
  });

  test("every candidate earns what plain least squares says, and none on a fine grid earns more", () => {
    for (let s = 0; s < 12; s++) {
      const { design, sums, gain, scaled } = randomTrial(s);
      const found = breakCandidates(design, sums);
      const m = scaled.length;
      expect(found[0]).toMatchObject({ where: "first", at: design.levels[1] });
      expect(found.at(-1)).toMatchObject({ where: "last", at: design.levels[m - 2] });
      expect(found.filter(({ where }) => where === "level").map(({ at }) => at)).toEqual(
        Array.from(design.levels.subarray(2, m - 2)),
      );
      expect(found.map(({ at }) => at)).toEqual(found.map(({ at }) => at).sort((a, b) => a - b));
      // 1e-9: the plain route loses digits in its normal equations
      for (const { at, gain: own } of found) expect(Math.abs(own - gain(at))).toBeLessThan(1e-9);
      const top = Math.max(...found.map((one) => one.gain));
      expect(greatestGain(design, sums)).toBe(top);
      for (let i = 1; i < 400; i++) expect(gain(i / 400)).toBeLessThan(top + 1e-9);
      for (const { at, where } of found)
        if (where === "interior") {
          // the one interior stationary point is a maximum
          expect(gain(at)).toBeGreaterThanOrEqual(gain(at - 1e-3) - 1e-12);
          expect(gain(at)).toBeGreaterThanOrEqual(gain(at + 1e-3) - 1e-12);
        }
    }
  });

  test("the set of breaks with enough gain is the one a grid shows", () => {
    let [several, outside] = [0, 0];
    for (let s = 0; s < 12; s++) {
      const { design, sums, gain } = randomTrial(s);
      const top = greatestGain(design, sums);
      for (const share of [0.3, 0.8, 0.97]) {
        const pieces = breaksWithGain(design, sums, share * top);
        if (pieces.length > 1) several++;
        for (let i = 1; i < 300; i++) {
          const at = i / 300;
          const own = gain(at) - share * top;
          if (Math.abs(own) < 1e-8) continue; // on the edge within rounding
          if (own < 0) outside++;
          expect(pieces.some(([from, to]) => from <= at && at <= to)).toBe(own > 0);
        }
      }
      expect(breaksWithGain(design, sums, 1.001 * top)).toEqual([]);
      expect(breaksWithGain(design, sums, 0)).toEqual([[0, 1]]);
    }
    expect(several).toBeGreaterThan(0);
    expect(outside).toBeGreaterThan(1000);
  });

  test("a hinge that the blocks explain is no candidate", () => {
    // The two lowest densities grow in a block of their own, so the hinge between the two blocks is a block effect.
    const x = Float64Array.of(0, 0.2, 0, 0.2, 0.8, 1, 0.8, 1);
    const design = brokenLineDesign(x, Int32Array.of(0, 0, 0, 0, 1, 1, 1, 1), 2);
    const sums = levelSums(project(Float64Array.of(1, 3, 2, 2, 5, 4, 6, 7), design), design);
    expect(Array.from(design.qcc).map((q) => q > 1e-9)).toEqual([true, false, true]);
    expect(breakCandidates(design, sums).map(({ where }) => where)).toEqual(["first", "last"]);
  });
});
