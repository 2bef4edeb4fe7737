import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { emptyDraws, weightedRefit } from "../../src/interval/curveDraws.ts";
import { assertDigits } from "../assertDigits.ts";

test("without plateau curves the short way gives the refits of the kernel, blocks and weights included", () => {
  let compared = 0;
  for (let s = 0; s < 300; s++) {
    const random = streamRandom(s, 6);
    const n = 18;
    const density = Array.from({ length: n }, (_, i) => [18, 23, 28, 33, 38, 43][i % 6]);
    const data = prepareData({
      density,
      block: density.map((_, i) => Math.floor(i / 6)),
      weight: density.map(() => 0.5 + random.next()),
      yield: density.map((x) => 198 - 0.1 * Math.max(34 - x, 0) ** 2 + 4 * random.normal()),
    });
    const count = density.map(() => 0);
    for (let i = 0; i < n; i++) count[random.below(n)]++;
    const draws = emptyDraws(2);
    for (const family of ["flat", "linear", "quadratic"] as const) {
      weightedRefit(data, [family])(count, draws, 0);
      // With a plateau curve among the candidates the whole layout is built; only replicates that choose alike are compared.
      weightedRefit(data, [family, "linear-plateau"])(count, draws, 1);
      if (draws.family[1] !== draws.family[0]) continue;
      compared++;
      for (const part of ["a", "b", "c", "rss"] as const) {
        // Differences of large numbers at the 1e-12 level: compared with the size of the yields.
        expect(Math.abs(draws[part][0] - draws[part][1])).toBeLessThan(1e-9 * 200);
      }
      assertDigits(draws.rss[0], draws.rss[1], 8);
    }
  }
  expect(compared).toBeGreaterThan(100);
});
