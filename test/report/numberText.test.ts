import { describe, expect, test } from "vitest";
import { countOf, fixed, listText, percentage, pValue, significant } from "../../src/report/numberText.ts";

describe("numbers in text", () => {
  test.each([
    [0, 0, "0"],
    [-0.04, 1, "0.0"],
    [-1234.5, 1, "-1,234.5"],
    [999.96, 1, "1,000.0"],
    [1234567, 0, "1,234,567"],
    [28.865, 1, "28.9"],
  ])("fixed(%d, %d) writes %s", (value, decimals, text) => {
    expect(fixed(value, decimals)).toBe(text);
  });

  test.each([
    [0, 3, "0"],
    [0.0002, 2, "0.0002"],
    [94.7, 3, "94.7"],
    [100, 3, "100"],
    [15.5, 3, "15.5"],
    [123456, 2, "120,000"],
    [0.00075123, 2, "0.00075"],
    [95, 4, "95"],
  ])("significant(%d, %d) writes %s, without trailing zeros", (value, digits, text) => {
    expect(significant(value, digits)).toBe(text);
  });

  test("a share never claims certainty", () => {
    expect([percentage(1), percentage(0), percentage(0.634)]).toEqual(["more than 99 %", "less than 1 %", "63 %"]);
  });

  test("p-values are floored, not written as zero", () => {
    expect([pValue(1e-9), pValue(0.017), pValue(0.05), pValue(0.237)]).toEqual([
      "p < 0.001",
      "p = 0.02",
      "p = 0.05",
      "p = 0.24",
    ]);
  });

  test("counts and lists read as sentences do", () => {
    expect([countOf(1, "plot"), countOf(0, "plot"), countOf(1204, "plot")]).toEqual([
      "1 plot",
      "0 plots",
      "1,204 plots",
    ]);
    expect([listText([]), listText(["a"]), listText(["a", "b"]), listText(["a", "b", "c"])]).toEqual([
      "",
      "a",
      "a and b",
      "a, b and c",
    ]);
  });
});
