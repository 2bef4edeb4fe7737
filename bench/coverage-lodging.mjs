// Coverage of the standability limit's 95 % interval: beta-binomial counts, truth known, limit where 10 % lodge.
// Run after `npm run build`: node bench/coverage-lodging.mjs [runs per cell] [resamples] [share at lowest] [share at highest]
// Prints one line a cell as markdown; Monte-Carlo standard error 0.7 points at 1000 runs.
import { streamRandom } from "../dist/core/random.js";
import { logit } from "../dist/fit/fitBinomialLinks.js";
import { normalQuantile } from "../dist/numeric/distributions.js";
import { averageShare, shareCrossing } from "../dist/standability/averageShare.js";
import { betaBinomialSample } from "../dist/standability/betaBinomialSample.js";
import { fitLodging } from "../dist/standability/fitLodging.js";
import { standabilityLimit } from "../dist/standability/standabilityLimit.js";

const [runs = 1000, resamples = 199, low = 0.03, high = 0.3] = process.argv.slice(2).map(Number);
const tolerated = 0.1;
const methods = ["bootstrap", "fieller", "profile"];
const plain = "binomial profile";

/** True when the interval holds the true limit; ends outside the tested range are open. */
function covers(interval, truth) {
  const pieces = interval.pieces ?? [interval];
  return pieces.some(({ lower, upper }) => (lower === null || lower <= truth) && (upper === null || truth <= upper));
}

console.log(`share ${low} -> ${high}, ${runs} runs a cell, ${resamples} resamples, block s.d. 0.3 on the logit`);
console.log(
  `| icc | plants | densities | blocks | ${methods.join(" | ")} | ${plain} | open (bootstrap) | separated | none |`,
);
console.log(`|${"---|".repeat(methods.length + 8)}`);
let stream = 0;
for (const icc of [0, 0.05, 0.1, 0.15]) {
  for (const plants of [20, 100]) {
    for (const densities of [4, 6]) {
      for (const blocks of [3, 6]) {
        const random = streamRandom(7, stream++);
        // Block levels at normal scores; the line through the two shares.
        const slope = (logit.link(high) - logit.link(low)) / 2;
        const centre = (logit.link(high) + logit.link(low)) / 2;
        const theta = Array.from({ length: blocks }, (_, b) => centre + 0.3 * normalQuantile((b + 0.5) / blocks));
        theta.push(slope);
        const truth = 30 + 10 * shareCrossing(theta, blocks, tolerated, logit);
        const plots = [];
        for (let b = 0; b < blocks; b++) {
          for (let k = 0; k < densities; k++) {
            const z = -1 + (2 * k) / (densities - 1);
            plots.push({ density: 30 + 10 * z, block: b, share: averageShare([theta[b], slope], 1, z, logit) });
          }
        }
        const input = {
          density: plots.map((p) => p.density),
          block: plots.map((p) => p.block),
          examined: plots.map(() => plants),
        };
        const hits = Object.fromEntries([...methods, plain].map((name) => [name, 0]));
        let [open, separated, none] = [0, 0, 0];
        for (let run = 0; run < runs; run++) {
          const lodged = plots.map((p) => betaBinomialSample(plants, p.share, icc, random));
          const fit = fitLodging({ ...input, lodged });
          if (fit.status === "none-lodged") none++;
          if (fit.status === "separation") separated++;
          for (const method of methods) {
            const { interval } = standabilityLimit(fit, { tolerated, method, resamples, seed: run });
            if (covers(interval, truth)) hits[method]++;
            if (method === "bootstrap" && (interval.lowerOpen || interval.upperOpen)) open++;
          }
          const naive = standabilityLimit(fitLodging({ ...input, lodged }, { dispersion: "binomial" }), {
            tolerated,
            method: "profile",
          });
          if (covers(naive.interval, truth)) hits[plain]++;
        }
        const percent = (count) => ((100 * count) / runs).toFixed(1);
        const cells = [...methods, plain].map((name) => percent(hits[name])).join(" | ");
        console.log(
          `| ${icc} | ${plants} | ${densities} | ${blocks} | ${cells} | ${percent(open)} | ${percent(separated)} | ${percent(none)} |`,
        );
      }
    }
  }
}
