import { expect, test } from "vitest";
import * as library from "../../src/index.ts";
import * as plot from "../../src/plot/index.ts";
import { goodCalls } from "./goodCalls.mjs";
import { copy, judge, properties, wholeArguments } from "./hostile.mjs";

// What a caller in plain JavaScript may hand over: nothing, null, a symbol, a list of texts, an object with a "__proto__" of its own.
// Every function must answer with finite numbers or throw an AnalysisError that says what is wrong.
const slow = process.env["STANDCURVE_SLOW"] === "1";
/** In the default run every sixth call, a different sixth for each function. */
const share = slow ? 1 : 6;
/** Good calls that take long: an argument replaced by a lawful one (no options, say) would be a whole analysis. */
const expensive = new Set(["analyzeTrial", "whatNext", "chooseDensities", "trialPower", "varianceTable", "fieldTrend"]);

type Callable = (...args: unknown[]) => unknown;
const functions = new Map<string, Callable>(
  [
    ...Object.entries(library as Readonly<Record<string, unknown>>),
    ...Object.entries(plot as Readonly<Record<string, unknown>>).map(([name, one]) => [`plot.${name}`, one] as const),
  ].flatMap(([name, one]) => (typeof one === "function" ? [[name, one as Callable] as const] : [])),
);
const calls = goodCalls(library, plot);

test("every exported function is walked over: a new one needs a good call in goodCalls.mjs", () => {
  expect([...functions.keys()].filter((name) => !Object.hasOwn(calls, name))).toEqual([]);
  expect(Object.keys(calls).filter((name) => !functions.has(name))).toEqual([]);
});

test("every good call gives an answer of finite numbers", async () => {
  for (const [name, call] of functions) {
    const args = calls[name];
    if (args === null || args === undefined || (!slow && expensive.has(name))) continue;
    expect([name, await judge(() => call(...copy(args)))]).toEqual([name, null]);
    expect([name, refused(() => call(...copy(args)))]).toEqual([name, null]);
  }
});

test("no argument of a wrong kind brings down a function or gets through as a number", async () => {
  const faults: string[] = [];
  let turn = 0;
  for (const [name, call] of functions) {
    const args = calls[name];
    if (args === null || args === undefined || (!slow && expensive.has(name))) continue;
    for (const [what, changed] of wholeArguments(args)) {
      if (turn++ % share !== 0) continue;
      const fault = await judge(() => call(...changed));
      if (fault !== null) faults.push(`${name}, ${what}: ${fault}`);
    }
  }
  expect(faults).toEqual([]);
  expect(({} as { polluted?: unknown }).polluted).toBeUndefined();
});

test.runIf(slow)("no property of a wrong kind brings down a function or gets through as a number", async () => {
  const faults: string[] = [];
  for (const [name, call] of functions) {
    const args = calls[name];
    if (args === null || args === undefined || expensive.has(name)) continue;
    for (const [what, changed] of properties(args, 1)) {
      const fault = await judge(() => call(...changed));
      if (fault !== null) faults.push(`${name}, ${what}: ${fault}`);
    }
  }
  expect(faults).toEqual([]);
});

/** The message of a good call that was refused at once. */
function refused(call: () => unknown): string | null {
  try {
    const answer = call();
    if (answer instanceof Promise) answer.catch(() => undefined);
    return null;
  } catch (error) {
    return String(error);
  }
}
