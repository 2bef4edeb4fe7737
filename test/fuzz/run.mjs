// Reads a million broken files and writes what came of it:  node test/fuzz/run.mjs [cases] [seed]   (build first; about half an hour)
// A case that fails is written to test/fuzz/failed-<seed>-<number>; move it to corpus/ once the fault is understood.
import { readFileSync, writeFileSync } from "node:fs";
import { availableParallelism } from "node:os";
import { isMainThread, parentPort, Worker, workerData } from "node:worker_threads";
import { fuzzLibrary, savedAnalyses } from "./library.mjs";
import { makeCase, tryCase } from "./tryCase.mjs";

const cases = Number(process.argv[2] ?? 1_000_000);
const seed = Number(process.argv[3] ?? 20_261_201);
const chunk = 1000;
/** No small file takes a thousandth of this; a chunk of work that makes no progress for so long hangs. */
const patience = 60_000;

if (isMainThread) await lead();
else await work();

async function work() {
  // Stack traces are a third of the cost of a quote that the parser refuses.
  Error.stackTraceLimit = 3;
  const library = await fuzzLibrary((path) => import(`../../dist/${path}.js`));
  const at = new Int32Array(workerData.shared);
  parentPort.on("message", ({ from, to }) => {
    const faults = [];
    for (let i = from; i < to; i++) {
      Atomics.store(at, 0, i);
      const fault = tryCase(library, seed, i, workerData.saved);
      if (fault !== null) faults.push({ ...fault, index: i });
    }
    parentPort.postMessage({ faults });
  });
}

async function lead() {
  const library = await fuzzLibrary((path) => import(`../../dist/${path}.js`));
  const demo = (name) =>
    readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8")
      .split("\n")
      .slice(0, 60)
      .join("\n");
  const saved = savedAnalyses(library, [demo("plots.csv"), demo("standing.csv")]);
  const counts = { crash: 0, hang: 0, silent: 0, wrong: 0 };
  const start = Date.now();
  let next = 0;
  let shown = 0;
  let done = 0;
  let stopped = false;
  // Ended early, a run says how many cases it did.
  for (const signal of ["SIGTERM", "SIGINT"])
    process.on(signal, () => {
      stopped = true;
    });
  const note = ({ kind, text, index }) => {
    counts[kind] += 1;
    if (counts[kind] > 20) return;
    console.error(`${kind} in case ${index}: ${text.slice(0, 600)}`);
    const { input } = makeCase(seed, index, saved);
    writeFileSync(new URL(`failed-${seed}-${index}`, import.meta.url), input);
  };
  const run = () =>
    new Promise((finish) => {
      let worker = null;
      let shared = null;
      let range = null;
      let seen = -1;
      const give = () => {
        if (next >= cases || stopped) {
          clearInterval(watch);
          worker.terminate().then(finish);
          return;
        }
        range = { from: next, to: Math.min(cases, next + chunk) };
        next = range.to;
        worker.postMessage(range);
      };
      const open = () => {
        shared = new SharedArrayBuffer(4);
        worker = new Worker(new URL(import.meta.url), { argv: [cases, seed], workerData: { shared, saved } });
        worker.on("message", ({ faults }) => {
          faults.forEach(note);
          done += range.to - range.from;
          if (next - shown >= 50_000) {
            shown = next;
            console.error(
              `${next} cases, ${Math.round(next / ((Date.now() - start) / 1000))} a second, ${JSON.stringify(counts)}`,
            );
          }
          give();
        });
        worker.on("error", (error) => {
          note({ kind: "crash", text: String(error.stack ?? error), index: new Int32Array(shared)[0] });
          after();
        });
      };
      // The rest of the chunk goes to a new worker.
      const after = () => {
        const at = new Int32Array(shared)[0];
        open();
        done += at + 1 - range.from;
        range = { from: at + 1, to: range.to };
        worker.postMessage(range);
      };
      const watch = setInterval(() => {
        const now = new Int32Array(shared)[0];
        if (now !== seen || range === null) {
          seen = now;
          return;
        }
        note({ kind: "hang", text: `no answer in ${patience / 1000} s`, index: now });
        worker.terminate();
        after();
      }, patience);
      open();
      give();
    });
  await Promise.all(Array.from({ length: availableParallelism() }, run));
  const { crash: crashes, hang: hangs, silent: silentRows, wrong } = counts;
  const seconds = Math.round((Date.now() - start) / 1000);
  const date = new Date().toISOString().slice(0, 10);
  const results = { cases: done, seed, seconds, crashes, hangs, silentRows, wrong, date };
  writeFileSync(new URL("results.json", import.meta.url), `${JSON.stringify(results, null, 2)}\n`);
  console.log(JSON.stringify(results));
  if (crashes + hangs + silentRows + wrong > 0) process.exitCode = 1;
}
