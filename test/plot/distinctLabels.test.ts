import { describe, expect, test } from "vitest";
import { distinctLabels } from "../../src/plot/distinctLabels.ts";
import { chartTextWidth } from "../../src/plot/textWidth.ts";

describe("distinctLabels", () => {
  test("leaves names that differ as they are, however many", () => {
    const names = Array.from({ length: 60 }, (_, i) => `Hybrid ${i + 1}`);
    expect(distinctLabels(names)).toEqual(names);
  });

  test("keeps names apart that are alike once cut, without a visible sign and without width", () => {
    const names = ["a", "b", "c"].map((end) => `A very long name of a hybrid, kind ${end}`);
    const labels = distinctLabels(names);
    expect(new Set(labels).size).toBe(3);
    expect(new Set(labels.map((label) => label.replaceAll("\u200b", ""))).size).toBe(1);
    expect(chartTextWidth({}, labels[2])).toBe(chartTextWidth({}, labels[0]));
  });
});
