import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";

interface Folder {
  readonly mutants: number;
  readonly drawn: number;
  readonly killed: number;
  readonly endless: number;
  readonly survived: number;
  readonly noCoverage: number;
  readonly static: number;
  readonly timeouts: number;
  readonly broken: number;
  readonly survivors: readonly { readonly file: string; readonly code: string; readonly reason: string }[];
}

const { exactInterval, mutationText, score } = await import(
  new URL("../../.config/mutationText.mjs", import.meta.url).href
);
const read = (path: string) => readFileSync(new URL(`../../${path}`, import.meta.url), "utf8");
const record = JSON.parse(read("bench/mutation.json"));
const folders = Object.entries(record.folders as Record<string, Folder>);

test("bench/mutation.md is what the script writes from bench/mutation.json", () => {
  expect(read("bench/mutation.md")).toBe(mutationText(record));
});

describe.each(folders)("src/%s", (_, folder) => {
  test("the counts add up: every drawn mutant has one outcome", () => {
    const { drawn, killed, endless, survived, noCoverage, timeouts, broken, survivors } = folder;
    expect(killed + endless + survived + noCoverage + timeouts + broken + folder.static).toBe(drawn);
    expect(survivors.length).toBe(survived + noCoverage + timeouts);
    expect(drawn).toBeLessThanOrEqual(folder.mutants);
  });
  test("85 % or more of the mutants that ran are killed, tests written since included", () => {
    const { share, since, interval } = score(folder);
    expect(since).toBeGreaterThanOrEqual(0.85);
    expect(share).toBeLessThanOrEqual(since);
    expect(interval[0]).toBeLessThanOrEqual(share);
  });
  test("every survivor has a reason and stands on a line of its file", () => {
    for (const { file, code, reason } of folder.survivors) {
      expect(reason.length, `${file}: ${code}`).toBeGreaterThan(20);
      expect(reason, `${file}: ${code}`).toMatch(/^(No effect|Hole)/);
    }
  });
});

test("the limits are those of R: binom.test(87, 100), (0, 10) and (10, 10)", () => {
  const expected = [
    [87, 100, 0.787959322913, 0.928926953815],
    [0, 10, 0, 0.308497107819],
    [10, 10, 0.691502892181, 1],
  ];
  for (const [count, size, lower, upper] of expected) {
    const interval = exactInterval(count, size);
    expect(Math.abs(interval[0] - lower)).toBeLessThan(1e-11);
    expect(Math.abs(interval[1] - upper)).toBeLessThan(1e-11);
  }
});

test("killed counts kills and endless loops; survivors, unreached places and time-outs count against", () => {
  const survivors = [{ reason: "Hole, closed since: a test" }, { reason: "Hole: none" }, { reason: "No effect" }];
  const counts = { killed: 80, endless: 5, survived: 9, noCoverage: 4, timeouts: 2, share: 1, survivors };
  const expected = { killed: 85, valid: 100, share: 0.85, closed: 1, since: 0.86, interval: [0.85, 0.85] };
  expect(score(counts)).toEqual(expected);
});
