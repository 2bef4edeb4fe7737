/** Runs `standcurve` in a process of its own and prints its time and peak memory as JSON: node bench/scaleRun.mjs batch FILE … */
import { runCommand } from "../dist/node/index.js";

const start = performance.now();
const code = await runCommand(process.argv.slice(2), { stdout: process.stdout, stderr: { write: () => true } });
const { userCPUTime, systemCPUTime, maxRSS } = process.resourceUsage();
process.stderr.write(
  JSON.stringify({
    code,
    wall: (performance.now() - start) / 1000,
    cpu: (userCPUTime + systemCPUTime) / 1e6,
    peak: maxRSS / 1024,
  }),
);
