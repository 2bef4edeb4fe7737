import { describe, expect, test } from "vitest";
import { plainText, textWidth, wrapText } from "../../src/report/plainText.ts";
import { textTable } from "../../src/report/textTable.ts";

describe("plain text", () => {
  test("a name from a file cannot move the cursor, ring the bell or turn the writing direction", () => {
    expect(plainText("a\u001b[31mb\u0007c\u202ed\r\ne")).toBe("a�[31mb�c�d e");
  });

  test("width counts combining marks as none and wide characters as two", () => {
    expect([textWidth("玉米"), textWidth("e\u0301"), textWidth("Ünï")]).toEqual([4, 1, 3]);
  });

  test("lines are as long as they may be, a word that is too long is cut, and nothing is lost", () => {
    const text = "one two three abcdefghijklmnopqrstuvwxyz four 95 % five";
    for (let width = 5; width < 30; width++) {
      const lines = wrapText(text, width, "- ", "  ");
      expect(Math.max(...lines.map(textWidth)), `width ${width}`).toBeLessThanOrEqual(width);
      expect(
        lines
          .map((line) => line.slice(2))
          .join("")
          .replaceAll(" ", ""),
      ).toBe(text.replaceAll(" ", ""));
    }
  });

  test("a number stays with its per cent sign", () => {
    expect(wrapText("with a 95 % range", 9)).toEqual(["with a", "95 %", "range"]);
  });
});

describe("text tables", () => {
  const columns = [
    { heading: "Name", align: "left" },
    { heading: "Two\nlines", align: "right" },
  ] as const;

  test("columns are as wide as their widest cell and numbers stand right", () => {
    expect(
      textTable(
        columns,
        [
          ["Amber", "1.5"],
          ["B", "12.5"],
        ],
        40,
      ),
    ).toEqual(["         Two", "Name   lines", "-----  -----", "Amber    1.5", "B       12.5"]);
  });

  test("only a table that would be too wide narrows its left columns, and longer cells go on below", () => {
    const lines = textTable(columns, [["A name of many words", "1"]], 20);
    expect(lines.slice(3)).toEqual(["A name of          1", "many words"]);
    expect(Math.max(...lines.map(textWidth))).toBeLessThanOrEqual(20);
  });
});
