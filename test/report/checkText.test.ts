import { describe, expect, test } from "vitest";
import { checkText } from "../../src/report/checkText.ts";
import { issueCounts, issueText } from "../../src/report/issueText.ts";
import { textWidth } from "../../src/report/plainText.ts";
import { checkTrial } from "../../src/trial/checkTrial.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import { demo, five, hostileNames, peak, reading, table } from "./oddTrials.ts";

function report(source: string): string {
  const { trial, issues } = reading(source);
  if (trial === null) throw new Error("unreadable");
  return checkText(checkTrial(trial), issues);
}
const flowing = (source: string): string => report(source).replace(/\s+/g, " ");

describe("the report of a check", () => {
  test.each(["plots", "strips", "messy-semicolon"])("of the demo file %s fits a hundred columns", (name) => {
    const text = report(demo(name));
    expect(Math.max(...text.split("\n").map(textWidth))).toBeLessThanOrEqual(100);
    expect(text).toMatch(/[^\n]\n$/);
  });

  test("says what the design cannot carry and why, for all hybrids at once", () => {
    const text = flowing(table(peak, [20, 30], { hybrids: ["A", "B"] }));
    expect(text).toContain(
      "It cannot tell whether yield peaks or levels off: it needs three densities, and there are 2.",
    );
    expect(text).toContain("It cannot tell a range for the optimum: an optimum needs at least three densities.");
  });

  test("names the hybrids when it holds for some only", () => {
    const some =
      table(peak, five, { hybrids: ["Good"] }) + table(peak, [20, 30], { hybrids: ["Thin"] }).replace(/^.*\n/, "");
    expect(flowing(some)).toContain("It cannot tell a range for the optimum for Thin:");
  });

  test("folds warnings that differ in the hybrid alone", () => {
    const text = flowing(table(peak, [18, 24, 30], { hybrids: ["A", "B", "C"] }));
    expect(text).toContain("A, B and C: 3 densities only.");
  });

  test("has no section of limits when there are none", () => {
    expect(report(demo("plots"))).not.toContain("What it cannot tell");
  });

  test("survives hostile names", () => {
    const text = report(table(peak, five, { hybrids: hostileNames }));
    // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for
    expect(text).not.toMatch(/[\u0000-\u0009\u000b-\u001f\u007f]/);
    expect(Math.max(...text.split("\n").map(textWidth))).toBeLessThanOrEqual(100);
  });

  test("of the demo strips is the committed text", async () => {
    await expect(report(demo("strips"))).toMatchFileSnapshot("../snapshot/check-strips.txt");
  });
});

describe("issues in text", () => {
  const { issues } = readTrial(demo("messy-cells"));

  test("errors come first, then warnings, then notes", () => {
    const places = ["Errors (", "Warnings (", "Notes:"].map((word) => issueText(issues).indexOf(word));
    expect(places.filter((place) => place >= 0)).toEqual(places.filter((place) => place >= 0).sort((a, b) => a - b));
    expect(places[0]).toBe(0);
  });

  test("beyond the limit issues of a kind are counted, folded ones included", () => {
    const one = {
      severity: "error",
      code: "bad",
      row: 2,
      column: "y",
      received: "x",
      rule: "r",
      remedy: "m",
      message: "M.",
    } as const;
    const many = [one, { ...one, row: 3 }, { ...one, row: 4, count: 40 }];
    expect(issueText(many, { limit: 1 })).toBe(
      "Errors (value or row not used):\n  - M.\n    and 41 more of this kind\n",
    );
  });

  test("no issue gives no text", () => {
    expect(issueText([])).toBe("");
    expect(issueCounts([])).toBe("no problems");
  });
});
