import { caseRandom } from "./caseRandom.mjs";
import { jsonTexts, tables, zoneTables } from "./corpus.mjs";
import { mutateJson } from "./mutateJson.mjs";
import { mutateTable } from "./mutateTable.mjs";
import { tryAnalysis, tryField, tryZones } from "./tryJson.mjs";
import { longTable, tryParts } from "./tryParts.mjs";
import { tryTable } from "./tryTable.mjs";

/** Of every 5,000 cases so many of a kind; the last two are long, so they are few. */
const shares = [
  ["table", 4394],
  ["field", 300],
  ["zones", 300],
  ["analysis", 5],
  ["parts", 1],
];

/** Kind of input that a case of a run is. */
export function kindOf(index) {
  let place = index % 5000;
  for (const [kind, share] of shares) {
    if (place < share) return kind;
    place -= share;
  }
  return "table";
}

/** The input of a case, always the same for a seed and a number. */
export function makeCase(seed, index, saved) {
  const random = caseRandom(seed, index);
  const kind = kindOf(index);
  if (kind === "table") return { kind, input: mutateTable(random, tables) };
  if (kind === "field") return { kind, input: mutateJson(random, [jsonTexts.field]) };
  if (kind === "analysis") return { kind, input: mutateJson(random, saved) };
  if (kind === "parts")
    return { kind, input: longTable(random, Buffer.from(mutateTable(random, tables)).toString("utf8")) };
  const table = random.next() < 0.5;
  return {
    kind,
    input: table
      ? Buffer.from(mutateTable(random, zoneTables)).toString("utf8")
      : mutateJson(random, [jsonTexts.zones]),
  };
}

/**
 * Makes a case and tries it.
 *
 * @param {object} library - the readers under test
 * @param {readonly string[]} saved - saved analyses as JSON
 * @returns {null | { kind: "crash" | "silent" | "wrong", text: string }}
 */
export function tryCase(library, seed, index, saved) {
  const { kind, input } = makeCase(seed, index, saved);
  if (kind === "table") return tryTable(library, input);
  if (kind === "field") return tryField(library, input);
  if (kind === "zones") return tryZones(library, input);
  if (kind === "analysis") return tryAnalysis(library, input);
  return tryParts(library, input, seed + index);
}
