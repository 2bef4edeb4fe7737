import { readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import type { TrialAnalysis } from "../../src/analyze/result.ts";
import { htmlPage } from "../../src/report/htmlPage.ts";
import { pageCharts } from "../../src/report/pageCharts.ts";
import { reportDocument } from "../../src/report/reportDocument.ts";
import { sectionCharts } from "../../src/report/sectionCharts.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import type { Trial } from "../../src/trial/trial.ts";
import { manyHybrids } from "./manyHybrids.ts";
import { demoTrials, oddTrials } from "./oddTrials.ts";

function analysed(text: string, mixedModels = true): { trial: Trial; analysis: TrialAnalysis } {
  const { trial, issues } = readTrial(text);
  if (trial === null) throw new Error("the trial must be readable");
  return { trial, analysis: analyzeTrial(trial, { issues, resamples: 0, mixedModels, standability: false }) };
}

/** The invented trial with its plots laid out in rows of ten. */
const placed = manyHybrids(2)
  .trim()
  .split("\n")
  .map((line, i) => (i === 0 ? `${line},row,column` : `${line},${Math.ceil(i / 10)},${((i - 1) % 10) + 1}`))
  .join("\n");

describe("maps of the field in a report", () => {
  test("stand in the section on the place in the field, one for each environment with positions", () => {
    const strips = analysed(readFileSync(new URL("../../data-demo/strips.csv", import.meta.url), "utf8"));
    expect(sectionCharts(strips.analysis, {})["Place in the field"]).toBeUndefined();
    const maps = sectionCharts(strips.analysis, {}, strips.trial)["Place in the field"];
    expect(maps.map(({ alt }) => alt.slice(0, 40))).toEqual(["Map of 40 plots of South field 2032 in 4"]);
  });

  test("have a section of their own where nothing else is said of the place", async () => {
    const { analysis, trial } = analysed(placed, false);
    expect(reportDocument(analysis, "").sections.some(({ title }) => title === "Place in the field")).toBe(false);
    const charts = await pageCharts(analysis, { trial, render: async () => "<svg/>" });
    const page = htmlPage(analysis, { charts });
    expect(page.match(/<h2>Place in the field<\/h2>\s*<figure/g)?.length).toBe(1);
    expect(page).toMatch(/<li><a href="#part-\d+">Place in the field<\/a>/);
  });

  test("are left out where plots have no position", () => {
    const { analysis, trial } = analysed(manyHybrids(2));
    expect(sectionCharts(analysis, {}, trial)["Place in the field"]).toBeUndefined();
  });
});

describe("headings of a report", () => {
  /** Longer ones would be sentences. */
  const LONGEST = 40;

  test.each([...Object.entries(demoTrials), ...Object.entries(oddTrials)])(
    "are short and no sentences: %s",
    (_, make) => {
      const analysis = make();
      const { summary, glance, hybrids, sections } = reportDocument(analysis, "$");
      const own = [
        ...summary,
        ...glance,
        ...hybrids.flatMap(({ blocks }) => blocks),
        ...sections.flatMap(({ blocks }) => blocks),
      ];
      const headings = [
        ...own.flatMap((block) => (block.kind === "heading" ? [block.text] : [])),
        ...sections.map(({ title }) => title),
      ];
      expect(headings.filter((text) => text.length > LONGEST || /[.!?:;,]$|[.!?] /.test(text))).toEqual([]);
    },
  );
});
