/** Reads a table in a process of its own, one way a run, and prints rows, time and peak memory as JSON. */
import { createReadStream, readFileSync } from "node:fs";

const [way, path] = process.argv.slice(2);
const bytes = () => createReadStream(path, { highWaterMark: 1 << 20 });
const ways = {
  // Header, columns, lines, quotes and problems: what a batch reads.
  async stream() {
    const { csvSource } = await import("../dist/node/csvSource.js");
    let rows = 0;
    for await (const batch of csvSource(bytes(), {}).batches) rows += batch.rows.length;
    return rows;
  },
  // The package's stream of arrays: cells only.
  async package() {
    const { parse } = await import("csv-parse");
    let rows = -1;
    const parser = bytes().pipe(parse({ relax_column_count: true, trim: true }));
    parser.on("data", () => rows++);
    await new Promise((resolve, reject) => parser.on("end", resolve).on("error", reject));
    return rows;
  },
  async whole() {
    const { readTrial } = await import("../dist/index.js");
    return readTrial(readFileSync(path, "utf8")).trial.plots.length;
  },
  async parquet() {
    const { parquetSource } = await import("../dist/node/parquetSource.js");
    let rows = 0;
    for await (const batch of (await parquetSource(path)).batches) rows += batch.rows.length;
    return rows;
  },
};
const start = performance.now();
const rows = await ways[way]();
const { userCPUTime, systemCPUTime, maxRSS } = process.resourceUsage();
console.log(
  JSON.stringify({
    rows,
    wall: (performance.now() - start) / 1000,
    cpu: (userCPUTime + systemCPUTime) / 1e6,
    peak: maxRSS / 1024,
  }),
);
