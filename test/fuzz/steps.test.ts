import { afterAll, beforeAll, expect, test } from "vitest";
import { readZones } from "../../src/index.ts";
import { issueLog } from "../../src/trial/issueLog.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import { checkSchema } from "../../src/trial/schema.ts";
import { tableReader } from "../../src/trial/tableReader.ts";

// A file of twice the size must not cost more than about twice the steps. Steps are counted, not timed: every character that a method
// of strings may have had to look at, and every element that a method of arrays makes.
let steps = 0;
const originals: (() => void)[] = [];

/** Lets a method count before it works. */
function count(
  holder: object,
  name: string,
  cost: (self: { length: number }, answer: unknown, args: readonly unknown[]) => number,
): void {
  const original = Reflect.get(holder, name) as (...args: unknown[]) => unknown;
  const counting = function (this: { length: number }, ...args: unknown[]): unknown {
    const answer = original.apply(this, args);
    steps += cost(this, answer, args);
    return answer;
  };
  Object.defineProperty(holder, name, { value: counting, writable: true, configurable: true });
  originals.push(() => Object.defineProperty(holder, name, { value: original, writable: true, configurable: true }));
}

beforeAll(() => {
  const text = String.prototype;
  for (const name of ["split", "replace", "replaceAll", "match", "trim", "includes"])
    count(text, name, (self) => self.length + 1);
  count(text, "slice", (_self, answer) => (answer as string).length + 1);
  count(text, "charCodeAt", () => 1);
  count(
    text,
    "indexOf",
    (self, answer, [, from]) => (answer === -1 ? self.length : (answer as number)) - Number(from ?? 0) + 1,
  );
  count(
    text,
    "lastIndexOf",
    (self, answer, [, before]) => Math.min(self.length, Number(before ?? self.length)) - (answer as number) + 1,
  );
  count(RegExp.prototype, "exec", (_self, answer) => ((answer as RegExpExecArray | null)?.[0].length ?? 0) + 1);
  for (const name of ["map", "filter", "flatMap", "concat", "slice"])
    count(Array.prototype, name, (self) => self.length + 1);
});
afterAll(() => {
  for (const restore of originals) restore();
});

function stepsOf(work: () => unknown): number {
  steps = 0;
  try {
    work();
  } catch (error) {
    if (!(error instanceof Error && error.name === "AnalysisError")) throw error;
  }
  return steps;
}

const header = "hybrid,block,note,seeding_rate_k_ac,yield_bu_ac\n";
const rows = (count: number, row: (i: number) => string): string =>
  header + Array.from({ length: count }, (_, i) => row(i)).join("\n");
const inParts = (text: string): void => {
  const reader = tableReader(checkSchema({}), issueLog("Line", 50));
  for (let at = 0; at < text.length; at += 5000) reader.push(text.slice(at, at + 5000));
  reader.end();
};

const hard: readonly (readonly [string, number, (count: number) => unknown])[] = [
  ["plain rows", 4000, (n) => readTrial(rows(n, (i) => `A,1,x,${20 + (i % 5)},200`))],
  ["a stray quote in every row", 2000, (n) => readTrial(rows(n, (i) => `A,1,12" pipe,${20 + (i % 5)},200`))],
  [
    "a quote left open at the start",
    20_000,
    (n) => readTrial(rows(n, (i) => `A,1,${i === 0 ? '"x' : "x"},${20 + (i % 5)},200`)),
  ],
  [
    "a quote left open, read in parts",
    20_000,
    (n) => inParts(rows(n, (i) => `A,1,${i === 0 ? '"x' : "x"},${20 + (i % 5)},200`)),
  ],
  ["one long cell", 1, (n) => readTrial(rows(3, (i) => `A,1,${"x".repeat(200_000 * n)},${20 + i},200`))],
  ["a name of its own in every row", 1000, (n) => readTrial(rows(n, (i) => `H${i},1,x,${20 + (i % 5)},200`))],
  [
    "one plot id in every row",
    2000,
    (n) => readTrial(rows(n, (i) => `A,1,x,${20 + (i % 5)},200`).replace("note", "plot")),
  ],
  ["nothing but separators", 20_000, (n) => readTrial(header + ",".repeat(n))],
  ["nothing but quotes", 20_000, (n) => readTrial(header + '"'.repeat(n))],
  ["nothing but blank lines", 20_000, (n) => readTrial(header + "\n".repeat(n))],
  ["a fault in every cell", 1000, (n) => readTrial(rows(n, () => "A,1,x,abc,#REF!"))],
  [
    "many columns",
    500,
    (n) =>
      readTrial(
        `${header.trim()},${Array.from({ length: n }, (_, i) => `c${i}`).join()}\nA,1,x,20,200,${"1,".repeat(n)}\n`,
      ),
  ],
  ["zones", 500, (n) => readZones(`zone,area_ac\n${Array.from({ length: n }, (_, i) => `z${i},20`).join("\n")}`)],
];

test.each(hard)("twice as much of %s costs about twice the steps", (_name, size, work) => {
  const [one, two] = [stepsOf(() => work(size)), stepsOf(() => work(2 * size))];
  expect(one).toBeGreaterThan(0);
  // Linear would be 2 and n log n less than 2.2 here; quadratic cost gives 4.
  expect(two / one).toBeLessThan(2.6);
});
