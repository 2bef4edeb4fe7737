import { describe, expect, test } from "vitest";
import type { GroupExecutor, GroupInput, GroupResult } from "../../src/index.ts";
import {
  AnalysisError,
  analyzeMany,
  groupHead,
  runGroups,
  serialExecutor,
  shardOf,
  WorkerLost,
} from "../../src/index.ts";
import { networkCsv, records, stream } from "./networkRows.ts";

const rows = records(networkCsv(12, 1)).filter(({ block }) => block !== "3");
const options = { resamples: 0, families: ["flat", "linear"] } as const; // the cheapest analysis: here only the order counts

function groups(count: number): GroupInput[] {
  return Array.from({ length: count }, (_, i) => ({
    schema: "standcurve/group/1",
    hybrid: `Hybrid ${i}`,
    environment: null,
    plots: rows.filter((row) => row.hybrid === `Hybrid ${i % 12}`).map((row) => ({ ...row, hybrid: `Hybrid ${i}` })),
    options,
  }));
}

async function linesOf(input: readonly GroupInput[], executor: GroupExecutor): Promise<string[]> {
  const lines: string[] = [];
  for await (const { line } of runGroups(stream(input), { executor })) lines.push(line);
  return lines;
}

/** Answers chunks after waits that put the later ones first. */
function shuffling(width: number, log: { most: number }): GroupExecutor {
  let under = 0;
  let turn = 0;
  return {
    width,
    async run(chunk) {
      under += 1;
      log.most = Math.max(log.most, under);
      turn += 1;
      await new Promise((resolve) => setTimeout(resolve, (7 - (turn % 7)) * 3));
      under -= 1;
      return serialExecutor.run(chunk);
    },
    close: async () => undefined,
  };
}

describe("running groups", () => {
  test("gives the bytes of the serial run in the order of the groups, whatever the order of completion", async () => {
    const input = groups(40);
    const log = { most: 0 };
    const serial = await linesOf(input, serialExecutor);
    expect(await linesOf(input, shuffling(3, log))).toEqual(serial);
    expect(serial.map((line) => groupHead(line)?.hybrid)).toEqual(input.map(({ hybrid }) => hybrid));
    // Three chunks a worker, so memory does not grow with the input.
    expect(log.most).toBeLessThanOrEqual(9);
    expect(log.most).toBeGreaterThan(1);
  });

  test("tries the groups of a dead worker once more, alone; none is lost or doubled", async () => {
    const tried: string[][] = [];
    const dying = (deadly: (names: string[], times: number) => boolean): GroupExecutor => ({
      width: 2,
      async run(chunk) {
        const names = chunk.map(({ hybrid }) => hybrid);
        tried.push(names);
        if (deadly(names, tried.filter((one) => one.includes("Hybrid 4")).length))
          throw new WorkerLost("out of memory");
        return serialExecutor.run(chunk);
      },
      close: async () => undefined,
    });
    const input = groups(24);
    const serial = await linesOf(input, serialExecutor);
    // Once only: the second time it works.
    expect(
      await linesOf(
        input,
        dying((names, times) => names.includes("Hybrid 4") && times === 1),
      ),
    ).toEqual(serial);
    expect(tried.filter((names) => names.length === 1 && names[0] === "Hybrid 4").length).toBe(1);
    tried.length = 0;
    // Every time: it is reported, the others of its chunk are not.
    const lines = await linesOf(
      input,
      dying((names) => names.includes("Hybrid 4")),
    );
    const results = lines.map((line) => JSON.parse(line) as GroupResult);
    expect(results.filter(({ status }) => status === "failed").map(({ hybrid }) => hybrid)).toEqual(["Hybrid 4"]);
    expect(results[4]?.reason).toMatch(/died twice: out of memory/);
    expect(lines.filter((_, i) => i !== 4)).toEqual(serial.filter((_, i) => i !== 4));
    expect(tried.filter((names) => names.includes("Hybrid 4")).length).toBe(2);
  });

  test("stops at wrong options, and not before what was done is handed out", async () => {
    const wrong: GroupExecutor = {
      width: 1,
      run: async () => {
        throw new AnalysisError("invalid-option", "level must be between 0 and 1");
      },
      close: async () => undefined,
    };
    await expect(linesOf(groups(3), wrong)).rejects.toThrow(/level/);
  });

  test("an interrupt leaves whole groups: those under way are finished, none is taken up", async () => {
    const signal = { aborted: false };
    const done: string[] = [];
    for await (const { group } of runGroups(stream(groups(200)), { signal })) {
      done.push(group.hybrid);
      if (done.length === 2) signal.aborted = true;
    }
    expect(done.length).toBeGreaterThanOrEqual(2);
    expect(done.length).toBeLessThan(60);
    expect(done).toEqual(groups(done.length).map(({ hybrid }) => hybrid));
  });

  test("reports what is done, the rate and the time left", async () => {
    let now = 0;
    const seen: unknown[] = [];
    const clock = (): number => (now += 500);
    for await (const _ of runGroups(stream(groups(3)), { clock, total: 3, onProgress: (one) => seen.push(one) })) {
      // only the reports matter
    }
    // One tick at the start, one a group: half a second each.
    expect(seen).toMatchObject([
      { done: 1, total: 3, rows: 10, perSecond: 2, secondsLeft: 1, hybrid: "Hybrid 0" },
      { done: 2, perSecond: 2, secondsLeft: 0.5 },
      { done: 3, rows: 30, perSecond: 2, secondsLeft: 0 },
    ]);
  });
});

describe("analyzeMany", () => {
  const named = async (source: AsyncIterable<GroupResult>): Promise<string[]> => {
    const names: string[] = [];
    for await (const { hybrid, environment } of source)
      names.push(environment === null ? hybrid : `${hybrid} @ ${environment}`);
    return names;
  };

  test("takes rows or groups, and says when a group comes back", async () => {
    expect(await named(analyzeMany(rows.slice(0, 30), { options }))).toEqual(["Hybrid 0", "Hybrid 1", "Hybrid 2"]);
    expect(await named(analyzeMany(groups(2), { options }))).toEqual(["Hybrid 0", "Hybrid 1"]);
    expect(await named(analyzeMany([], { options }))).toEqual([]);
    const mixed = [...rows.slice(0, 15), ...rows.slice(0, 3)];
    await expect(named(analyzeMany(mixed, { options }))).rejects.toMatchObject({
      code: "not-grouped",
      message: expect.stringMatching(/"Hybrid 0" .*row 16 .*Sort the rows/s),
    });
    expect(await named(analyzeMany(mixed, { options, scattered: "collect" }))).toEqual(["Hybrid 0", "Hybrid 1"]);
  });

  test("can take each environment by itself", async () => {
    const two = records(networkCsv(1, 2));
    expect(await named(analyzeMany(two, { options, by: "hybrid-environment" }))).toEqual([
      "Hybrid 0 @ Site 0",
      "Hybrid 0 @ Site 1",
    ]);
  });

  test("names that differ in capitals are one group, and columns without units are refused once for all", async () => {
    const spelled = rows.slice(0, 10).map((row, i) => ({ ...row, hybrid: i % 2 === 0 ? "Amber 12" : "amber  12" }));
    expect(await named(analyzeMany(spelled, { options }))).toEqual(["Amber 12"]);
    const bare = rows.map(({ yield_bu_ac, ...row }) => ({ ...row, yield: yield_bu_ac }));
    await expect(named(analyzeMany(bare, { options }))).rejects.toMatchObject({
      code: "data-problems",
      message: expect.stringMatching(/unit/),
    });
  });
});

test("the share of a group follows from SHA-256, as sha256sum gives it", () => {
  // printf 'amber 12' | sha256sum: 8bacc0cf5785…; 0x8bacc0cf5785 modulo the count.
  for (const count of [1, 2, 3, 7, 64, 1000])
    expect(shardOf({ hybrid: "Amber 12", environment: null }, count)).toBe(0x8bacc0cf5785 % count);
});

test("the head of a result is read without its analysis, whatever the texts in it", () => {
  const line = JSON.stringify({
    schema: "standcurve/group-result/1",
    hybrid: 'nasty ,"analysis": \\" }',
    reason: ',"analysis":null}',
    issues: [{ received: '","analysis":{' }],
    analysis: { deep: { analysis: 1 } },
  });
  expect(groupHead(line)).toMatchObject({ hybrid: 'nasty ,"analysis": \\" }', reason: ',"analysis":null}' });
  expect(groupHead(line.slice(0, -5))).toBeNull();
  expect(groupHead("{}")).toBeNull();
  expect(groupHead("")).toBeNull();
});
