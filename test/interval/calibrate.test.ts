import { expect, test } from "vitest";
import { streamRandom } from "../../src/core/random.ts";
import { prepareData } from "../../src/fit/fitData.ts";
import { calibrate } from "../../src/interval/calibrate.ts";
import { gainAtOptimum } from "../../src/interval/gainAtOptimum.ts";
import { optimumInterval } from "../../src/interval/optimumInterval.ts";
import { optimumSet } from "../../src/interval/optimumSets.ts";
import { fQuantile } from "../../src/numeric/distributions.ts";
import { joinResponse } from "../../src/numeric/joinDesign.ts";
import { kernelFamilies, refitKernel } from "../../src/numeric/refitKernel.ts";

const families = ["linear", "quadratic", "linear-plateau", "quadratic-plateau"] as const;

function trial(
  random: { normal(): number; next(): number },
  levels: number,
  blocks: number,
  mean: (u: number) => number,
  sd: number,
) {
  const density: number[] = [];
  const block: number[] = [];
  for (let b = 0; b < blocks; b++) {
    for (let l = 0; l < levels; l++) {
      density.push(18 + (25 * l) / (levels - 1));
      block.push(b);
    }
  }
  return { density, block, yield: density.map((x, i) => mean((x - 18) / 25) + 3 * block[i] + sd * random.normal()) };
}

for (const r of [0, 0.4]) {
  test(`the best curve with a stated optimum (price ratio ${r}) is within the cut-off where the optimum sets say so`, () => {
    let inside = 0;
    let outside = 0;
    for (let s = 0; s < 60; s++) {
      const random = streamRandom(s, 3);
      const join = 0.3 + 0.6 * random.next();
      const data = prepareData(trial(random, 6, 3, (u) => 195 - 40 * Math.max(join - u, 0) ** 2, 4));
      const { design } = data;
      const response = joinResponse(design, data.y);
      const kernel = refitKernel(design);
      kernel.fit(response.sums);
      const pick = [2, 3, 4];
      const cutoff = (response.total - Math.max(...pick.map((f) => kernel.gain[f]))) * 1.25;
      const sets = families.slice(1).map((family) => optimumSet(family, design, response, r, cutoff));
      for (let i = 1; i < 40; i++) {
        const v = i / 40;
        const rss = response.total - gainAtOptimum(design, response.sums, v, r * design.span, pick, kernel.shape[5]);
        if (Math.abs(rss / cutoff - 1) < 1e-6) continue;
        const held = sets.some((set) => set.inside.some(([from, to]) => v >= from && v <= to));
        expect(held, `set ${s}, v ${v}: RSS ${rss} against ${cutoff}`).toBe(rss < cutoff);
        if (held) inside++;
        else outside++;
      }
    }
    expect(Math.min(inside, outside)).toBeGreaterThan(200);
  });
}

test("for one family that is linear once the optimum is given, the simulated cut-off is the F quantile", () => {
  const random = streamRandom(5, 0);
  const data = prepareData(trial(random, 6, 4, (u) => 200 - 60 * (0.6 - u) ** 2, 3));
  const dof = 24 - 4 - 2;
  const plain = fQuantile(0.95, 1, dof) / dof;
  const { factor } = calibrate(data, ["quadratic"], { r: 0, level: 0.95, dof, plain, simulations: 39_999, seed: 2 });
  // The 95 % quantile of 39,999 draws of F(1, 18) has a standard error of about 1.6 %.
  expect(Math.abs(factor / plain - 1)).toBeLessThan(0.06);
});

test("the flat curve is found compatible in 95 % of trials without response, whatever the scatter", () => {
  let held = 0;
  const runs = 600;
  for (let s = 0; s < runs; s++) {
    const data = trial(streamRandom(s, 8), 5, 3, () => 190, 3 + (s % 7));
    if (optimumInterval(data, { simulations: 99, seed: s }).flatNotExcluded) held++;
  }
  // Exact Monte-Carlo test at 95 %: 600 runs give +-0.9 %; three of those.
  expect(Math.abs(held / runs - 0.95)).toBeLessThan(0.027);
});

test("kernel order of families is what the sets assume", () => {
  expect(kernelFamilies.slice(1)).toEqual(families);
});
