import { describe, expect, test } from "vitest";
import {
  type GroupInput,
  runGroups,
  serialExecutor,
  serveGroups,
  type WebWorkerLike,
  webWorkers,
} from "../../src/index.ts";
import { networkCsv, records, stream } from "./networkRows.ts";

type Listener = (event: { readonly data: unknown; readonly message?: string }) => void;

/** A Web Worker without a browser: two ends, every message a structured clone on a later turn. */
function fakeWorker(dies: (message: unknown) => boolean = () => false): WebWorkerLike {
  const outer = new Map<string, Listener[]>();
  const inner: Listener[] = [];
  let alive = true;
  const later = (call: () => void): void => void setTimeout(() => alive && call(), 0);
  serveGroups({
    postMessage(data) {
      const copy = structuredClone(data);
      later(() => {
        for (const one of outer.get("message") ?? []) one({ data: copy });
      });
    },
    addEventListener: (_, listener) => void inner.push(listener),
  });
  return {
    postMessage(data) {
      const copy = structuredClone(data);
      later(() => {
        if (dies(copy)) for (const one of outer.get("error") ?? []) one({ data: null, message: "crashed" });
        else for (const one of inner) one({ data: copy });
      });
    },
    addEventListener: (type: string, listener: Listener) =>
      void outer.set(type, [...(outer.get(type) ?? []), listener]),
    terminate() {
      alive = false;
    },
  };
}

const rows = records(networkCsv(20, 1));
const groups: GroupInput[] = Array.from({ length: 20 }, (_, i) => ({
  schema: "standcurve/group/1",
  hybrid: `Hybrid ${i}`,
  environment: null,
  plots: rows.filter(({ hybrid }) => hybrid === `Hybrid ${i}`),
  options: { resamples: 0, families: ["flat", "linear"] },
}));

async function run(executor: Parameters<typeof runGroups>[1]): Promise<string[]> {
  const lines: string[] = [];
  for await (const { line } of runGroups(stream(groups), executor)) lines.push(line);
  return lines;
}

/** Without printing megabytes when they differ. */
const same = (a: readonly string[], b: readonly string[]): boolean =>
  a.length === b.length && a.every((line, i) => line === b[i]);

describe("a pool of workers", () => {
  test("answers byte for byte as the calling thread does", async () => {
    const executor = webWorkers(2, () => fakeWorker());
    expect(same(await run({ executor }), await run({ executor: serialExecutor }))).toBe(true);
    await executor.close();
    await expect(executor.run(groups.slice(0, 1))).rejects.toThrow(/ended/);
  });

  test("replaces a worker that dies, and its groups are done by others", async () => {
    let started = 0;
    let deaths = 0;
    const executor = webWorkers(2, () => {
      started += 1;
      return fakeWorker(() => {
        // Both chunks; their groups, each by itself, then meet workers that live.
        deaths += 1;
        return deaths <= 2;
      });
    });
    expect(same(await run({ executor }), await run({ executor: serialExecutor }))).toBe(true);
    expect(started).toBe(4);
    await executor.close();
  });

  test("passes wrong options on as the error they are", async () => {
    const executor = webWorkers(1, () => fakeWorker());
    const [first] = groups;
    await expect(executor.run([{ ...(first as GroupInput), options: { level: 3 } }])).rejects.toMatchObject({
      name: "AnalysisError",
      code: "invalid-option",
    });
    await executor.close();
    expect(() => webWorkers(0, () => fakeWorker())).toThrow(/workers must be/);
  });
});
