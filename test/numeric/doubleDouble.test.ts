import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { dot2, sum2 } from "../../src/numeric/doubleDouble.ts";

test("sums and products that cancel keep their small rest", () => {
  expect(sum2([1e16, 1, -1e16])).toBe(1);
  expect(sum2([1, 1e100, 1, -1e100])).toBe(2);
  expect(dot2([1e8 + 1, -1e8], [1e8 + 1, 1e8 + 2])).toBe(1); // (a + 1)^2 - a (a + 2) = 1
  expect(dot2([3], [5], 7)).toBe(22);
  expect(dot2([], [])).toBe(0);
  expect([sum2([]), sum2([4])]).toEqual([0, 4]);
});

test("scalar products of whole numbers of 50 bits equal the exact ones (BigInt), rounded", () => {
  const random = streamRandom(5, 0);
  for (let s = 0; s < 200; s++) {
    const whole = () => Math.floor((random.next() - 0.5) * 2 ** 50);
    const a = Array.from({ length: 8 }, whole);
    const b = Array.from({ length: 8 }, whole);
    const exact = a.reduce((sum, v, i) => sum + BigInt(v) * BigInt(b[i]), 0n);
    // the second last pair takes nearly everything off, so that plain summation has few digits left
    a.push(1);
    b.push(-Number(exact));
    const rest = exact - BigInt(Number(exact));
    expect(dot2(a, b)).toBe(Number(rest));
    expect(sum2([...a, ...b])).toBe(Number([...a, ...b].reduce((sum, v) => sum + BigInt(v), 0n)));
  }
});
