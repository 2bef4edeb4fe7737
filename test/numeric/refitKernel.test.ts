import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { fitInner } from "../../src/fit/fitInner.ts";
import { joinResponse } from "../../src/numeric/joinDesign.ts";
import { kernelFamilies, refitKernel } from "../../src/numeric/refitKernel.ts";
import { assertDigits } from "../assertDigits.ts";

test("the refit kernel gives the same fits as the exact sweep on random unbalanced, weighted, blocked trials", () => {
  let compared = 0;
  for (let s = 0; s < 2000; s++) {
    const random = streamRandom(7, s);
    const levels = Array.from({ length: 3 + random.below(6) }, () => 20 + 30 * random.next());
    const n = levels.length + 4 + random.below(20);
    const blocks = 1 + random.below(4);
    const density = Array.from({ length: n }, (_, i) =>
      i < levels.length ? levels[i] : levels[random.below(levels.length)],
    );
    const data = prepareData({
      density,
      block: density.map(() => random.below(blocks)),
      weight: density.map(() => 0.2 + random.next()),
      yield: density.map((x) => 100 - 0.05 * Math.max(35 - x, 0) ** 2 + 8 * random.normal()),
    });
    const response = joinResponse(data.design, data.y);
    const kernel = refitKernel(data.design);
    kernel.fit(response.sums);
    kernelFamilies.forEach((family, f) => {
      const fit = fitInner(family, data);
      if (fit.status !== "converged" || fit.dofResidual < 2) return;
      compared++;
      // 7 digits: the kernel takes RSS as a difference, and nearly collinear random designs (levels 1e-3 apart) cost digits.
      assertDigits(response.total - kernel.gain[f], fit.rss as number, 7, `${family}, set ${s}`);
    });
  }
  expect(compared).toBeGreaterThan(9000);
});
