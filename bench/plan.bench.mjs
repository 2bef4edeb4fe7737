/**
 * Simulated trials of 6 densities x 4 blocks: 10,000 with the whole analysis (five exact fits, AICc choice, envelope interval),
 * against the same decisions in R. The answers of R on the same plots are compared before anything is timed.
 * Also: the complete search for densities, and 1,000 layouts.
 */
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { streamRandom } from "../dist/core/random.js";
import { prepareData } from "../dist/fit/fitData.js";
import { joinResponse } from "../dist/numeric/joinDesign.js";
import { kernelFamilies } from "../dist/numeric/refitKernel.js";
import { chooseDensities } from "../dist/plan/chooseDensities.js";
import { drawPlots } from "../dist/plan/drawPlots.js";
import { trialDraw } from "../dist/plan/drawTrial.js";
import { layoutTrial } from "../dist/plan/layoutTrial.js";
import { plannedDesign } from "../dist/plan/plannedDesign.js";
import { simulatedAnswer } from "../dist/plan/simulatedAnswer.js";
import { trialPower } from "../dist/plan/trialPower.js";
import { median, processorTime, sameDigits, table } from "./tools.mjs";

const densities = [18, 23, 28, 33, 38, 43];
const blocks = 4;
const curve = { family: "quadratic-plateau", theta: [198, 0.1, 32], weight: 1 };
const mean = (x) => 198 - 0.1 * Math.max(32 - x, 0) ** 2;

export function plan({ simulations = 10_000, rTrials = 60 } = {}) {
  const planned = plannedDesign(densities, blocks);
  const answer = simulatedAnswer(planned.design, planned.plots, blocks, 0.95, 0);
  const trials = Array.from({ length: rTrials }, (_, i) =>
    drawPlots(planned, mean, 5, new Float64Array(1), streamRandom(40, i)),
  );
  const r = inR(trials);
  if (r) {
    trials.forEach((data, i) => {
      const prepared = prepareData(data);
      const { sums, total } = joinResponse(prepared.design, prepared.y);
      answer.fit(sums, total);
      sameDigits(total - Math.max(...answer.gain), r.least[i], 7, `least RSS of trial ${i}`);
      if (answer.isBounded() !== r.bounded[i])
        throw new Error(`trial ${i}: bounded here ${answer.isBounded()}, in R ${r.bounded[i]}`);
      // Where two families fit exactly alike either may be named.
      const behind = r.behind[i][answer.chosen()];
      if (!(behind < 1e-6))
        throw new Error(`trial ${i}: ${kernelFamilies[answer.chosen()]} is ${behind} AICc behind R's choice`);
    });
  }

  const timed = (run) => processorTime(run) / 1000;
  const repeat = (run) => median(Array.from({ length: 5 }, () => timed(run)));
  const { draw } = trialDraw(planned, [curve], 5);
  const sums = new Float64Array(densities.length);
  const quick = repeat(() => {
    const random = streamRandom(1, 0);
    for (let i = 0; i < simulations; i++) {
      answer.fit(sums, draw(0, random, sums));
      answer.chosen();
      answer.isBounded();
    }
  });
  const whole = repeat(() => trialPower({ densities, blocks, prior: { curves: [curve] }, sigma: 5, simulations }));
  const search = {
    prior: { optimum: [28, 36], lossBelow: { distance: 10, loss: [6, 12] }, bestYield: 200 },
    steps: { from: 16, to: 46, step: 2 },
    count: 6,
    sigma: 5,
  };
  const { searched } = chooseDensities(search);
  const chosen = repeat(() => chooseDensities(search));
  const layouts = repeat(() => {
    for (let seed = 0; seed < 1000; seed++)
      layoutTrial({
        hybrids: ["A", "B"],
        rates: [20, 26, 32, 38, 44],
        densityUnit: "1000 plants/ac",
        neighbours: "rates-differ",
        seed,
      });
  });
  const inRms = r ? (r.microseconds * simulations) / 1000 : null;
  const count = simulations.toLocaleString("en-US");
  const against = (ms) => (inRms === null ? "R not present" : `${(inRms / ms).toFixed(0)} x R`);
  const rows = [
    [
      `${count} trials drawn, five curves fitted, family chosen, interval bounded or not`,
      quick.toFixed(0),
      against(quick),
    ],
    [
      `${count} trials by trialPower: the same, the whole interval, width, coverage, regret`,
      whole.toFixed(0),
      `${against(whole)} (which stops at bounded or not)`,
    ],
    ...(r ? [[`R, the same ${count} trials, from ${rTrials}`, inRms.toFixed(0), r.version]] : []),
    [
      `chooseDensities: all ${searched.toLocaleString("en-US")} sets of 6 of 16 steps, 63 curves, finalists simulated`,
      chosen.toFixed(0),
      "",
    ],
    ["1,000 layouts of 40 plots, equal rates kept apart", layouts.toFixed(0), ""],
  ];
  return `## Planning\n\n6 densities x 4 blocks, milliseconds of processor time, median of 5 runs; choice, bound and residual sum of squares of R's trials compared first.\n\n${table(["what", "ms", "against"], rows)}`;
}

function inR(trials) {
  const folder = mkdtempSync(join(tmpdir(), "plan-"));
  try {
    const rows = trials.flatMap(({ density, block, yield: y }, t) =>
      density.map((x, i) => `${t},${x},${block[i]},${y[i]}`),
    );
    const file = join(folder, "trials.csv");
    writeFileSync(file, `trial,density,block,yield\n${rows.join("\n")}\n`);
    return JSON.parse(
      execFileSync("Rscript", [join(import.meta.dirname, "plan.R"), file], {
        encoding: "utf8",
        stdio: ["ignore", "pipe", "ignore"],
      }),
    );
  } catch (error) {
    if (error.code !== "ENOENT") throw error;
    return null;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}
