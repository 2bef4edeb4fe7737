/**
 * Exact fit and bootstrap refit of the quadratic-plateau, 6 densities x 4 blocks, against (a) the Levenberg-Marquardt package
 * alone, well started, with its Jacobian, (b) R nls + boot, (c) the same
 * replicates in C and (d) SciPy's curve_fit, each when present. Answers are compared before anything
 * is timed.
 */
import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { levenbergMarquardt } from "ml-levenberg-marquardt";
import { fitPrepared } from "../dist/fit/fitCurve.js";
import { fitRows } from "../dist/fit/leverage.js";
import { bootstrapCurves, bootstrapStreamCount, bootstrapStreams, fitCurve, streamRandom } from "../dist/index.js";
import { prepareIntervalData } from "../dist/interval/intervalData.js";
import { layoutOf } from "../dist/interval/layout.js";
import { residualPool } from "../dist/interval/sampler.js";
import { joinResponse } from "../dist/numeric/joinDesign.js";
import { full, median, processorTime, sameDigits, table } from "./tools.mjs";

const family = "quadratic-plateau";

/** The same invented trial in every run, so that two commits compare. */
function trial() {
  const random = streamRandom(20, 0);
  const density = [];
  const block = [];
  const yields = [];
  for (let b = 0; b < 4; b++) {
    for (let l = 0; l < 6; l++) {
      const x = 18 + 5 * l;
      density.push(x);
      block.push(b + 1);
      yields.push(198 - 0.1 * Math.max(34 - x, 0) ** 2 + 2 * b + 4 * random.normal());
    }
  }
  return { density, yield: yields, block };
}

function packageFit(data, start) {
  const f = ([p, g1, g2, g3, k, j]) => {
    const effect = [g1, g2, g3, -g1 - g2 - g3];
    return (i) => p + effect[data.block[i] - 1] - k * Math.max(j - data.density[i], 0) ** 2;
  };
  const jacobianFunction =
    ([, , , , k, j]) =>
    (i) => {
      const below = Math.max(j - data.density[i], 0);
      const b = data.block[i] - 1;
      const effect = b === 3 ? [-1, -1, -1] : [0, 1, 2].map((c) => (c === b ? 1 : 0));
      return [1, ...effect, -below * below, -2 * k * below];
    };
  const x = data.density.map((_, i) => i);
  return levenbergMarquardt({ x, y: data.yield }, f, {
    initialValues: start,
    jacobianFunction,
    maxIterations: 100,
    damping: 0.01,
  });
}

/** What bench/refit.c needs, one number after another: the trial with everything that the draws do not change. */
function inputOfC(data, replicates) {
  const prepared = prepareIntervalData(data);
  const { design, weight } = prepared;
  const rows = fitRows(prepared, fitPrepared(family, prepared));
  const fitted = joinResponse(design, rows.fitted);
  const curve = new Float64Array(design.levels.length);
  design.level.forEach((l, i) => {
    curve[l] = 2 * rows.curve[i];
  });
  const { share, meanU } = layoutOf(design);
  const slope = design.uv / design.uu;
  return [
    [design.nobs, curve.length, design.blocks, replicates, 1],
    design.level,
    design.blockWeight.map((_, b) => design.block.lastIndexOf(b) + 1),
    residualPool(rows, weight),
    design.blockWeight,
    design.levelWeight,
    fitted.sums,
    curve,
    design.scaled,
    share,
    design.quadratic,
    design.floor,
    [
      fitted.total,
      fitted.blockMean.reduce((a, b) => a + b) / design.blocks,
      1 / design.uu,
      slope,
      1 / (design.vv - slope * design.uv),
      meanU,
      design.base,
    ],
  ]
    .map((list) => Array.from(list).join(" "))
    .join("\n");
}

/** The same replicates in C: compared one by one, then timed in turn. Null when there is no compiler. */
function againstC(data, folder, replicates, turns = 9) {
  const program = join(folder, "refit");
  const source = join(import.meta.dirname, "refit.c");
  const compiled = spawnSync("gcc", ["-O2", "-o", program, source, "-lm"], { encoding: "utf8" });
  if (compiled.error) return null;
  if (compiled.status !== 0) throw new Error(`refit.c does not compile: ${compiled.stderr}`);
  writeFileSync(join(folder, "input"), inputOfC(data, replicates));
  const runC = () =>
    JSON.parse(execFileSync(program, [join(folder, "input"), join(folder, "output")], { encoding: "utf8" }));
  const options = { families: [family], seed: 1, resamples: replicates };

  const inC = runC();
  const bytes = readFileSync(join(folder, "output"));
  const lines = new Float64Array(bytes.buffer, bytes.byteOffset, bytes.length / 8);
  const { draws } = bootstrapStreams(data, options, 0, bootstrapStreamCount(options));
  draws.a.forEach((_, i) => {
    ["family", "a", "b", "c", "rss"].forEach((name, column) => {
      const expected = lines[5 * i + column];
      if (draws[name][i] !== expected) sameDigits(draws[name][i], expected, 9, `${name} of replicate ${i} in C`);
    });
  });
  const { low, span } = prepareIntervalData(data).design;
  const { agronomic } = bootstrapCurves(data, options);
  for (const [name, value] of [
    ["lower", agronomic.interval.lower],
    ["median", agronomic.median],
    ["upper", agronomic.interval.upper],
  ]) {
    sameDigits(value, low + span * inC[name], 9, `${name} of the optimum in C`);
  }

  const here = [];
  const there = [];
  // Each turn is the best of three runs, on both sides.
  for (let i = 0; i < turns; i++) {
    here.push(Math.min(...[0, 1, 2].map(() => processorTime(() => bootstrapCurves(data, options)) / replicates)));
    there.push(runC().us);
  }
  return {
    here: median(here),
    c: median(there),
    ratio: median(here.map((time, i) => time / there[i])),
    least: Math.min(...here) / Math.min(...there),
  };
}

/** SciPy's curve_fit on the same plots; null when it is not installed. */
function inScipy(data, folder, start) {
  const file = join(folder, "data.json");
  const [plateau, g1, g2, g3, curvature, at] = start;
  const levels = [g1, g2, g3, -g1 - g2 - g3].map((effect) => plateau + effect);
  writeFileSync(file, JSON.stringify({ ...data, start: [...levels, curvature, at] }));
  const run = spawnSync("python3", [join(import.meta.dirname, "refit.py"), file, "200"], { encoding: "utf8" });
  if (run.error || /No module named/.test(run.stderr)) return null;
  if (run.status !== 0) throw new Error(`refit.py: ${run.stderr}`);
  return JSON.parse(run.stdout);
}

/** Microseconds a call. */
const timed = (repeats, run) =>
  processorTime(() => {
    for (let i = 0; i < repeats; i++) run();
  }) / repeats;

/** Replicates of trials in which every plot has its own density. */
function growth() {
  return [24, 96, 384, 1536].map((plots) => {
    const random = streamRandom(22, 0);
    const density = Array.from({ length: plots }, () => 18 + 25 * random.next());
    const yields = density.map((x) => 198 - 0.1 * Math.max(34 - x, 0) ** 2 + 4 * random.normal());
    const resamples = Math.ceil((full ? 2_000_000 : 400_000) / plots);
    const data = { density, yield: yields };
    const time = median(
      Array.from({ length: 5 }, () => processorTime(() => bootstrapCurves(data, { resamples })) / resamples),
    );
    return [String(plots), time.toFixed(2), ((1000 * time) / plots).toFixed(0)];
  });
}

export function refit({ replicates = full ? 200_000 : 50_000, rReplicates = full ? 400 : 100 } = {}) {
  const data = trial();
  const fit = fitCurve(family, data);
  const effects = fit.blockEffects.map((b) => b.effect);
  const { plateau, curvature, join: at } = fit.coefficients;
  // The package starts 3 % off the answer: a start a profile over the join would give.
  const start = [plateau, ...effects.slice(0, 3), curvature * 1.03, at * 0.97];
  const loose = packageFit(data, start);
  // Good to 4 digits only: the package's stopping rule is an absolute error that noisy data never reach.
  sameDigits(loose.parameterError, fit.rss, 4, "RSS of the Levenberg-Marquardt package");

  const folder = mkdtempSync(join(tmpdir(), "refit-"));
  let r = null;
  let inC = null;
  let scipy = null;
  try {
    scipy = inScipy(data, folder, start);
    if (scipy) {
      sameDigits(scipy.rss, fit.rss, 9, "RSS of SciPy");
      sameDigits(scipy.join, at, 5, "join of SciPy");
    }
    inC = againstC(data, folder, replicates);
    const rows = data.density.map((x, i) => `${x},${data.block[i]},${data.yield[i]}`);
    writeFileSync(join(folder, "data.csv"), `density,block,yield\n${rows.join("\n")}\n`);
    r = JSON.parse(
      execFileSync("Rscript", [join(import.meta.dirname, "refit.R"), join(folder, "data.csv"), String(rReplicates)], {
        encoding: "utf8",
        stdio: ["ignore", "pipe", "ignore"],
      }),
    );
    sameDigits(r.rss, fit.rss, 9, "RSS of R nls");
    sameDigits(r.join, at, 5, "join of R nls");
  } catch (error) {
    if (error.code !== "ENOENT") throw error;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }

  const repeat = (n, run) => median(Array.from({ length: 7 }, () => run(n)));
  const exact = repeat(3000, (n) => timed(n, () => fitCurve(family, data)));
  const one = repeat(
    replicates,
    (n) => timed(1, () => bootstrapCurves(data, { families: [family], seed: 1, resamples: n })) / n,
  );
  const all = repeat(replicates, (n) => timed(1, () => bootstrapCurves(data, { seed: 1, resamples: n })) / n);
  const loosely = repeat(20, (n) => timed(n, () => packageFit(data, start)));
  const us = (value) => (value < 10 ? value.toFixed(3) : value.toFixed(1));
  const rows = [
    [
      "exact fit of the public function, checks and standard errors included",
      us(exact),
      r ? `${(r.fitMicroseconds / exact).toFixed(0)} x R nls` : "R not present",
    ],
    [
      "one bootstrap replicate, quadratic-plateau alone",
      us(one),
      r ? `${(r.replicateMicroseconds / one).toFixed(0)} x R` : "",
    ],
    [
      "one bootstrap replicate, five families and the choice among them",
      us(all),
      r ? `${(r.replicateMicroseconds / all).toFixed(0)} x R (which refits one family)` : "",
    ],
    [
      "Levenberg-Marquardt package alone, 100 iterations, well started",
      us(loosely),
      `${(loosely / one).toFixed(0)} x slower than a replicate here`,
    ],
  ];
  if (inC) {
    rows.push([
      "one bootstrap replicate, quadratic-plateau alone, again, in turn with C",
      us(inC.here),
      `${inC.ratio.toFixed(2)} x C (least times: ${inC.least.toFixed(2)})`,
    ]);
    rows.push(["the same in C, gcc -O2 (bench/refit.c)", us(inC.c), "same replicates to 9 digits"]);
  }
  if (scipy)
    rows.push([
      `SciPy ${scipy.version} curve_fit, one fit, well started`,
      us(scipy.us),
      `${(scipy.us / exact).toFixed(0)} x slower than the fit here`,
    ]);
  if (r) {
    rows.push(["R nls, one fit, well started", us(r.fitMicroseconds), r.version]);
    rows.push([
      "R nls + boot, one replicate",
      us(r.replicateMicroseconds),
      `${r.failed} of ${r.replicates} replicates failed`,
    ]);
  }
  const grown = growth();
  return `## Fit and bootstrap refit\n\nQuadratic-plateau, 6 densities x 4 blocks, microseconds of processor time (all threads; R, SciPy and C their own), median of 7 runs; answers compared first.\n\n${table(["what", "us", "against"], rows)}\n\nEvery plot with a density of its own (harvest-time stands), no blocks, five families and the choice: the cost of a replicate is linear in the plots.\n\n${table(["plots", "us a replicate", "ns a plot"], grown)}`;
}

if (process.argv[1] === import.meta.filename) process.stdout.write(`${refit()}\n`);
