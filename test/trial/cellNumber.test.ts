import { expect, test } from "vitest";
import { cellNumber, decimalEvidence } from "../../src/trial/cellNumber.ts";

const none = new Set<string>();
const read = (text: string, decimal: "." | "," = ".") => {
  const cell = cellNumber(text, decimal, none);
  return cell.kind === "number"
    ? cell.ambiguous
      ? [cell.value, "ambiguous"]
      : cell.value
    : cell.kind === "bad"
      ? cell.reason
      : cell.kind;
};

test("a number has one meaning unless a single mark is followed by three digits", () => {
  const cases: readonly (readonly [string, unknown, unknown])[] = [
    // text, in a file of decimal dots, in a file of decimal commas
    ["210.5", 210.5, 210.5],
    ["210,5", 210.5, 210.5],
    ["34000", 34000, 34000],
    ["34,000", [34000, "ambiguous"], [34, "ambiguous"]],
    ["34.000", [34, "ambiguous"], [34000, "ambiguous"]],
    ["1,234", [1234, "ambiguous"], [1.234, "ambiguous"]],
    ["0,123", 0.123, 0.123],
    ["1234,567", 1234.567, 1234.567],
    ["1,234.5", 1234.5, 1234.5],
    ["1.234,5", 1234.5, 1234.5],
    ["1,234,567", 1234567, 1234567],
    ["1.234.567,8", 1234567.8, 1234567.8],
    ["34 000", 34000, 34000],
    ["34'000", 34000, 34000],
    ["34’000.5", 34000.5, 34000.5],
    ["34\u00a0000", 34000, 34000],
    ["34\u202f000,25", 34000.25, 34000.25],
    ["+5", 5, 5],
    ["−5", -5, -5],
    [".5", 0.5, 0.5],
    [",5", 0.5, 0.5],
    ["5.", 5, 5],
    ["  12.5 ", 12.5, 12.5],
    ["1e3", 1000, 1000],
    ["2,5e-1", 0.25, 0.25],
    ["007", 7, 7],
  ];
  for (const [text, dot, comma] of cases) {
    expect(read(text, "."), `${text} with decimal dots`).toEqual(dot);
    expect(read(text, ","), `${text} with decimal commas`).toEqual(comma);
  }
});

test("words for missing are missing, whatever their case", () => {
  for (const text of ["", " ", "NA", "n/a", "N/A", ".", "-", "--", "–", "NaN", "null", "None", "?", "*", "#N/A"])
    expect(read(text), text).toBe("missing");
  expect(cellNumber("-999", ".", new Set(["-999"])).kind).toBe("missing");
});

test("what is no number says why", () => {
  for (const text of ["21O.5", "abc", "12-May", "34 00", "1,23,456", "1.2.3", "0x10", "5 bu", "<5", "1,,5", "..", "٣٤"])
    expect(read(text), text).toBe("text");
  for (const text of ["Inf", "-inf", "Infinity", "∞", "1e999", "9".repeat(60) + "e300"])
    expect(read(text), text).toMatch(/infinite|text/);
  expect(read("1e999")).toBe("infinite");
  for (const text of ["#DIV/0!", "#VALUE!", "#REF!", "#NAME?"]) expect(read(text), text).toBe("spreadsheet-error");
});

test("a ten-megabyte cell is judged at once", () => {
  expect(read("9".repeat(10_000_000))).toBe("text");
  expect(decimalEvidence("9".repeat(10_000_000))).toBeNull();
});

test("a mark is proved decimal only by a shape that cannot be thousands", () => {
  expect(["12,5", "0,125", "1234,567", "1.234,5"].map(decimalEvidence)).toEqual([",", ",", ",", ","]);
  expect(["12.5", "1,234.5", "1,234,567"].map(decimalEvidence)).toEqual([".", ".", "."]);
  expect(["34,000", "34.000", "34", "abc", "12,"].map(decimalEvidence)).toEqual([null, null, null, null, null]);
});
