/**
 * Share of lodged plants against density, 6 densities x 4 blocks and larger, against R glm (when Rscript is present). Slope, its error and
 * the deviance are compared before anything is timed.
 */
import { execFileSync } from "node:child_process";
import { mkdtempSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fitLodging, standabilityLimit, streamRandom } from "../dist/index.js";
import { full, median, processorTime, sameDigits, table } from "./tools.mjs";

/** The same invented counts in every run: 60 plants a plot, blocks that differ, plants of a plot alike. */
function counts(blocks) {
  const random = streamRandom(50, 0);
  const data = { density: [], lodged: [], examined: [], block: [] };
  for (let b = 0; b < blocks; b++) {
    const level = -6.5 + 0.4 * random.normal();
    for (let l = 0; l < 6; l++) {
      const density = 18 + 5 * l;
      const share = 1 / (1 + Math.exp(-(level + 0.14 * density + 0.3 * random.normal())));
      let lodged = 0;
      for (let i = 0; i < 60; i++) if (random.next() < share) lodged++;
      data.density.push(density);
      data.lodged.push(lodged);
      data.examined.push(60);
      data.block.push(b + 1);
    }
  }
  return data;
}

function inR(data, repeats) {
  const folder = mkdtempSync(join(tmpdir(), "lodging-"));
  try {
    const rows = data.density.map((x, i) => `${x},${data.lodged[i]},${data.examined[i]},${data.block[i]}`);
    const file = join(folder, "data.csv");
    writeFileSync(file, `density,lodged,examined,block\n${rows.join("\n")}\n`);
    return JSON.parse(
      execFileSync("Rscript", [join(import.meta.dirname, "lodging.R"), file, String(repeats)], { encoding: "utf8" }),
    );
  } catch (error) {
    if (error.code !== "ENOENT") throw error;
    return null;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

export function lodging({ sizes = full ? [4, 40, 400] : [4, 40] } = {}) {
  const rows = sizes.map((blocks) => {
    const data = counts(blocks);
    const fit = fitLodging(data, { dispersion: "quasi" });
    const r = inR(data, Math.ceil(400 / blocks));
    if (r !== null) {
      sameDigits(fit.coefficients.slope, r.slope, 9, "slope of R glm");
      sameDigits(fit.standardErrors.slope, r.error, 8, "error of the slope in R glm");
      sameDigits(fit.deviance, r.deviance, 9, "deviance of R glm");
    }
    const repeats = Math.ceil(400 / blocks);
    const us = median(
      Array.from(
        { length: 7 },
        () =>
          processorTime(() => {
            for (let i = 0; i < repeats; i++) fitLodging(data, { dispersion: "quasi" });
          }) / repeats,
      ),
    );
    return [
      `6 densities x ${blocks} blocks, logit, quasi-binomial`,
      String(data.density.length),
      us.toFixed(0),
      r === null ? "R not present" : `${r.us.toFixed(0)} (${(r.us / us).toFixed(1)} x)`,
    ];
  });
  const fit = fitLodging(counts(4));
  const limit = median(
    Array.from({ length: 5 }, () => processorTime(() => standabilityLimit(fit, { tolerated: 0.1 }))),
  );
  rows.push(["density at which 10 % lodge, with its interval", "24", limit.toFixed(0), ""]);
  return `## Lodging\n\nMicroseconds of processor time, median of 7 runs; slope, error and deviance agree with R glm to 8 digits first.\n\n${table(["what", "plots", "us", "R glm, us"], rows)}`;
}

if (process.argv[1] === import.meta.filename) process.stdout.write(`${lodging()}\n`);
