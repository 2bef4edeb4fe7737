import { describe, expect, test } from "vitest";
import { csvText } from "../../src/report/csvText.ts";
import { foundShare, shareRange, statedShare } from "../../src/report/standWords.ts";
import { tidyColumns, tidyTables } from "../../src/report/tidyTables.ts";
import { trialText } from "../../src/report/trialText.ts";
import { demoTrials, oddTrials } from "./oddTrials.ts";

const flowing = (name: string, options = {}): string => {
  const make = { ...demoTrials, ...oddTrials }[name];
  if (make === undefined) throw new Error(`no trial ${name}`);
  return trialText(make(), options).replace(/\s+/g, " ");
};

describe("what the report says about standing plants", () => {
  test("a limit below the yield optimum is said near the top, with its range, what lodges there, and what decides", () => {
    const text = flowing("lodges below the optimum");
    const head = text.slice(0, text.indexOf("What pays best"));
    expect(head).toMatch(
      /! A: stalk lodging passes 10 % at [\d.]+ thousand plants\/ac \(95 % range [\d.]+ to [\d.]+\): below the best-paying stand of 28\.2, where 1\d % lodge, so standability decides\./,
    );
    expect(text).toMatch(/A 28\.2 !/);
    expect(text).toContain("! Too many plants lodge before this rate is reached (more than 10 %)");
  });

  test("a limit above it: yield decides, and a close call is called one", () => {
    expect(flowing("standing")).toMatch(
      /above the best-paying stand of [\d.]+, where [\d.]+ % lodge, so yield decides\./,
    );
    expect(flowing("standing")).toContain("it is a close call: do not go above it");
  });

  test("each density with its counts, share, range, chance and verdict", () => {
    expect(trialText(oddTrials["lodges everywhere"]?.() as never)).toMatch(
      / {2}18\.0 +4 +\d+ of 240 +\d+ % +\d+ to \d+ % +more than 99 % +lodges\n/,
    );
  });

  test("densities of several environments share a line when they stem from one rate", () => {
    const text = trialText(demoTrials["plots"]?.() as never);
    expect(text).toMatch(/ {2}16\.7 to 17\.3 +12 +0 of 720 .* stands\n {2}21\.4 to 22\.1 +12 /);
    expect(text).toMatch(/Standability by environment, in thousand plants\/ac/);
    // In detail every density has its own line.
    const detailed = trialText(demoTrials["plots"]?.() as never, { detail: true });
    expect(detailed).toMatch(/ {2}16\.7 +4 +\d+ of 240/);
  });

  test("nothing lodged: the one-sided statement, its assumption, and no curve", () => {
    const text = flowing("nothing lodged");
    expect(text).toContain(
      "No plant lodged (none of 1200 plants: below 0.25 % at 95 %, if plants fall independently), so yield decides.",
    );
    expect(text).not.toContain("there is no curve to fit");
    expect(flowing("few plants, nothing lodged")).toContain("too few plants to say up to which density it holds");
  });

  test("more lodging at every density than tolerated: no tested density meets it", () => {
    expect(flowing("lodges everywhere")).toContain(
      "exceeds 10 % even at the lowest tested stand, 18.0 thousand plants/ac, so standability decides, and no tested stand meets it.",
    );
  });

  test("less lodging at denser stands: no highest density is named", () => {
    const text = flowing("less lodging when dense");
    expect(text).toContain("Stalk lodging: the fitted share falls as density rises");
    expect(text).toContain("The counts do not place a standability limit for A.");
  });

  test("without yield the plants are judged all the same, and the plots listed with what is used of them", () => {
    const text = flowing("lodging without yield");
    expect(text).toContain("No yield response could be analysed, only how the plants stand");
    expect(text).toContain("Yield not analysed: no plot has both a density and a yield.");
    expect(text).toContain("Stalk lodging stays below 10 % up to the highest tested stand");
    expect(text).toContain("no yield; its lodging counts are used");
  });

  test("shares without counts say so", () => {
    expect(flowing("percentages of lodging")).toContain("Shares without counts: every plot has the same weight");
  });

  test("stalks that fail a push test still stand: they warn, and do not decide", () => {
    const text = flowing("push test only");
    expect(text).toContain("Stalks are weak at the best-paying stand: such fields are harvested first.");
    expect(text).not.toContain("standability decides");
    expect(text).toContain("Stalks that fail the test still stand: beyond 10 % of them, harvest early.");
    expect(text).toMatch(/18\.0 4 26 of 240 .* likely fails/);
    expect(text).not.toContain("Harvest pays best");
  });

  test("on the seeding-rate axis limits are seeds, with the stand behind them", () => {
    expect(flowing("seeding rates that lodge")).toMatch(
      /stalk lodging passes 5 % at [\d,]+ seeds\/ac \(a stand of about [\d.]+ thousand plants\/ac; 95 % range [\d,]+ to [\d,]+\)/,
    );
  });

  test("the loss share is called a convention unless it was stated", () => {
    expect(flowing("standing")).toContain(
      "If half of a lodged plant's grain is lost (a convention: put in your own figure), the best-paying stand is",
    );
    expect(flowing("seeding rates that lodge")).toContain("If 20 % of a lodged plant's grain is lost (as stated)");
  });

  test("where stalks begin to weaken, ears, ratings and rounds of counting are told", () => {
    const text = flowing("standing");
    expect(text).toMatch(
      /Rind strength \(column rind_strength_lbf, mean [\d.]+ lbf\) begins to fall at [\d.]+ thousand plants\/ac/,
    );
    expect(text).toMatch(/Ear height .* rises with density: 1 % more plants make it 0\.\d+ % more/);
    expect(text).toMatch(
      /the chance of a rating worse than 5 is less than 1 % at 18\.8, \d+ % at [\d.]+, \d+ % at 37\.6/,
    );
    expect(text).toContain("By date of the count");
    expect(text).toContain("choose the line that fits the harvest you plan");
  });

  test("cautions: the day of the count, the weather, the loss, label and adviser", () => {
    const text = flowing("standing");
    for (const words of ["as counted on that day", "a later harvest", "the loss share is an assumption", "seed label"])
      expect(text).toContain(words);
    expect(flowing("strips")).not.toContain("as counted on that day");
  });

  test("nothing is said when nothing was recorded, or when it is not wanted", () => {
    for (const name of ["strips", "no standability wanted"]) {
      expect(flowing(name)).not.toMatch(/How they stand|Standability /);
    }
  });
});

describe("the table of standability", () => {
  const { standability, estimates } = tidyTables(demoTrials["standing"]?.() as never);

  test("has one row an estimate, all with the same columns", () => {
    for (const row of standability) expect(Object.keys(row)).toEqual(tidyColumns.standability);
    const keys = standability.map((row) =>
      ["hybrid", "environment", "quantity", "subject", "counted", "density", "method", "kind", "note"]
        .map((c) => row[c])
        .join("|"),
    );
    expect(new Set(keys).size).toBe(keys.length);
  });

  test("has a limit for each kind and round, and a share for each density of them", () => {
    const of = (quantity: string) =>
      standability.filter((row) => row["quantity"] === quantity && row["hybrid"] === "Hazel 3");
    expect(of("limit").map((row) => row["subject"])).toEqual(["all", "stalk", "root", "push", "all", "stalk", "root"]);
    expect(of("lodged_share")).toHaveLength(7 * 6);
    expect(of("rind_strength_break")).toHaveLength(1);
  });

  test("the limit and the harvestable optimum are among the estimates too", () => {
    const names = estimates.map((row) => row["quantity"]);
    for (const name of ["standability_limit", "standability_limit_seeding_rate", "harvestable_economic_density"])
      expect(names).toContain(name);
  });

  test("becomes CSV without a word of the machine", () => {
    expect(csvText(standability, tidyColumns.standability)).not.toMatch(/NaN|Infinity|undefined|\[object/);
  });
});

describe("shares in words", () => {
  test.each([
    [0, "0 %"],
    [0.0001, "below 0.1 %"],
    [0.0123, "1.2 %"],
    [0.0994, "9.9 %"],
    [0.0996, "10 %"],
    [0.5, "50 %"],
    [1, "100 %"],
  ])("%s is %s", (share, text) => {
    expect(foundShare(share)).toBe(text);
  });

  test("ranges and stated shares", () => {
    expect(shareRange(0.001, 0.0238)).toBe("0.1 to 2.4 %");
    expect(shareRange(0, 0.00001)).toBe("below 0.1 %");
    expect(shareRange(0.301, 0.302)).toBe("30 %");
    expect([statedShare(0.1), statedShare(0.075)]).toEqual(["10 %", "7.5 %"]);
  });
});
