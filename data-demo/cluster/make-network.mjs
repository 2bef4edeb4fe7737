// An invented network for trying out batch work: `node data-demo/cluster/make-network.mjs 1000 12 network.csv`. Nothing in it was
// measured anywhere. Every hybrid stands in every environment: 5 rates x 3 blocks, rows of a hybrid together.
import { closeSync, openSync, writeSync } from "node:fs";

const [hybrids = 8, environments = 3, path = "network.csv"] = process.argv.slice(2);
const rates = [20, 26, 32, 38, 44];

/** Mulberry32: a small seeded generator of uniform numbers. */
let state = 20311;
function uniform() {
  state = (state + 0x6d2b79f5) | 0;
  let t = Math.imul(state ^ (state >>> 15), 1 | state);
  t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
  return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
}

/** Nearly normal, mean 0 and SD 1, by additions only, so that every engine gives the same digits. */
function normal() {
  let sum = -6;
  for (let i = 0; i < 12; i++) sum += uniform();
  return sum;
}

const file = openSync(path, "w");
writeSync(file, "hybrid,site,year,block,plot,seeding_rate_k_ac,yield_bu_ac\n");
let plot = 0;
for (let h = 1; h <= Number(hybrids); h++) {
  let rows = "";
  const top = 205 + 12 * normal();
  const best = 33 + 3 * normal();
  const bend = 0.05 + 0.03 * uniform();
  for (let e = 0; e < Number(environments); e++) {
    const place = 12 * normal();
    for (let block = 1; block <= 3; block++) {
      const ground = 3 * normal();
      for (const rate of rates) {
        const grain = top + place + ground - bend * (rate - best) ** 2 + 6 * normal();
        rows += `Invented ${h},Site ${e % 6},${2030 + Math.floor(e / 6)},${block},${++plot},${rate},${grain.toFixed(1)}\n`;
      }
    }
  }
  writeSync(file, rows);
}
closeSync(file);
