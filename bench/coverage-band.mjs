/**
 * Pointwise coverage of `curveBand` at each tested density: `npm run build && node bench/coverage-band.mjs [runs]` prints
 * bench/coverage-band.md. Seeded: the same numbers on every run of one engine.
 */
import { curveBand } from "../dist/derive/curveBand.js";
import { streamRandom } from "../dist/index.js";

const runs = Number(process.argv[2] ?? 2000);
const levels = [18, 23, 28, 33, 38, 43];
const blocks = 4;
const RISE = 24;
const scaled = (x) => (x - levels[0]) / (levels[levels.length - 1] - levels[0]);
/** The truths of bench/coverage.md: yield on the scaled density. */
const truths = {
  "quadratic, best at 0.62": (u) => 200 - RISE * ((0.62 - u) / 0.62) ** 2,
  "linear-plateau, join at 0.55": (u) => 200 - (RISE * Math.max(0.55 - u, 0)) / 0.55,
  "quadratic-plateau, join at 0.62": (u) => 200 - RISE * (Math.max(0.62 - u, 0) / 0.62) ** 2,
};

function coverage(truth, sigma, stream) {
  const random = streamRandom(20310418, stream);
  const held = levels.map(() => 0);
  let width = 0;
  for (let run = 0; run < runs; run++) {
    const effects = Array.from({ length: blocks }, () => 6 * random.normal());
    const mean = effects.reduce((sum, value) => sum + value, 0) / blocks;
    const plots = effects.flatMap((effect, block) =>
      levels.map((density) => ({ density, block, yield: truth(scaled(density)) + effect + sigma * random.normal() })),
    );
    const { lower, upper } = curveBand(
      {
        density: plots.map(({ density }) => density),
        yield: plots.map((plot) => plot.yield),
        block: plots.map(({ block }) => block),
      },
      { at: levels },
    );
    levels.forEach((x, i) => {
      const at = truth(scaled(x)) + mean;
      if (lower[i] <= at && at <= upper[i]) held[i] += 1;
      width += (upper[i] - lower[i]) / levels.length / runs;
    });
  }
  return { shares: held.map((count) => count / runs), width };
}

const rows = Object.entries(truths).flatMap(([name, truth], t) =>
  [3, 6].map((ratio, k) => {
    const sigma = RISE / ratio;
    const { shares, width } = coverage(truth, sigma, 10 * t + k);
    const mean = shares.reduce((sum, share) => sum + share, 0) / shares.length;
    return `| ${name} | ${ratio} | ${shares.map((share) => (100 * share).toFixed(1)).join(" | ")} | ${(100 * mean).toFixed(1)} | ${(width / sigma).toFixed(2)} |`;
  }),
);
const error = 100 * Math.sqrt((0.95 * 0.05) / runs);
console.log(`# Pointwise coverage of the curve's 95 % band

\`npm run build && node bench/coverage-band.mjs ${runs}\` (${runs} trials a row, Monte-Carlo standard error ${error.toFixed(1)} points a cell).
Complete blocks, six densities and ${blocks} blocks, normal errors; "rise / s": rise from the lowest density to the top over the plot standard
deviation. Truth: the curve of the average block at each tested density. "width": mean width of the band in plot standard deviations.

| truth | rise / s | ${levels.join(" | ")} | mean | width |
|---|---|${"---|".repeat(levels.length)}---|---|
${rows.join("\n")}`);
