import { describe, expect, test } from "vitest";
import type { TrialAnalysis } from "../../src/analyze/result.ts";
import { plainText, textWidth } from "../../src/report/plainText.ts";
import { trialText } from "../../src/report/trialText.ts";
import { demoTrials, oddTrials } from "./oddTrials.ts";

const made = new Map<string, TrialAnalysis>();
function trial(name: string): TrialAnalysis {
  const known = made.get(name);
  if (known !== undefined) return known;
  const make = { ...demoTrials, ...oddTrials }[name];
  if (make === undefined) throw new Error(`no trial ${name}`);
  const analysis = make();
  made.set(name, analysis);
  return analysis;
}
/** The report on one line, so that a sentence is found wherever it was broken. */
const flowing = (name: string, options = {}): string => trialText(trial(name), options).replace(/\s+/g, " ");
const names = [...Object.keys(demoTrials), ...Object.keys(oddTrials)];

describe("the report of any trial", () => {
  test.each(names)("%s: fits its columns, ends in one line end, and holds no word of the machine", (name) => {
    for (const width of [60, 100]) {
      const text = trialText(trial(name), { width, detail: true });
      // Tables may not be narrower than their numbers, which need some 90 columns.
      if (width === 100) expect(Math.max(...text.split("\n").map(textWidth))).toBeLessThanOrEqual(width);
      const own = text.split("\nProblems found in the file")[0] as string;
      expect(own).not.toMatch(/\b(NaN|undefined|null|Infinity)\b|\[object/);
      expect(text).toMatch(/[^\n]\n$/);
      expect(text).not.toMatch(/[ \t]\n|\n\n\n/);
    }
  });

  test.each(names)("%s: names every hybrid, on a line of its own", (name) => {
    const analysis = trial(name);
    const text = trialText(analysis).replace(/\s+/g, " ");
    for (const { hybrid } of analysis.hybrids) expect(text).toContain(plainText(hybrid).slice(0, 20).trim());
  });

  test("control characters in names do not reach the terminal", () => {
    // biome-ignore lint/suspicious/noControlCharactersInRegex: they are what is looked for
    expect(trialText(trial("hostile names"), { detail: true })).not.toMatch(/[\u0000-\u0009\u000b-\u001f\u007f]/);
  });

  test("the same result gives the same text", () => {
    expect(trialText(trial("strips"))).toBe(trialText(JSON.parse(JSON.stringify(trial("strips"))) as TrialAnalysis));
  });
});

describe("what the report says", () => {
  test("an interior optimum: the rate, the yield there, what is nearly as good, and the interval", () => {
    const text = flowing("one hybrid");
    expect(text).toContain("The best-paying stand is 28.2 thousand plants/ac");
    expect(text).toMatch(
      /On this curve anything from 27\.0 to 29\.4 thousand plants\/ac costs less than 1\.00 per ac\./,
    );
    expect(text).toMatch(/This trial places it between [\d.]+ and [\d.]+ thousand plants\/ac, with 95 % confidence\./);
  });

  test("with seeding rates, the rate to plant beside the stand", () => {
    const report = flowing("plots");
    expect(report).toMatch(/The best-paying stand is [\d.]+ thousand plants\/ac, which takes [\d,]+ seeds\/ac\./);
    expect(report).toMatch(/places it between [\d.]+ and [\d.]+ thousand plants\/ac \([\d,]+ to [\d,]+ seeds\/ac\)/);
  });

  test("the single curve's interval is mentioned as narrower for a bad reason, once per hybrid", () => {
    expect(flowing("plots")).toContain(
      "that is narrower only because it ignores that the curve was chosen from the same plots",
    );
  });

  test("no response: fewer seeds paid best among those tested, nothing thinner is advised", () => {
    const text = flowing("flat");
    expect(text).toContain(
      "Yield did not respond to density in these plots, so fewer seeds paid best among those tested: 18.0 thousand plants/ac",
    );
    expect(text).toContain("Nothing thinner was tested: do not go below it on this evidence.");
    expect(text).toContain("No stand yields more than another on the chosen curve");
    expect(text).toContain("no response to density is not excluded");
  });

  test("still rising: the highest tested density or more, not bounded from above", () => {
    const text = flowing("still rising");
    expect(text).toContain("The stand that pays best is 42.0 thousand plants/ac or more");
    expect(text).toContain("Yield still rises at the highest tested density.");
    expect(text).toContain("It is not bounded from above.");
    expect(text).not.toContain("between 40");
  });

  test("too few plots: not settled, and no rate anywhere", () => {
    for (const name of ["four plots", "five plots", "flat only"]) {
      const text = flowing(name);
      expect(text).toContain("These plots do not settle which density pays best.");
      expect(text).not.toMatch(/best-paying|Flex score \d/);
    }
  });

  test("no usable plot: it says so and lists them", () => {
    expect(flowing("all left out")).toContain("No plot can be used; 2 left out (listed below).");
    expect(flowing("all left out")).toContain("No hybrid could be analysed");
    expect(flowing("no yields")).toContain("Not analysed: no plot has both a density and a yield.");
  });

  test("without prices nothing is said about what pays", () => {
    const text = flowing("no prices");
    expect(text).toContain("No prices were given");
    expect(text).not.toMatch(/best-paying|What pays best|per ac/);
  });

  test("without scatter there is no interval, and it says so", () => {
    expect(flowing("no error left")).toContain(
      "There is no 95 % range for it: the plots show no scatter to judge it by.",
    );
  });

  test("without resampling the flex score keeps its range: the envelope needs no replicates", () => {
    expect(flowing("no resampling")).toMatch(/Flex score \d+ \(95 %: [^)]+\) between/);
  });

  test("hybrids on ranges apart have no flex score, with the reason, and are not compared", () => {
    const text = flowing("ranges apart");
    expect(text).toContain("No flex score: the densities tested for the hybrids do not overlap");
    expect(text).not.toContain("Flex scores compared");
  });

  test("curves that fit alike and put the optimum elsewhere are a marked warning", () => {
    expect(trialText(trial("plots"))).toMatch(/^! .*fit about equally well/m);
  });

  test("an optimum at an end says what a miss costs on the tested side only", () => {
    expect(flowing("still rising")).toMatch(
      /Missing it by 2,000 plants\/ac costs [\d.]+ when too thin, per ac \(denser was not tested\)\./,
    );
  });

  test("hybrids get sections when they are few or when asked, and a digest otherwise", () => {
    const many = trialText(trial("thirty hybrids"));
    expect(many).not.toMatch(/^Hybrid 7\n-+$/m);
    expect(many).toMatch(/^! .*: all hybrids\.$/m);
    expect(trialText(trial("thirty hybrids"), { detail: true })).toMatch(/^Hybrid 7\n-+$/m);
    expect(trialText(trial("strips"), { detail: false })).not.toMatch(/^Amber 12\n-+$/m);
  });

  test("full detail adds the curves compared", () => {
    expect(trialText(trial("strips"))).not.toContain("Curves compared");
    expect(trialText(trial("strips"), { detail: true })).toContain("Curves compared");
  });

  test("errors in the file come before warnings and notes, plots left out are listed with reasons", () => {
    const text = trialText(trial("messy-semicolon"));
    const at = ["Plots left out", "Errors (", "Warnings (", "Notes:"].map((word) => text.indexOf(word));
    expect(at.every((place) => place > 0)).toBe(true);
    expect([...at].sort((a, b) => a - b)).toEqual(at);
  });

  test("cautions and provenance are always there", () => {
    for (const name of names) {
      const text = flowing(name);
      expect(text).toContain("Follow the seed label, local rules and a licensed adviser");
      expect(text).toMatch(/Made by standcurve \d/);
    }
    expect(flowing("strips")).toContain(trial("strips").inputHash);
    expect(flowing("rows")).toContain("input given as rows");
  });
});

describe("snapshots", () => {
  test.each(["strips", "messy-semicolon", "messy-cells"])("the report of the demo file %s", async (name) => {
    await expect(trialText(trial(name), { currency: "$" })).toMatchFileSnapshot(`../snapshot/report-${name}.txt`);
  });
});
