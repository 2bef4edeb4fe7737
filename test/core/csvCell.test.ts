import { parse } from "csv-parse/sync";
import fc from "fast-check";
import { expect, test } from "vitest";
import { csvCell } from "../../src/core/csvCell.ts";

test("what a spreadsheet would run gets an apostrophe, full-width signs included; plain numbers stay", () => {
  for (const cell of [
    "=1+1",
    "+A1",
    "-2+3",
    "@SUM(A1)",
    "\tx",
    "\rx",
    "\nx",
    "＝1+1",
    "＋A1",
    "－A1",
    "＠A1",
    "=HYPERLINK(1)",
  ])
    expect(parse(csvCell(cell))[0][0]).toBe(`'${cell}`);
  for (const cell of ["-12.5", "+3", "1e3", "-.5", "Amber 12", "5-10", ""]) expect(csvCell(cell)).toBe(cell);
  expect([null, 0, -1.5, true, false].map(csvCell)).toEqual(["", "0", "-1.5", "true", "false"]);
});

test("any text comes back from an independent reader of RFC 4180, but for the apostrophe", () => {
  fc.assert(
    fc.property(fc.array(fc.string({ unit: "binary" }), { minLength: 2, maxLength: 5 }), (cells) => {
      const [row] = parse(`x,${cells.map(csvCell).join(",")}\r\n`, { relax_column_count: true }) as string[][];
      row.slice(1).forEach((read, i) => {
        if (read !== cells[i]) expect(read).toBe(`'${cells[i]}`);
        else expect(/^[=+\-@\t\r\n]/.test(read) && Number.isNaN(Number(read))).toBe(false);
      });
    }),
  );
});
