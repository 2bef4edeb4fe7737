/**
 * Bootstrap of a quadratic's vertex, 6 densities x 4 blocks without block effects, against R's package boot with the same
 * resample indices: answers are compared replicate by replicate before anything is timed. `node bench/bootstrap.bench.mjs` prints
 * the table; the benchmark runner can call `bootstrap()`.
 */
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { quantityInterval } from "../dist/derive/quantityInterval.js";
import { bootstrapCurves, streamRandom } from "../dist/index.js";
import { readDraws } from "../dist/interval/bootstrapJob.js";
import { givenDraws } from "../dist/interval/givenDraws.js";
import { prepareIntervalData } from "../dist/interval/intervalData.js";
import { vertexScalar } from "../dist/interval/scalar.js";
import { median, sameDigits, table } from "./tools.mjs";

function trial() {
  const random = streamRandom(21, 0);
  const density = [];
  const block = [];
  const yields = [];
  for (let b = 0; b < 4; b++) {
    for (let l = 0; l < 6; l++) {
      density.push(18 + 5 * l);
      block.push(b + 1);
      yields.push(198 - 0.1 * (33 - density[density.length - 1]) ** 2 + 4 * random.normal());
    }
  }
  return { density, yield: yields, block };
}

/** Microseconds of processor time a call. */
function timed(repeats, run) {
  const start = process.cpuUsage();
  for (let i = 0; i < repeats; i++) run();
  const { user, system } = process.cpuUsage(start);
  return (user + system) / repeats;
}

const us = (value) => (value < 10 ? value.toFixed(2) : value.toFixed(0));

export function bootstrap({ replicates = 4000 } = {}) {
  const { density, yield: yields } = trial();
  const data = { density, yield: yields };
  const prepared = prepareIntervalData(data);
  const folder = mkdtempSync(join(tmpdir(), "bootstrap-"));
  let r;
  try {
    writeFileSync(
      join(folder, "data.csv"),
      `density,yield\n${density.map((x, i) => `${x},${yields[i]}`).join("\n")}\n`,
    );
    r = JSON.parse(
      execFileSync(
        "Rscript",
        [join(import.meta.dirname, "bootstrap.R"), join(folder, "data.csv"), String(replicates)],
        {
          encoding: "utf8",
          maxBuffer: 2 ** 26,
          stdio: ["ignore", "pipe", "ignore"],
        },
      ),
    );
  } catch (error) {
    if (error.code !== "ENOENT") throw error;
    return "## Bootstrap against R\n\nR not present.";
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
  const rows = [];
  for (const [scheme, peer, what] of [
    ["case", r.cases, "plots drawn with replacement (layout changes)"],
    ["residual", r.residual, "residuals drawn with replacement"],
  ]) {
    const draws = () => givenDraws(prepared, ["quadratic"], scheme, peer.indices);
    readDraws(draws(), vertexScalar(prepared.design)).forEach((value, i) => {
      sameDigits(value, peer.t[i], 9, `${scheme} replicate ${i}`);
    });
    const own =
      scheme === "case"
        ? median(Array.from({ length: 7 }, () => timed(20, draws) / peer.indices.length))
        : median(
            Array.from(
              { length: 7 },
              () => timed(1, () => bootstrapCurves(data, { families: ["quadratic"], resamples: 100_000 })) / 100_000,
            ),
          );
    rows.push([what, us(own), us(peer.us), `${(peer.us / own).toFixed(0)} x`]);
  }
  const blocks = trial();
  const whole = median(
    Array.from(
      { length: 7 },
      () => timed(1, () => bootstrapCurves(blocks, { resamples: 100_000, between: [20, 40] })) / 100_000,
    ),
  );
  rows.push(["five families, choice, optimum and flex score, blocks", us(whole), "", ""]);
  const envelope = median(
    Array.from({ length: 7 }, () => timed(20, () => quantityInterval(blocks, { kind: "agronomic-optimum" }))),
  );
  rows.push(["one envelope interval of the optimum, 999 simulations of its cut-off", us(envelope), "", ""]);
  return `## Bootstrap against R boot\n\nVertex of a quadratic, 6 densities x 4 blocks, microseconds of processor time a replicate, median of 7 runs; ${r.cases.t.length} replicates of each scheme agree with R to 9 digits (${r.version}).\n\n${table(["what", "here", "R boot", "ratio"], rows)}`;
}

if (process.argv[1] === import.meta.filename) process.stdout.write(`${bootstrap()}\n`);
