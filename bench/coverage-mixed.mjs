// Coverage of the 95 % intervals of the pooled optimum and of the optimum at a yield goal, and what shrinking hybrid curves
// gains, with the truth known. Run after `npm run build`: node bench/coverage-mixed.mjs [runs per cell]
// Prints Markdown; Monte-Carlo standard error 0.7 points at 1000 runs.
import { streamRandom } from "../dist/core/random.js";
import { fitMixedResponse } from "../dist/mixed/fitMixedResponse.js";
import { mixedOptimum } from "../dist/mixed/mixedOptimum.js";
import { responseAtYieldGoal } from "../dist/mixed/responseAtYieldGoal.js";
import { shrinkHybridCurves } from "../dist/mixed/shrinkHybridCurves.js";

const runs = Number(process.argv[2] ?? 1000);
const densities = [20, 25, 30, 35, 40];
const beta = [9, 0.5, -0.9];

/** Environments with correlated level and slope, 3 blocks each. */
function trial(random, environments, { sdSlope, sdCurvature, correlation }) {
  const data = { density: [], yield: [], environment: [], block: [] };
  for (let e = 0; e < environments; e++) {
    const first = random.normal();
    const level = 1.5 * first;
    const slope = sdSlope * (correlation * first + Math.sqrt(1 - correlation ** 2) * random.normal());
    const curvature = sdCurvature * random.normal();
    for (let b = 0; b < 3; b++) {
      const shift = 0.4 * random.normal();
      for (const x of densities) {
        const z = (x - 30) / 10;
        data.density.push(x);
        data.environment.push(e);
        data.block.push(b);
        data.yield.push(
          beta[0] + level + shift + (beta[1] + slope) * z + (beta[2] + curvature) * z * z + 0.5 * random.normal(),
        );
      }
    }
  }
  return data;
}

/** True when the set holds the truth; ends outside the tested range are open. */
function covers(interval, truth) {
  return (interval.pieces ?? [interval]).some(
    ({ lower, upper }) => (lower === null || lower <= truth) && (upper === null || truth <= upper),
  );
}

console.log(
  `### Coverage, ${runs} runs a cell (percent; in brackets: share of intervals open at an end of the tested range)\n`,
);
const goals = [0, 1, 2];
console.log(
  `| slope s.d. | curvature s.d. | correlation | environments | pooled | ${goals.map((g) => `goal = mean + ${g}`).join(" | ")} | reduced or singular |`,
);
console.log(`|${"---|".repeat(6 + goals.length)}`);
for (const cell of [
  { sdSlope: 0.4, sdCurvature: 0.15, correlation: 0.5 },
  { sdSlope: 0.4, sdCurvature: 0.3, correlation: 0.8 },
  { sdSlope: 0.4, sdCurvature: 0.15, correlation: 0 },
]) {
  for (const environments of [5, 8, 12, 20]) {
    const hit = new Array(1 + goals.length).fill(0);
    const open = new Array(1 + goals.length).fill(0);
    let reduced = 0;
    for (let run = 1; run <= runs; run++) {
      const fit = fitMixedResponse(trial(streamRandom(run, environments), environments, cell));
      if (fit.status !== "converged") reduced++;
      const note = (at, interval, truth) => {
        if (covers(interval, truth)) hit[at]++;
        if (interval.lowerOpen || interval.upperOpen) open[at]++;
      };
      note(0, mixedOptimum(fit).agronomic.interval, 30 - (10 * beta[1]) / (2 * beta[2]));
      goals.forEach((goal, i) => {
        // Reference density z = 0: slope given level = slope + cov / var (goal - level).
        const slope = beta[1] + ((cell.correlation * cell.sdSlope) / 1.5) * goal;
        const answer = responseAtYieldGoal(fit, { yieldGoal: beta[0] + goal, referenceDensity: 30, extrapolate: true });
        note(i + 1, answer.agronomic.interval, 30 - (10 * slope) / (2 * beta[2]));
      });
    }
    const cells = hit.map((h, i) => `${((100 * h) / runs).toFixed(1)} (${((100 * open[i]) / runs).toFixed(0)})`);
    console.log(
      `| ${cell.sdSlope} | ${cell.sdCurvature} | ${cell.correlation} | ${environments} | ${cells.join(" | ")} | ${((100 * reduced) / runs).toFixed(0)} |`,
    );
  }
}

console.log("\n### Gain of shrinking hybrid curves: mean squared error of predicted yield over the tested range\n");
console.log("| hybrids | environments each | spread of levels | raw curve of each | shrunken | ratio |");
console.log("|---|---|---|---|---|---|");
for (const spread of [0.3, 0.6, 1.2]) {
  for (const grown of [2, 4, 8]) {
    let raw = 0;
    let shrunken = 0;
    let count = 0;
    for (let run = 1; run <= Math.max(20, Math.round(runs / 10)); run++) {
      const random = streamRandom(run, 1000 + grown);
      const hybrids = 12;
      const truth = Array.from({ length: hybrids }, () => [
        spread * random.normal(),
        0.4 * spread * random.normal(),
        0.2 * spread * random.normal(),
      ]);
      const data = { density: [], yield: [], environment: [], block: [], hybrid: [] };
      for (let e = 0; e < 10; e++) {
        const level = 1.5 * random.normal();
        const tilt = 0.3 * random.normal();
        for (let h = 0; h < hybrids; h++) {
          if ((e + h) % 10 >= grown) continue;
          const here = 0.3 * random.normal();
          for (let b = 0; b < 2; b++) {
            for (const x of densities) {
              const z = (x - 30) / 10;
              data.density.push(x);
              data.environment.push(e);
              data.block.push(b);
              data.hybrid.push(`H${h}`);
              data.yield.push(
                9 +
                  level +
                  here +
                  truth[h][0] +
                  (0.5 + tilt + truth[h][1]) * z +
                  (truth[h][2] - 0.9) * z * z +
                  0.6 * random.normal(),
              );
            }
          }
        }
      }
      const result = shrinkHybridCurves(data);
      const { centre, scale } = result.fit.scaling;
      // Curves relative to the average of all, so that the shared environment level does not enter.
      const yields = (curve, x) => {
        const z = (x - centre) / scale;
        return curve[0] + curve[1] * z + curve[2] * z * z;
      };
      for (const x of densities) {
        const mean = (of) => result.hybrids.reduce((sum, one) => sum + yields(of(one), x), 0) / hybrids;
        const meanRaw = mean((one) => one.raw.coefficients);
        const meanShrunken = mean((one) => one.shrunken.coefficients);
        const z = (x - 30) / 10;
        const true_ = truth.map((t) => t[0] + t[1] * z + t[2] * z * z);
        const meanTrue = true_.reduce((sum, v) => sum + v, 0) / hybrids;
        for (const one of result.hybrids) {
          const t = true_[Number(one.hybrid.slice(1))] - meanTrue;
          raw += (yields(one.raw.coefficients, x) - meanRaw - t) ** 2;
          shrunken += (yields(one.shrunken.coefficients, x) - meanShrunken - t) ** 2;
          count++;
        }
      }
    }
    console.log(
      `| 12 | ${grown} | ${spread} | ${(raw / count).toFixed(4)} | ${(shrunken / count).toFixed(4)} | ${(shrunken / raw).toFixed(2)} |`,
    );
  }
}

const joinRuns = Math.max(100, Math.round((2 * runs) / 3));
console.log(
  `\n### Join of a plateau curve, random levels, ${joinRuns} runs a cell (percent that hold the true join)\n`,
);
console.log("| curve | environments | profile (used) | Wald (for comparison) | open |");
console.log("|---|---|---|---|---|");
for (const [curve, power, join, rise] of [
  ["linear-plateau", 1, 31, 0.25],
  ["quadratic-plateau", 2, 36, 0.012],
]) {
  for (const environments of [4, 8, 16]) {
    let profile = 0;
    let wald = 0;
    let open = 0;
    for (let run = 0; run < joinRuns; run++) {
      const random = streamRandom(run, environments);
      const data = { density: [], yield: [], environment: [], block: [] };
      for (let e = 0; e < environments; e++) {
        const level = 1.5 * random.normal();
        for (let b = 0; b < 3; b++) {
          const shift = 0.4 * random.normal();
          for (const x of [18, 23, 28, 33, 38, 43]) {
            data.density.push(x);
            data.environment.push(e);
            data.block.push(b);
            data.yield.push(12 + level + shift - rise * Math.max(join - x, 0) ** power + 0.8 * random.normal());
          }
        }
      }
      const fit = fitMixedResponse(data, { curve });
      const { interval } = mixedOptimum(fit).agronomic;
      if (covers(interval, join)) profile++;
      if (interval.lowerOpen || interval.upperOpen) open++;
      const error = fit.standardErrors.join;
      if (error !== undefined && Math.abs(fit.join - join) <= 1.97 * error) wald++;
    }
    const percent = (count) => ((100 * count) / joinRuns).toFixed(1);
    console.log(`| ${curve} | ${environments} | ${percent(profile)} | ${percent(wald)} | ${percent(open)} |`);
  }
}
