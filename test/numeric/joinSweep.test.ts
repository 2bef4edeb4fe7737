import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { factorModel } from "../../src/numeric/factorModel.ts";
import { joinDesign, joinResponse } from "../../src/numeric/joinDesign.ts";
import { forEachPiece, joinCandidates, polynomial } from "../../src/numeric/joinSweep.ts";
import { assertDigits } from "../assertDigits.ts";
import { dummies, plainRss } from "../bruteForce.ts";

// Oracle: plain weighted least squares with block dummies and max(J - x, 0)^p as columns (test/bruteForce.ts).

function randomTrial(stream: number) {
  const random = streamRandom(17, stream);
  const levels = Array.from({ length: 4 + random.below(3) }, (_, l) => 20 + 5 * l + 2 * random.next());
  const blocks = 1 + (stream % 3);
  const n = 2 * levels.length + random.below(8);
  const x = Array.from({ length: n }, (_, i) =>
    i < 2 * levels.length ? levels[i % levels.length] : levels[random.below(levels.length)],
  );
  const block = x.map((_, i) => (i < blocks ? i : random.below(blocks)));
  const weight = x.map(() => 0.5 + random.next());
  const y = x.map((v, i) => 180 + 3 * block[i] - 0.2 * Math.max(36 - v, 0) ** 2 + 6 * random.normal());
  const design = joinDesign(Float64Array.from(x), Int32Array.from(block), blocks, Float64Array.from(weight));
  const response = joinResponse(design, Float64Array.from(y));
  const low = Math.min(...x);
  const span = Math.max(...x) - low;
  const gain = (join: number, power: number): number =>
    plainRss(dummies(block), y, weight) -
    plainRss([...dummies(block), x.map((v) => Math.max(join - (v - low) / span, 0) ** power)], y, weight);
  return { x, block, weight, y, design, response, gain };
}

test("the total within blocks is the residual of the block means", () => {
  for (let s = 0; s < 9; s++) {
    const { response, block, weight, y } = randomTrial(s);
    assertDigits(response.total, plainRss(dummies(block), y, weight), 10);
    block.forEach((b) => {
      const own = y.map((_, i) => i).filter((i) => block[i] === b);
      const sum = (of: (i: number) => number) => own.reduce((t, i) => t + of(i), 0);
      assertDigits(response.blockMean[b], sum((i) => weight[i] * y[i]) / sum((i) => weight[i]), 13);
    });
  }
});

test("every candidate takes off what plain least squares says, and no join on a fine grid takes off more", () => {
  for (let s = 0; s < 9; s++) {
    const { design, response, gain } = randomTrial(s);
    for (const power of [1, 2] as const) {
      const found = joinCandidates(design, response.sums, power);
      // 6 digits and 1e-6: the plain route's normal equations lose the rest
      for (const one of found) expect(Math.abs(one.gain - gain(one.join, power))).toBeLessThan(1e-6 * response.total);
      const top = Math.max(...found.map((one) => one.gain));
      for (let i = 1; i <= 300; i++) expect(gain(i / 300, power)).toBeLessThan(top + 1e-6 * response.total);
      // every tested density from the second on is among them
      for (const level of design.scaled.subarray(1)) expect(found.some(({ join }) => join === level)).toBe(true);
      expect(found.map(({ join }) => join)).toEqual(found.map(({ join }) => join).sort((a, b) => a - b));
    }
  }
});

test("the sign is +1 for a rise to the plateau, -1 for a fall", () => {
  const x = Float64Array.of(1, 2, 3, 4, 5);
  const design = joinDesign(x, new Int32Array(5), 1, new Float64Array(5).fill(1));
  for (const power of [1, 2] as const) {
    const rising = joinCandidates(design, joinResponse(design, Float64Array.of(1, 2, 3, 3, 3)).sums, power);
    const falling = joinCandidates(design, joinResponse(design, Float64Array.of(3, 2, 1, 1, 1)).sums, power);
    expect(rising.every(({ sign }) => sign === 1)).toBe(true);
    expect(falling.every(({ sign }) => sign === -1)).toBe(true);
  }
  // The straight rise ends at 3, the middle of [0, 1], and explains everything.
  const response = joinResponse(design, Float64Array.of(1, 2, 3, 3, 3));
  const best = joinCandidates(design, response.sums, 1).reduce((a, b) => (b.gain > a.gain ? b : a));
  assertDigits(best.join, 0.5, 12);
  assertDigits(best.gain, response.total, 12);
  expect(response.total).toBeCloseTo(3.2, 12); // 1.4^2 + 0.4^2 + 3 * 0.6^2
});

test("pieces run from the second level to the last, from the first when asked for", () => {
  const { design, response } = randomTrial(2);
  const visit = (withFirst?: boolean): number[] => {
    const lefts: number[] = [];
    forEachPiece(design, response.sums, 2, ({ left }) => void lefts.push(left), withFirst);
    return lefts;
  };
  const m = design.scaled.length;
  expect(visit()).toEqual(Array.from(design.scaled.subarray(1, m - 1)));
  expect(visit(true)).toEqual(Array.from(design.scaled.subarray(0, m - 1)));
  expect(
    joinCandidates(
      joinDesign(Float64Array.of(3, 3), new Int32Array(2), 1, Float64Array.of(1, 1)),
      new Float64Array(1),
      1,
    ),
  ).toEqual([]);
});

test("polynomial: 1 + 2 t + 3 t^2 at 2 is 17", () => expect(polynomial([1, 2, 3], 2)).toBe(17));

test("what blocks explain does not count: densities grown in a block of their own give no candidate between", () => {
  // Levels 0 and 1 only in block 0, levels 2 and 3 only in block 1: the second block alone decides from level 2 on.
  const x = Float64Array.of(0, 1, 0, 1, 2, 3, 2, 3);
  const design = joinDesign(x, Int32Array.of(0, 0, 0, 0, 1, 1, 1, 1), 2, new Float64Array(8).fill(1));
  expect([design.base, design.ridge]).toEqual([0, 1 / 3]);
  const alone = joinDesign(
    Float64Array.of(0, 0, 1, 2, 3, 1, 2, 3),
    Int32Array.of(0, 0, 1, 1, 1, 1, 1, 1),
    2,
    new Float64Array(8).fill(1),
  );
  expect([alone.base, alone.ridge]).toEqual([1 / 3, 2 / 3]);
  expect(alone.floor[0]).toBe(0);
});

test("the factor model is least squares on block and level dummies; its degrees of freedom are n minus the rank", () => {
  for (let s = 0; s < 9; s++) {
    const { design, x, block, weight, y } = randomTrial(s);
    const levels = [...new Set(x)].map((own) => x.map((v) => (v === own ? 1 : 0)));
    const { ss, dof } = factorModel(design, Float64Array.from(y));
    assertDigits(ss, plainRss([...dummies(block), ...levels.slice(1)], y, weight), 9, `trial ${s}`);
    // connected layouts: one dummy is the sum of the others
    expect(dof).toBe(x.length - levels.length - new Set(block).size + 1);
  }
});

test("two blocks without a common density: each block keeps its own mean, by hand", () => {
  const x = Float64Array.of(1, 1, 2, 3, 3, 4);
  const design = joinDesign(x, Int32Array.of(0, 0, 0, 1, 1, 1), 2, new Float64Array(6).fill(1));
  // within level 1: (5 - 7)^2 / 2 = 2; within level 3: (1 - 4)^2 / 2 = 4.5; ranks: 4 levels, no block contrast
  const { ss, dof } = factorModel(design, Float64Array.of(5, 7, 1, 1, 4, 9));
  assertDigits(ss, 6.5, 13);
  expect(dof).toBe(2);
});
