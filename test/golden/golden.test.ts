/**
 * Stored numbers of the demo files. They prove nothing: a change of numbers is shown here and must be explained in CHANGES.md, while
 * test/oracle, test/trust and R decide what is right. STANDCURVE_UPDATE=1 stores the numbers of now.
 */
import { readFileSync, writeFileSync } from "node:fs";
import { expect, test } from "vitest";
import { version } from "../../src/index.ts";
import { type Golden, type GoldenResult, goldenResults } from "./goldenResults.ts";
import { shortHash } from "./shortHash.ts";

const here = import.meta.dirname;
const file = `${here}/results.json`;
const readGolden = (): Golden => JSON.parse(readFileSync(file, "utf8")) as Golden;
const update = process.env.STANDCURVE_UPDATE === "1";
const HOW =
  "If the change is meant: STANDCURVE_UPDATE=1 npx vitest run --config test/vitest.config.ts test/golden, then an entry at the top of test/golden/CHANGES.md";

/** What differs, in words: key numbers with both values, then the other parts by name. */
function differences(stored: readonly GoldenResult[], now: readonly GoldenResult[]): string[] {
  return now.flatMap(({ name, input, key, parts }) => {
    const before = stored.find((result) => result.name === name);
    if (!before) return [`${name}: new`];
    if (before.input !== input) return [`${name}: the demo file itself changed`];
    const names = (a: object, b: object): string[] => [...new Set([...Object.keys(a), ...Object.keys(b)])];
    const keys = names(before.key, key)
      .filter((k) => before.key[k] !== key[k])
      .map((k) => `${name}: ${k} was ${before.key[k]}, is ${key[k]}`);
    const changed = names(before.parts, parts).filter((part) => before.parts[part] !== parts[part]);
    const shown = changed.slice(0, 12).join(", ") + (changed.length > 12 ? ` and ${changed.length - 12} more` : "");
    return [...keys, ...(changed.length > 0 ? [`${name}: numbers changed in ${shown}`] : [])];
  });
}

test("the demo files give the stored numbers", { timeout: 600_000 }, () => {
  const now = goldenResults();
  if (update) writeFileSync(file, `${JSON.stringify(now, null, 2)}\n`);
  const stored = readGolden();
  expect(differences(stored.results, now.results), HOW).toEqual([]);
  expect(stored.results.map(({ name }) => name)).toEqual(now.results.map(({ name }) => name));
});

test("the newest entry of CHANGES.md is that of the stored numbers, and says what, why and by how much", () => {
  const text = readFileSync(`${here}/CHANGES.md`, "utf8");
  const [newest] = text.split(/^## /m).slice(1);
  const print = shortHash(JSON.stringify(readGolden().results));
  expect(newest, `write an entry in test/golden/CHANGES.md with the line "Results: ${print}"`).toContain(
    `Results: ${print}`,
  );
  for (const word of ["What:", "Why:", "By how much:"]) expect(newest, word).toContain(word);
  expect(newest.split(/[\s,]/)[0]).toBe(version);
});

test("a changed number is named with both values, a changed part by its path", () => {
  const one = { name: "a", input: "i", key: { rate: 32, curve: "linear" }, parts: { x: "1", "x.y": "2" } };
  const two = { ...one, key: { rate: 31.5, curve: "linear" }, parts: { x: "1", "x.y": "3" } };
  expect(differences([one], [two])).toEqual(["a: rate was 32, is 31.5", "a: numbers changed in x.y"]);
  expect(differences([one], [{ ...two, input: "j" }])).toEqual(["a: the demo file itself changed"]);
  expect(differences([one], [one])).toEqual([]);
  expect(differences([], [one])).toEqual(["a: new"]);
});
