import { readdirSync, readFileSync } from "node:fs";
import { beforeAll, expect, test } from "vitest";
import { tableFiles, tables } from "./corpus.mjs";
import { fuzzLibrary, savedAnalyses } from "./library.mjs";
import { readRecords } from "./readRecords.mjs";
import { kindOf, makeCase, tryCase } from "./tryCase.mjs";
import { tryField, tryZones } from "./tryJson.mjs";
import { tryParts } from "./tryParts.mjs";
import { tryTable } from "./tryTable.mjs";

// Broken files by the thousand: no crash, no number that JSON cannot carry, and no row of a file that is neither a plot nor accounted
// for. The oracle of the rows is readRecords.mjs, an automaton of its own. A run of a million: test/fuzz/run.mjs, results.json.
const slow = process.env["STANDCURVE_SLOW"] === "1";
const seed = slow ? 11 : 1;
const cases = slow ? 60_000 : 1500;

let library: object;
let saved: readonly string[];
beforeAll(async () => {
  library = await fuzzLibrary(
    (path) => import(/* @vite-ignore */ new URL(`../../src/${path}.ts`, import.meta.url).href),
  );
  const demo = (name: string): string =>
    readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8")
      .split("\n")
      .slice(0, 60)
      .join("\n");
  saved = savedAnalyses(library, [demo("plots.csv")]);
});

test("every file of the corpus is read, those that once failed included", () => {
  for (const { name, bytes } of tableFiles) expect([name, tryTable(library, bytes)]).toEqual([name, null]);
  const folder = new URL("corpus/", import.meta.url);
  for (const name of readdirSync(folder)) {
    const text = readFileSync(new URL(name, folder), "utf8");
    if (/zones/.test(name)) expect([name, tryZones(library, text)]).toEqual([name, null]);
    else if (/json$/.test(name)) expect([name, tryField(library, text)]).toEqual([name, null]);
  }
});

test(`${cases} broken files: no crash, no silent row, no number that JSON cannot carry`, () => {
  const faults = [];
  for (let i = 0; i < cases; i++) {
    // Saved analyses and parts have tests of their own below.
    if (kindOf(i) === "analysis" || kindOf(i) === "parts") continue;
    const fault = tryCase(library, seed, i, saved);
    if (fault !== null) faults.push({ case: i, ...fault });
  }
  expect(faults.slice(0, 5)).toEqual([]);
});

test("saved analyses with changed, missing or foreign values are refused or shown, never a crash", () => {
  const faults = [];
  for (let i = 0; i < (slow ? 300 : 12); i++) {
    const fault = tryCase(library, seed, 4994 + 5000 * i, saved);
    if (fault !== null) faults.push({ case: i, ...fault });
  }
  expect(faults.slice(0, 5)).toEqual([]);
});

test("a broken table cut into parts of any size gives the rows, lines and issues of the whole", () => {
  for (let i = 0; i < (slow ? 40 : 2); i++) {
    const { kind, input } = makeCase(seed, 4999 + 5000 * i, saved);
    expect(kind).toBe("parts");
    expect([i, tryParts(library, input as string, i)]).toEqual([i, null]);
  }
});

test("the counter of records finds what is in a file, and the check sees a row that is dropped", () => {
  // By hand: a title, a header, a record over two lines (4 and 5), a broken quote on 6, a blank line.
  const text = 'Trial\na;b\n1;2\n"x\ny";3\n4";5\n\n';
  expect(readRecords(text, ";", Number.POSITIVE_INFINITY)).toEqual([
    { line: 1, blank: false },
    { line: 2, blank: false },
    { line: 3, blank: false },
    { line: 4, blank: false },
    { line: 6, blank: false },
    { line: 7, blank: true },
  ]);
  const real = library as { readTrialBytes(bytes: Uint8Array, schema: object): { trial: { plots: unknown[] } | null } };
  const dropping = {
    ...library,
    readTrialBytes(bytes: Uint8Array, schema: object) {
      const reading = real.readTrialBytes(bytes, schema);
      const { trial } = reading;
      return trial === null ? reading : { ...reading, trial: { ...trial, plots: trial.plots.slice(1) } };
    },
  };
  expect(tryTable(dropping, Buffer.from(tables[tables.length - 1] as string))?.kind).toBe("silent");
});
