/**
 * REML fits of many hybrids over many environments against R lme4 (when Rscript is present), and the cost from 10 to 1,000
 * environments. Answers are compared before anything is timed.
 */
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { streamRandom } from "../dist/core/random.js";
import { fitMixedResponse } from "../dist/mixed/fitMixedResponse.js";
import { full, median, processorTime, sameDigits, table } from "./tools.mjs";

const densities = [20, 25, 30, 35, 40];

/** The same invented trials in every run: random level, slope, curvature, block, hybrid curve, hybrid in environment. */
export function trials({ hybrids, environments, blocks = 3, missing = 0, seed = 1 }) {
  const random = streamRandom(seed, 0);
  const data = { density: [], yield: [], environment: [], block: [], hybrid: [] };
  const own = Array.from({ length: hybrids }, () => [0.6, 0.25, 0.2].map((sd) => sd * random.normal()));
  for (let e = 0; e < environments; e++) {
    const level = 1.5 * random.normal();
    const slope = 0.4 * level + 0.4 * random.normal();
    const curvature = 0.3 * random.normal();
    const here = own.map(() => 0.3 * random.normal());
    for (let b = 0; b < blocks; b++) {
      const shift = 0.4 * random.normal();
      for (let h = 0; h < hybrids; h++) {
        for (const x of densities) {
          if (random.next() < missing) continue;
          const z = (x - 30) / 10;
          data.density.push(x);
          data.environment.push(`E${e}`);
          data.block.push(`B${b}`);
          data.hybrid.push(`H${h}`);
          data.yield.push(
            11 +
              level +
              shift +
              own[h][0] +
              here[h] +
              (0.5 + slope + own[h][1]) * z +
              (curvature + own[h][2] - 0.9) * z * z +
              0.5 * random.normal(),
          );
        }
      }
    }
  }
  return data;
}

function lme4(data, model) {
  const folder = mkdtempSync(join(tmpdir(), "mixed-"));
  try {
    const lines = data.density.map((x, i) =>
      [x, data.yield[i], data.environment[i], data.block[i], data.hybrid[i]].join(","),
    );
    writeFileSync(join(folder, "data.csv"), `density,yield,environment,block,hybrid\n${lines.join("\n")}\n`);
    const text = execFileSync("Rscript", [join(import.meta.dirname, "mixed.R"), join(folder, "data.csv"), model], {
      encoding: "utf8",
      stdio: ["ignore", "pipe", "ignore"],
    });
    return JSON.parse(text);
  } catch (error) {
    if (error.code === "ENOENT") return null;
    throw error;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

const milliseconds = (run) => processorTime(run) / 1000;

export function mixed({ repeats = 3, many = full ? [20, 40] : [6, 12] } = {}) {
  const [hybridCount, environmentCount] = many;
  const rows = [];
  for (const missing of [0, 0.1]) {
    const data = trials({ hybrids: hybridCount, environments: environmentCount, missing });
    for (const hybrids of ["curves", "random"]) {
      const fit = fitMixedResponse(data, { hybrids });
      const peer = lme4(data, hybrids);
      if (peer !== null) {
        // lme4 stops its search a little below the top, more so where a variance is nil: ours may be above it, not below.
        sameDigits(fit.logLikelihood, peer.logLikelihood, 6, `log-likelihood, ${hybrids}`);
        if (fit.logLikelihood < peer.logLikelihood - 1e-8 * Math.abs(peer.logLikelihood))
          throw new Error(`log-likelihood, ${hybrids}: ${fit.logLikelihood} is below lme4's ${peer.logLikelihood}`);
      }
      const ms = median(Array.from({ length: repeats }, () => milliseconds(() => fitMixedResponse(data, { hybrids }))));
      rows.push([
        `${hybridCount} hybrids (${hybrids}) x ${environmentCount} environments x 5 densities x 3 blocks${missing > 0 ? ", 10 % of plots missing" : ""}`,
        String(data.density.length),
        ms.toFixed(0),
        peer === null ? "R not present" : `${peer.milliseconds.toFixed(0)} (${(peer.milliseconds / ms).toFixed(1)} x)`,
      ]);
    }
  }
  const scaling = [];
  for (const environments of full ? [10, 30, 100, 300, 1000] : [10, 100, 300]) {
    const data = trials({ hybrids: 1, environments, missing: 0.1 });
    delete data.hybrid;
    const ms = median(Array.from({ length: repeats }, () => milliseconds(() => fitMixedResponse(data))));
    scaling.push([
      String(environments),
      String(data.density.length),
      ms.toFixed(1),
      ((1000 * ms) / data.density.length).toFixed(1),
    ]);
  }
  return [
    "## Mixed models",
    "",
    `REML with correlated random level, slope and curvature by environment, block, hybrid in environment; processor time, median of ${repeats} runs, log-likelihoods first: nowhere below lme4's by more than 1e-8 of it.`,
    "",
    table(["trials", "plots", "ms", "lme4, ms"], rows),
    "",
    "Cost by the number of environments, one hybrid, 5 densities x 3 blocks, 10 % of plots missing:",
    "",
    table(["environments", "plots", "ms", "us per plot"], scaling),
  ].join("\n");
}

if (process.argv[1] === import.meta.filename) console.log(mixed());
