import fc from "fast-check";
import { expect, test } from "vitest";
import { issueLog } from "../../src/trial/issueLog.ts";
import { checkSchema } from "../../src/trial/schema.ts";
import { tableReader } from "../../src/trial/tableReader.ts";
import { textTable } from "../../src/trial/textTable.ts";

/** Long enough that the reader works in several parts. */
function longTable(cells: readonly string[], end: string, start = ""): string {
  const rows = [`${start}hybrid,note,seeding_rate_k_ac,yield_bu_ac`];
  for (let i = 0; rows.length < 9000; i++)
    rows.push(`Hybrid ${i % 7},${cells[i % cells.length]},${20 + (i % 5)},2${i % 90}.5`);
  return rows.join(end);
}

function inParts(
  text: string,
  sizes: readonly number[],
): { rows: unknown[]; lines: number[]; header: unknown; issues: unknown } {
  const log = issueLog("Line", 50);
  const reader = tableReader(checkSchema({}), log);
  const rows: unknown[] = [];
  const lines: number[] = [];
  const take = (part: { rows: readonly unknown[]; lines: readonly number[] }): void => {
    for (const row of part.rows) rows.push(row);
    for (const line of part.lines) lines.push(line);
  };
  for (let at = 0, i = 0; at < text.length; i++) {
    const size = sizes[i % sizes.length] ?? 1;
    take(reader.push(text.slice(at, at + size)));
    at += size;
  }
  take(reader.end());
  return { rows, lines, header: reader.header, issues: log.list() };
}

const tricky = ["plain", '"two\nlines"', '"with ""quotes"""', '"a,b"', "  ", 'broken " quote', "über", '"\r\n"', ""];

test("a table in parts of any size is the table of the whole text, with its lines and its issues", () => {
  fc.assert(
    fc.property(
      fc.array(fc.constantFrom(...tricky), { minLength: 1, maxLength: 12 }),
      fc.constantFrom("\n", "\r\n", "\r"),
      fc.array(fc.integer({ min: 1, max: 150_000 }), { minLength: 1, maxLength: 5 }),
      fc.constantFrom("", "\ufeff", "Trial of 2031\n\n"),
      (cells, end, sizes, start) => {
        const text = longTable(cells, end, start);
        const log = issueLog("Line", 50);
        const whole = textTable(text, checkSchema({}), log);
        const parts = inParts(text, sizes.some((size) => size > 2000) ? sizes : [...sizes, 60_000]);
        expect(parts.header).toEqual(whole?.header);
        expect(parts.lines.length).toBe(whole?.rows.length);
        expect(parts.lines.every((line, i) => line === whole?.lines[i])).toBe(true);
        expect(JSON.stringify(parts.rows) === JSON.stringify(whole?.rows)).toBe(true);
        expect(parts.issues).toEqual(log.list());
      },
    ),
    { numRuns: 5 },
  );
});

test("an unquoted cell loses its outer blanks whether or not its part of the text has a quote", () => {
  // The plain first 200,000 characters need no parser; the last row's quote brings it in.
  const text = `${longTable(["  ", "  plain "], "\r\n")}\r\nHybrid 9,"a,b",20,250`;
  const { rows } = inParts(text, [1, 9, 13140]);
  const notes = new Set(rows.slice(0, -1).map((row) => (row as string[])[1]));
  expect([...notes]).toEqual(["", "plain"]);
  expect((rows.at(-1) as string[])[1]).toBe("a,b");
});

test("lines are counted as an editor counts them, across parts and quoted line ends", () => {
  // 9,000 records; every third note holds a line end, so it takes two lines.
  const text = longTable(["a", "b", '"two\nlines"'], "\n");
  const { lines } = inParts(text, [70_001]);
  expect(lines[0]).toBe(2);
  expect(lines[3]).toBe(6); // the third row takes lines 4 and 5
  expect(lines.at(-1)).toBe(text.slice(0, text.lastIndexOf("\nHybrid") + 1).split("\n").length);
});

test("a quote left open at the start costs its line, not the file", () => {
  const text = longTable(["plain"], "\n").replace("Hybrid 0,plain", 'Hybrid 0,"plain');
  const { rows, issues } = inParts(text, [50_000]);
  expect(rows.length).toBe(8999);
  expect(issues).toMatchObject([{ code: "unclosed-quote", row: 2 }]);
});
