import fc from "fast-check";
import { expect, test } from "vitest";
import { parseCsv } from "../../src/trial/csv.ts";
import { detectDelimiter } from "../../src/trial/delimiter.ts";
import { issueLog } from "../../src/trial/issueLog.ts";

function parse(text: string, delimiter = ",") {
  const log = issueLog("Line", 50);
  const { records, lines } = parseCsv(text, delimiter, log);
  return { records: records.map((record) => record.map((cell) => cell.trim())), lines, issues: log.list() };
}

test("lines are counted as an editor does, over quoted line breaks and mixed line ends", () => {
  const { records, lines } = parse('a,b\r\n1,"x\ny"\r2,3\n\n"p\r\nq\rr",4\n5,6');
  expect(records).toEqual([["a", "b"], ["1", "x\ny"], ["2", "3"], [""], ["p\r\nq\rr", "4"], ["5", "6"]]);
  expect(lines).toEqual([1, 2, 4, 5, 6, 9]);
});

test("quoted cells keep separators, doubled quotes and the blanks around them are dropped", () => {
  expect(parse('a, "b, c" ,"say ""hi"""\n').records).toEqual([["a", "b, c", 'say "hi"']]);
  expect(parse('"a";"1,5"\n', ";").records).toEqual([["a", "1,5"]]);
});

test("a broken quote costs its own line only and is reported with that line", () => {
  const { records, lines, issues } = parse('a,b\n1,12" rows\n"2,3\n4,"5\n6"\n"x"y,7\n8,"9"\n');
  expect(lines).toEqual([1, 2, 3, 4, 6, 7]);
  expect(records[1]).toEqual(["1", '12" rows']);
  expect(records.at(-1)).toEqual(["8", "9"]);
  expect(issues.map(({ code, row }) => [code, row])).toEqual([
    ["stray-quote", 2],
    ["stray-quote", 3], // the quote of line 3 would close on line 4, before a digit
    ["stray-quote", 6],
  ]);
});

test("a quote that is never closed is reported where it opens", () => {
  const { records, issues } = parse('a,b\n1,"2\n3,4\n5,6\n');
  expect(issues.map(({ code, row }) => [code, row])).toEqual([["unclosed-quote", 2]]);
  expect(records).toEqual([
    ["a", "b"],
    ["1", '"2'],
    ["3", "4"],
    ["5", "6"],
  ]);
});

test("a file full of broken quotes is still read to its end, line by line", () => {
  const text = `a,b\n${'1,12" tall\n'.repeat(5000)}`;
  const { records, issues } = parse(text);
  expect(records.length).toBe(5001);
  expect(issues.some((issue) => issue.code === "quotes-ignored")).toBe(true);
});

test("a quoted cell of ten megabytes does not swallow the file", () => {
  const { records, issues } = parse(`a,b\n1,"${`${"x".repeat(999)}\n`.repeat(10_000)}"\n2,3\n`);
  expect(records.at(-1)).toEqual(["2", "3"]);
  expect(issues[0]).toMatchObject({ code: "unclosed-quote", row: 2 });
});

const cell = fc.string({ unit: fc.constantFrom("a", "1", ".", ",", ";", '"', "\n", "\r", " ", "é"), maxLength: 8 });

test("any table written with quotes is read back cell by cell, with its line numbers", () => {
  fc.assert(
    fc.property(
      fc.array(fc.array(cell, { minLength: 1, maxLength: 4 }), { minLength: 1, maxLength: 20 }),
      fc.constantFrom("\n", "\r\n", "\r"),
      (table, end) => {
        let line = 1;
        const starts: number[] = [];
        const text = table
          .map((record) => {
            starts.push(line);
            const written = record.map((value) => `"${value.replaceAll('"', '""')}"`).join(",");
            line += 1 + (written.match(/\r\n|\n|\r/g)?.length ?? 0);
            return written;
          })
          .join(end);
        const log = issueLog("Line", 50);
        const { records, lines } = parseCsv(text, ",", log);
        expect(records).toEqual(table);
        expect(lines).toEqual(starts);
        expect(log.list()).toEqual([]);
      },
    ),
  );
});

test("text without quotes gives the same cells with and without the parser", () => {
  const plain = fc.string({ unit: fc.constantFrom("a", "1", ".", ",", "\n", "\r\n", "\r", " "), maxLength: 60 });
  fc.assert(
    fc.property(plain, (text) => {
      const fast = parse(text);
      // A quoted last line makes the piece go through the parser.
      const slow = parse(`${text}\n"q"`);
      expect(slow.records.slice(0, -1).slice(0, fast.records.length)).toEqual(fast.records);
      expect(slow.lines.slice(0, fast.lines.length)).toEqual(fast.lines);
    }),
  );
});

test("the separator is found on the first lines, outside quotes and beside decimal commas", () => {
  expect(detectDelimiter("a,b,c\n1,2,3\n")).toBe(",");
  expect(detectDelimiter("a;b;c\n1,5;2,5;3,25\n")).toBe(";");
  expect(detectDelimiter("a\tb\n1,5\t2,5\n")).toBe("\t");
  expect(detectDelimiter("a|b\n1|2\n")).toBe("|");
  expect(detectDelimiter('"Yield; dry, t/ha",site\n"1,5",x\n')).toBe(",");
  expect(detectDelimiter("Trial, spring 2031; east\nsite;yield\nA;1,5\nB;2,5\n")).toBe(";");
  expect(detectDelimiter("yield\n1.5\n")).toBe(",");
  expect(detectDelimiter("")).toBe(",");
});
