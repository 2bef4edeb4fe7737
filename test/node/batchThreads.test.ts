import { spawn } from "node:child_process";
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { setTimeout as wait } from "node:timers/promises";
import { describe, expect, test } from "vitest";
import { type GroupResult, runGroups, serialExecutor } from "../../src/index.ts";
import { threadExecutor } from "../../src/node/index.ts";
import { networkCsv, records, stream } from "../batch/networkRows.ts";
import { inFolder } from "./runInProcess.ts";

const program = new URL("../../dist/node/main.js", import.meta.url).pathname;
const thread = new URL("../../dist/node/groupWorker.js", import.meta.url);
const csv = networkCsv(20, 1);
const rows = records(csv);
const groups = [...new Set(rows.map(({ hybrid }) => String(hybrid)))].map((hybrid) => ({
  schema: "standcurve/group/1" as const,
  hybrid,
  environment: null,
  plots: rows.filter((row) => row.hybrid === hybrid),
  options: { resamples: 0, families: ["flat", "linear"] as const },
}));

async function linesOf(executor: Parameters<typeof runGroups>[1]): Promise<string[]> {
  const lines: string[] = [];
  for await (const { line } of runGroups(stream(groups), executor)) lines.push(line);
  return lines;
}

/** A run of the built program; resolves with its exit code. */
function start(argv: readonly string[]): {
  pid: number;
  code: Promise<number | null>;
  stop(signal: NodeJS.Signals): void;
} {
  const child = spawn(process.execPath, [program, "batch", ...argv], { stdio: "ignore" });
  const code = new Promise<number | null>((resolve) => child.on("exit", (status) => resolve(status)));
  return { pid: child.pid ?? 0, code, stop: (signal) => void child.kill(signal) };
}

const linesIn = (path: string): number => (existsSync(path) ? readFileSync(path, "utf8").split("\n").length - 1 : 0);
async function until(condition: () => boolean): Promise<void> {
  for (let i = 0; i < 600 && !condition(); i++) await wait(50);
}

describe.skipIf(!existsSync(thread))("worker threads", () => {
  test("give the bytes of the calling thread", async () => {
    const executor = threadExecutor(2, thread);
    const [parallel, serial] = [await linesOf({ executor }), await linesOf({ executor: serialExecutor })];
    await executor.close();
    expect(parallel.length).toBe(20);
    expect(parallel.every((line, i) => line === serial[i])).toBe(true);
  });

  test("that die are replaced: nothing is lost or doubled", () =>
    inFolder(async (folder) => {
      const dying = new URL("./diesOnce.mjs", import.meta.url);
      const serial = await linesOf({ executor: serialExecutor });
      process.env.DIES_ON = "Hybrid 5";
      process.env.DIES_MARKER = join(folder, "died");
      const once = threadExecutor(2, dying);
      const lines = await linesOf({ executor: once });
      await once.close();
      expect(existsSync(join(folder, "died"))).toBe(true);
      expect(lines.every((line, i) => line === serial[i])).toBe(true);
      delete process.env.DIES_MARKER;
      const always = threadExecutor(2, dying);
      const some = (await linesOf({ executor: always })).map((line) => JSON.parse(line) as GroupResult);
      await always.close();
      delete process.env.DIES_ON;
      expect(some.map(({ hybrid }) => hybrid)).toEqual(groups.map(({ hybrid }) => hybrid));
      expect(some.filter(({ status }) => status === "failed").map(({ hybrid }) => hybrid)).toEqual(["Hybrid 5"]);
    }));

  test(
    "an interrupt or a kill leaves whole lines, and resuming completes them to the same bytes",
    () =>
      inFolder(async (folder) => {
        const at = (name: string): string => join(folder, name);
        writeFileSync(at("n.csv"), csv);
        const argv = (out: string): string[] => [
          at("n.csv"),
          "--out",
          at(out),
          "--workers",
          "1",
          "--resamples",
          "4000",
          "--quiet",
        ];
        expect(await start(argv("whole.jsonl")).code).toBe(0);
        const signals: readonly NodeJS.Signals[] =
          process.env.STANDCURVE_SLOW === "1" ? ["SIGINT", "SIGTERM", "SIGKILL"] : ["SIGKILL", "SIGINT"];
        for (const signal of signals) {
          const out = `${signal}.jsonl`;
          const run = start(argv(out));
          await until(() => linesIn(at(out)) >= 1);
          run.stop(signal);
          expect(await run.code).toBe(signal === "SIGKILL" ? null : 3);
          expect(linesIn(at(out))).toBeGreaterThanOrEqual(1);
          if (signal !== "SIGKILL") expect(readFileSync(at(out), "utf8").endsWith("}\n")).toBe(true);
          expect(await start([...argv(out), "--resume"]).code).toBe(0);
          expect(readFileSync(at(out)).equals(readFileSync(at("whole.jsonl")))).toBe(true);
        }
      }),
    120_000,
  );
});
