/**
 * Many groups: time, memory and growth of `standcurve batch`, from CSV to JSON lines, and of reading alone. Answers first: results of two
 * workers are those of none, byte for byte, and the quadratic's residual sum and coefficient are R's.
 * Short in `npm run bench`; with STANDCURVE_BENCH=full 1,000 hybrids in 12 environments. `node bench/scale.bench.mjs` runs it alone.
 */
import { execFileSync, spawnSync } from "node:child_process";
import { mkdtempSync, readFileSync, rmSync, statSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { full, sameDigits, table } from "./tools.mjs";

const here = import.meta.dirname;

export function scale() {
  const folder = mkdtempSync(join(tmpdir(), "standcurve-bench-"));
  try {
    return sections(folder);
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function sections(folder) {
  const at = (name) => join(folder, name);
  const network = (hybrids, environments) => {
    const path = at(`n${hybrids}x${environments}.csv`);
    execFileSync(process.execPath, [join(here, "../data-demo/cluster/make-network.mjs"), hybrids, environments, path]);
    return path;
  };
  const batch = (path, argv = []) => {
    const out = at("out.jsonl");
    rmSync(out, { force: true });
    const prices = ["--grain-price", "4.5", "--seed-cost", "3.75", "--between", "24,40"];
    const run = spawnSync(
      process.execPath,
      [join(here, "scaleRun.mjs"), "batch", path, "--out", out, ...prices, ...argv],
      {
        encoding: "utf8",
      },
    );
    const found = JSON.parse(run.stderr);
    if (found.code !== 0) throw new Error(`batch ended with ${found.code}`);
    return { ...found, out };
  };
  const figures = ({ wall, cpu, peak }) => [wall.toFixed(2), cpu.toFixed(2), peak.toFixed(0)];

  // Answers.
  const small = network(6, 12);
  const serial = readFileSync(batch(small, ["--workers", "0"]).out, "utf8");
  if (readFileSync(batch(small, ["--workers", "2"]).out, "utf8") !== serial)
    throw new Error("two workers differ from none");
  const peer = rPeer(small, serial, full ? 12 : 6);

  // The job.
  const [few, hybrids] = full ? [100, 1000] : [8, 32];
  const timed = (count) => {
    const path = network(count, 12);
    return [0, 1, 2].map((workers) => ({ workers, ...batch(path, ["--workers", String(workers)]) }));
  };
  const short = timed(few);
  const runs = timed(hybrids);
  const [, one, two] = runs;
  // Starting and compiling is in both sizes; what the larger one took more is the work itself.
  const more = (name, workers) => runs[workers][name] - short[workers][name];
  const size = statSync(runs[0].out).size / 1e6;

  // Growth, without threads, so that CPU time is that of the work.
  const ladder = full ? [10, 100, 1000] : [5, 50];
  const grown = ladder.map((count) => ({
    count,
    ...batch(network(count, 12), ["--workers", "0", "--resamples", "0", "--pooled-only"]),
  }));
  const plots = (full ? [1, 4, 16] : [1, 16]).map((environments) => ({
    environments,
    ...batch(network(10, environments), ["--workers", "0", "--pooled-only"]),
  }));
  const replicates = (full ? [0, 1000, 4000, 16000] : [0, 8000]).map((resamples) => ({
    resamples,
    ...batch(network(10, 4), ["--workers", "0", "--pooled-only", "--resamples", String(resamples)]),
  }));

  return [
    "## Scale: many groups",
    "",
    `\`standcurve batch\`, CSV to JSON lines, 5 rates x 3 blocks in each environment, 2,000 replicates a curve, prices given; each run in a process of its own. "CPU" is user + system time of all threads, which other load changes less than the clock; "peak" the largest resident memory of the whole process, MB.`,
    "",
    `### ${hybrids.toLocaleString("en")} hybrids x 12 environments: ${(hybrids * 180).toLocaleString("en")} plots, ${(hybrids * 13).toLocaleString("en")} curves`,
    "",
    table(
      [
        "workers",
        "wall s",
        "CPU s",
        "peak MB",
        "ms CPU a curve",
        `CPU s of the first ${few} hybrids`,
        "ms CPU a curve after these",
      ],
      runs.map((run, workers) => [
        run.workers,
        ...figures(run),
        ((1000 * run.cpu) / (hybrids * 13)).toFixed(2),
        short[workers].cpu.toFixed(2),
        ((1000 * more("cpu", workers)) / ((hybrids - few) * 13)).toFixed(2),
      ]),
    ),
    "",
    `Two workers against one: ${(one.wall / two.wall).toFixed(2)} times as fast, after the first ${few} hybrids ${(more("wall", 1) / more("wall", 2)).toFixed(2)} times (wall time: other load counts). Results: ${size.toFixed(1)} MB of JSON lines, the same bytes with any number of workers.`,
    "",
    peer,
    "",
    "### Growth",
    "",
    table(
      ["hybrids (pooled curve only, no replicates)", "wall s", "CPU s", "peak MB", "ms CPU a hybrid"],
      grown.map((run) => [run.count, ...figures(run), ((1000 * run.cpu) / run.count).toFixed(1)]),
    ),
    "",
    table(
      ["plots a hybrid (10 hybrids, pooled curve, 2,000 replicates)", "wall s", "CPU s", "peak MB"],
      plots.map((run) => [15 * run.environments, ...figures(run)]),
    ),
    "",
    table(
      ["replicates (10 hybrids of 60 plots, pooled curve)", "wall s", "CPU s", "peak MB"],
      replicates.map((run) => [run.resamples, ...figures(run)]),
    ),
    "",
    readingSection(at),
  ].join("\n");
}

function readingSection(at) {
  const path = at("long.csv");
  const wanted = full ? 100e6 : 10e6;
  const rows = [];
  const header = "hybrid,site,year,block,plot,seeding_rate_k_ac,stand_k_ac,yield_bu_ac,moisture_pct\n";
  for (let i = 0; i < 20000; i++) {
    rows.push(
      `Invented ${Math.floor(i / 180)},Site ${i % 6},2031,${(i % 3) + 1},P${i},${20 + 6 * (i % 5)},${19 + 6 * (i % 5)}.5,${180 + (i % 50)}.${i % 10},15.${i % 10}\n`,
    );
  }
  const block = rows.join("");
  const times = Math.ceil(wanted / block.length);
  writeFileSync(path, header);
  for (let i = 0; i < times; i++) writeFileSync(path, block, { flag: "a" });
  const read = (way) =>
    JSON.parse(
      execFileSync(process.execPath, ["--max-old-space-size=6000", join(here, "scaleRead.mjs"), way, path], {
        encoding: "utf8",
      }),
    );
  const found = [
    ["batch: cells, lines, columns, problems", read("stream")],
    ["csv-parse stream of arrays: cells only", read("package")],
    ...(full ? [] : [["readTrial of the whole text (plots, units, all checks)", read("whole")]]),
  ];
  if (found[0][1].rows !== found[1][1].rows) throw new Error("the readers differ in rows");
  const megabytes = statSync(path).size / 1e6;
  return [
    `### Reading ${megabytes.toFixed(0)} MB of CSV, ${found[0][1].rows.toLocaleString("en")} rows x 9 columns`,
    "",
    table(
      ["reader", "wall s", "CPU s", "peak MB", "MB/s of CPU"],
      found.map(([name, { wall, cpu, peak }]) => [
        name,
        wall.toFixed(2),
        cpu.toFixed(2),
        peak.toFixed(0),
        (megabytes / cpu).toFixed(0),
      ]),
    ),
  ].join("\n");
}

/** The same curves by R: residual sum and coefficient must agree before times are set side by side. */
function rPeer(path, lines, groups) {
  if (spawnSync("Rscript", ["--version"]).status !== 0) return "R is not installed here, so there is no peer.";
  const replicates = 2000;
  const peer = JSON.parse(
    execFileSync("Rscript", [join(here, "scale.R"), path, groups, replicates], { encoding: "utf8" }),
  );
  const curves = new Map(
    lines
      .trimEnd()
      .split("\n")
      .flatMap((line) => JSON.parse(line).analysis.hybrids[0].environments)
      .map((curve) => [`${curve.hybrid}|${curve.environment.replace(/ (\d{4})$/, "|$1")}`, curve]),
  );
  peer.keys.forEach((key, i) => {
    const fit = curves.get(key).comparison.fits.find(({ family }) => family === "quadratic");
    // Twelve digits are printed; R's QR and the centred solution here share ten and more.
    sameDigits(fit.rss, peer.rss[i], 9, `${key} RSS`);
    sameDigits(fit.coefficients.quadratic, peer.quadratic[i], 9, `${key} coefficient`);
  });
  return `R (${peer.version}): lm.fit and boot of the quadratic alone, ${replicates} replicates: ${((1000 * peer.seconds) / groups).toFixed(0)} ms a curve (processor time); its residual sums and coefficients are ours to 9 digits on ${groups} curves. Here a curve is five families, the choice, two simulated cut-offs, replicates, optima and flex scores.`;
}

if (process.argv[1] === import.meta.filename) process.stdout.write(`${scale()}\n`);
