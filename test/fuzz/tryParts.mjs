import { caseRandom } from "./caseRandom.mjs";

/**
 * Makes a table long enough for the reader to work in parts: a broken file with its rows repeated, or one cell of more than a million
 * characters.
 */
export function longTable(random, text) {
  const lines = text.split(/(?<=\n)/);
  const body = lines.slice(1).join("") || "1,2\n";
  let long = lines[0] ?? "";
  const wanted = 200_000 + random.below(250_000);
  while (long.length < wanted) long += body;
  if (random.next() < 0.05) {
    const at = random.below(long.length);
    long = `${long.slice(0, at)}"${"x\n".repeat(600_000)}${random.next() < 0.5 ? '"' : ""}${long.slice(at)}`;
  }
  return long;
}

/**
 * Reads a text whole and in parts of sizes drawn from a seed.
 *
 * @returns {null | { kind: "crash" | "wrong", text: string }} null when the rows, their lines, the header and the issues are the same
 */
export function tryParts(library, text, seed) {
  const random = caseRandom(seed, 0);
  const read = (cut) => {
    const log = library.issueLog("Line", 50);
    try {
      const reader = library.tableReader(library.checkSchema({}), log);
      const parts = [];
      for (let at = 0; at < text.length; ) {
        const size = cut();
        parts.push(reader.push(text.slice(at, at + size)));
        at += size;
      }
      parts.push(reader.end());
      const rows = JSON.stringify(parts.flatMap((part) => part.rows));
      return {
        rows,
        lines: parts.flatMap((part) => Array.from(part.lines)).join(),
        rest: JSON.stringify([reader.header, reader.delimiter, log.list()]),
      };
    } catch (error) {
      if (error?.name === "AnalysisError" && error.code === "unreadable-source")
        return { rows: "", lines: "", rest: error.message };
      return { crash: String(error?.stack ?? error) };
    }
  };
  const whole = read(() => text.length);
  const largest = random.pick([7_000, 60_000, 250_000]);
  const parts = read(() => 1 + random.below(largest));
  if (whole.crash ?? parts.crash) return { kind: "crash", text: whole.crash ?? parts.crash };
  for (const what of ["rest", "lines", "rows"])
    if (whole[what] !== parts[what])
      return { kind: "wrong", text: `parts up to ${largest}: ${what} differ: ${difference(whole[what], parts[what])}` };
  return null;
}

function difference(one, other) {
  let at = 0;
  while (at < one.length && one[at] === other[at]) at += 1;
  const from = Math.max(0, at - 60);
  return `${one.slice(from, at + 80)} | ${other.slice(from, at + 80)}`;
}
