/**
 * The whole analysis of one trial, from CSV text to the finished result, and of its parts: one hybrid, 6 rates x 4 blocks at one place,
 * and four places together. Answers first: the quadratic's residual sum is that of R's lm (when Rscript is present).
 */
import { spawnSync } from "node:child_process";
import { analyzeTrial, compareCurves, htmlPage, markdownPage, readTrial, streamRandom } from "../dist/index.js";
import { median, processorTime, sameDigits, table } from "./tools.mjs";

const options = { prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 }, between: [24, 40] };

/** The same invented trial in every run, as a file. */
function csv(places) {
  const random = streamRandom(60, 0);
  const lines = ["hybrid,site,year,block,plot,seeding_rate_k_ac,yield_bu_ac,moisture_pct"];
  for (let p = 0; p < places; p++) {
    for (let b = 0; b < 4; b++) {
      for (let l = 0; l < 6; l++) {
        const x = 18 + 5 * l;
        const y = 200 + 6 * p - 0.1 * Math.max(34 - x, 0) ** 2 + 2 * b + 4 * random.normal();
        lines.push(`Invented 1,Place ${p + 1},2031,${b + 1},${100 * b + l},${x},${y.toFixed(1)},15.5`);
      }
    }
  }
  return lines.join("\n");
}

/** Residual sum of squares of the quadratic with blocks; null without R. */
function inR(text) {
  const program =
    'd <- read.csv(file("stdin")); cat(sprintf("%.12g", deviance(lm(yield_bu_ac ~ factor(block) + poly(seeding_rate_k_ac, 2), d))))';
  const run = spawnSync("Rscript", ["-e", program], { input: text, encoding: "utf8" });
  if (run.error) return null;
  if (run.status !== 0) throw new Error(run.stderr);
  return Number(run.stdout);
}

export function analysis({ repeats = 9 } = {}) {
  const one = csv(1);
  const four = csv(4);
  const { trial } = readTrial(one);
  const data = {
    density: trial.plots.map((plot) => plot.density),
    yield: trial.plots.map((plot) => plot.yield),
    block: trial.plots.map((plot) => plot.block),
  };
  const rss = inR(one);
  const quadratic = compareCurves(data).fits.find(({ family }) => family === "quadratic");
  if (rss !== null) sameDigits(quadratic.rss, rss, 9, "RSS of the quadratic in R");

  const result = analyzeTrial(trial, options);
  const several = readTrial(four).trial;
  const steps = [
    ["reading 24 plots: columns, units, all checks", () => readTrial(one)],
    ["five families fitted and compared", () => compareCurves(data)],
    ["whole analysis, 24 plots, 2,000 replicates", () => analyzeTrial(trial, { ...options, scrutiny: false })],
    ["the same with parts left out in turn (scrutiny, the default)", () => analyzeTrial(trial, options)],
    ["whole analysis, four places, 96 plots, with curves across places", () => analyzeTrial(several, options)],
    ["report in Markdown", () => markdownPage(result)],
    ["report as a web page", () => htmlPage(result)],
  ];
  const rows = steps.map(([what, run]) => {
    // One trial is analysed by a program that has just started as well as by one that has run for hours.
    const first = processorTime(run);
    const warm = median(Array.from({ length: repeats }, () => processorTime(run)));
    return [what, (first / 1000).toFixed(1), (warm / 1000).toFixed(2)];
  });
  return `## One trial, whole analysis\n\nMilliseconds of processor time; the first call in the process and the median of ${repeats} later ones${rss === null ? "" : "; the quadratic's residual sum is R's to 9 digits"}.\n\n${table(["what", "first", "later"], rows)}`;
}

if (process.argv[1] === import.meta.filename) process.stdout.write(`${analysis()}\n`);
