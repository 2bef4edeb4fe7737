import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { sortedWhereRead } from "../../src/numeric/sortedWhereRead.ts";

/** Oracle: the engine's own sort. */
function check(values: Float64Array): void {
  const sorted = values.slice().sort();
  const sample = sortedWhereRead(values);
  expect(sample.size).toBe(values.length);
  for (let rank = 0; rank < sorted.length; rank++) expect(Object.is(sample.at(rank), sorted[rank])).toBe(true);
  for (const value of [sorted[0], sorted[sorted.length >> 1], Number.POSITIVE_INFINITY]) {
    expect(sample.below(value)).toBe(sorted.filter((one) => one < value).length);
  }
}

test("every rank of any sample is that of the whole sort", () => {
  const random = streamRandom(3, 0);
  const shapes = [
    () => random.next(),
    () => random.normal() / random.normal(), // Cauchy: nearly all values in one bucket
    () => random.below(5),
    () => 1e300 * random.normal(),
    () => 1 + Number.EPSILON * random.below(9),
    () => -(random.next() ** 20),
  ];
  for (const n of [1, 2, 15, 16, 17, 300, 5000]) {
    for (const shape of shapes) check(Float64Array.from({ length: n }, shape));
  }
});

test("infinite values and equal ones are in their places", () => {
  const infinite = Number.POSITIVE_INFINITY;
  check(Float64Array.of(3, infinite, -infinite, 1, infinite, 2));
  check(Float64Array.of(-infinite, -infinite));
  check(new Float64Array(100).fill(7));
  check(Float64Array.of(Number.MAX_VALUE, -Number.MAX_VALUE, 1, 0));
});

test("ranks read in any order do not disturb one another, and the sample stays as it was", () => {
  const random = streamRandom(4, 0);
  const values = Float64Array.from({ length: 2000 }, () => random.normal());
  const before = values.slice();
  const sorted = values.slice().sort();
  const sample = sortedWhereRead(values);
  for (let i = 0; i < 500; i++) {
    const rank = random.below(2000);
    expect(sample.at(rank)).toBe(sorted[rank]);
  }
  expect(values).toEqual(before);
});
