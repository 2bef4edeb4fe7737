import { spawn, spawnSync } from "node:child_process";
import { existsSync, readdirSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { setTimeout as wait } from "node:timers/promises";
import { describe, expect, test } from "vitest";
import { networkCsv } from "../batch/networkRows.ts";
import { inFolder } from "./runInProcess.ts";

const program = new URL("../../dist/node/main.js", import.meta.url).pathname;
const cluster = (name: string): string => new URL(`../../data-demo/cluster/${name}`, import.meta.url).pathname;
const slow = process.env.STANDCURVE_SLOW === "1" && existsSync(program);
const has = (command: string, ...argv: string[]): boolean =>
  slow && spawnSync(command, argv, { stdio: "ignore" }).status === 0;
const python = "/usr/bin/python3";

const SHARDS = 4;
const options = ["--resamples", "4000"];

interface Setting {
  readonly at: (name: string) => string;
  readonly env: NodeJS.ProcessEnv;
  /** Process ids of the runs so far, by shard. */
  readonly started: (shard: number) => number[];
}

/** A network, its results from one thread, and a program that notes its process id before it becomes the real one. */
async function inSetting(use: (setting: Setting) => Promise<void>): Promise<void> {
  await inFolder(async (folder) => {
    const at = (name: string): string => join(folder, name);
    writeFileSync(at("n.csv"), networkCsv(24, 1));
    const whole = ["batch", at("n.csv"), "--out", at("whole.jsonl"), "--workers", "0", "--quiet", ...options];
    expect(spawnSync(process.execPath, [program, ...whole]).status).toBe(0);
    spawnSync(process.execPath, [program, "batch", "--merge", at("whole.jsonl"), "--out", at("sorted.jsonl")]);
    const shell = [
      "#!/bin/sh",
      `for word in "$@"; do case $word in */${SHARDS}) echo $$ > "${folder}/pid.\${word%%/*}.$$" ;; esac; done`,
      `exec "${process.execPath}" "${program}" "$@"`,
    ];
    writeFileSync(at("standcurve"), `${shell.join("\n")}\n`, { mode: 0o755 });
    const started = (shard: number): number[] =>
      readdirSync(folder)
        .filter((name) => name.startsWith(`pid.${shard}.`))
        .map((name) => Number(name.split(".")[2]));
    await use({ at, env: { ...process.env, STANDCURVE: at("standcurve"), JOBS: "2" }, started });
  });
}

async function until(condition: () => boolean, seconds = 120): Promise<void> {
  for (let i = 0; i < seconds * 20 && !condition(); i++) await wait(50);
  expect(condition()).toBe(true);
}

const linesIn = (path: string): number => (existsSync(path) ? readFileSync(path, "utf8").split("\n").length - 1 : 0);
const same = (a: string, b: string): boolean => readFileSync(a).equals(readFileSync(b));

function start(
  command: string,
  argv: readonly string[],
  env: NodeJS.ProcessEnv,
): { code: Promise<number | null>; text(): string } {
  const child = spawn(command, argv, { env });
  let text = "";
  child.stdout.on("data", (part) => (text += String(part)));
  child.stderr.on("data", (part) => (text += String(part)));
  return { code: new Promise((resolve) => child.on("exit", (status) => resolve(status))), text: () => text };
}

describe("engines that run shards, with one worker killed on the way", () => {
  test.skipIf(!has("parallel", "--version"))(
    "GNU parallel starts the shard again; the merged results are the whole",
    () =>
      inSetting(async ({ at, env, started }) => {
        const run = start(cluster("parallel.sh"), [at("n.csv"), at("out"), String(SHARDS), ...options], env);
        await until(() => linesIn(at("out/0.jsonl")) >= 1);
        process.kill(started(0)[0] as number, "SIGKILL");
        expect([await run.code, run.text()]).toEqual([0, expect.stringContaining("24 results of 4 files")]);
        expect(started(0).length).toBe(2);
        expect(same(at("out/all.jsonl"), at("sorted.jsonl"))).toBe(true);
      }),
    300_000,
  );

  test.skipIf(!has(python, "-c", "import distributed"))(
    "Dask gives the shard of a dead worker to another; the merged results are the whole",
    () =>
      inSetting(async ({ at, env, started }) => {
        const run = start(python, [cluster("dask_batch.py"), at("n.csv"), at("out"), String(SHARDS), ...options], env);
        await until(() => /^workers (\d+) (\d+)$/m.test(run.text()) && started(0).length + started(1).length >= 2);
        const [, worker] = /^workers (\d+)/m.exec(run.text()) ?? [];
        process.kill(Number(worker), "SIGKILL");
        expect([await run.code, run.text()]).toEqual([0, expect.stringContaining("24 results of 4 files")]);
        // One more attempt than shards.
        expect([0, 1, 2, 3].flatMap(started).length).toBeGreaterThan(SHARDS);
        expect(same(at("out/all.jsonl"), at("sorted.jsonl"))).toBe(true);
      }),
    300_000,
  );

  test.skipIf(!(has("slurmctld", "-V") && has("slurmd", "-V")))(
    "a Slurm job array puts the killed task back into its queue; the merged results are the whole",
    () =>
      inSetting(async ({ at, env, started }) => {
        const slurm = { ...env, SLURM_CONF: at("slurm/slurm.conf") };
        const ask = (command: string, ...argv: string[]): string =>
          spawnSync(command, argv, { env: slurm, encoding: "utf8" }).stdout ?? "";
        const daemons = new URL("./slurmOneNode.sh", import.meta.url).pathname;
        spawnSync(daemons, [at("slurm")], { env, stdio: "ignore" });
        try {
          await until(() => ask("sinfo", "-h", "-o", "%t").trim() === "idle", 60);
          const array = [`--array=0-${SHARDS - 1}`, "--chdir", at("."), "--mem=0", "--export=ALL"];
          expect(ask("sbatch", ...array, cluster("slurm.sh"), at("n.csv"), at("out"), ...options)).toMatch(/Submitted/);
          await until(() => linesIn(at("out/1.jsonl")) >= 1);
          process.kill(started(1)[0] as number, "SIGKILL");
          // A task that is put back waits up to two minutes for its turn.
          await until(() => ask("squeue", "-h").trim() === "" && started(3).length > 0, 280);
          expect(started(1).length).toBe(2);
          const shards = [0, 1, 2, 3].map((i) => at(`out/${i}.jsonl`));
          expect(
            spawnSync(process.execPath, [program, "batch", "--merge", ...shards, "--out", at("all.jsonl")]).status,
          ).toBe(0);
          expect(same(at("all.jsonl"), at("sorted.jsonl"))).toBe(true);
        } finally {
          for (const pid of readFileSync(at("slurm/pids"), "utf8").trim().split("\n"))
            process.kill(Number(pid), "SIGTERM");
          await wait(2000);
        }
      }),
    400_000,
  );
});
