import { describe, expect, test } from "vitest";
import { commandHelp } from "../../src/node/commandHelp.ts";
import { commandOptions } from "../../src/node/commandOptions.ts";
import { commandWords } from "../../src/node/commandWords.ts";
import { progressLine } from "../../src/node/progressLine.ts";
import { suggestion } from "../../src/node/suggestion.ts";

describe("the library's words at the command line", () => {
  test.each([
    ['declare schema.units { yield: "t/ha" }', 'declare --unit yield="t/ha"'],
    [
      "declare schema.columns { seedingRate: null, targetDensity: null }",
      "declare --column seedingRate= --column targetDensity=",
    ],
    ['with schema.columns, for example { hybrid: "hybrid" }', 'with --column hybrid="hybrid"'],
    ["schema.columns { block: … }", "--column block=HEADER"],
    ["named with schema.columns", "named with --column ROLE=HEADER"],
    ['declare schema.yieldMoisture "harvest"', 'declare --yield-moisture "harvest"'],
    ['compare with schema.densityAxis "plot-stand"', 'compare with --axis "plot-stand"'],
    ["schema.units.yield must be a unit", "--unit yield= must be a unit"],
    ["give { name, poundsPerBushel, standardMoisture }", "give NAME with --bushel-weight and --standard-moisture"],
    ["nothing to translate", "nothing to translate"],
  ])("%s", (library, command) => {
    expect(commandWords(library)).toBe(command);
  });

  test("every option that a remedy can name exists", () => {
    const names = commandOptions.map(({ name }) => name);
    const schema =
      "crop standardMoisture yieldMoisture densityUnit yieldUnit densityAxis establishment hybrid environment rowWidth countLength countRows weightBySubSamples decimal delimiter missing acceptMagnitudes strict columns units";
    for (const key of schema.split(" ")) {
      const option = commandWords(`schema.${key}`).slice(2).split(" ")[0];
      expect(names, key).toContain(option);
    }
  });
});

describe("help", () => {
  test("fits a terminal and lists every option once", () => {
    const help = commandHelp(null);
    for (const { name } of commandOptions)
      expect(help.match(new RegExp(`^  --${name}( |$)`, "gm")), name).toHaveLength(1);
    expect(Math.max(...help.split("\n").map((line) => line.length))).toBeLessThanOrEqual(112);
  });
});

describe("suggestions", () => {
  test.each([
    ["grain-prize", "grain-price"],
    ["levle", "level"],
    ["famlies", "families"],
    ["near-best-l", "near-best-loss"],
    ["xyz", null],
    ["", null],
  ])("%s: %s", (word, meant) => {
    expect(
      suggestion(
        word,
        commandOptions.map(({ name }) => name),
      ),
    ).toBe(meant);
  });
});

describe("progress", () => {
  test("short work is not reported", () => {
    let text = "";
    const progress = progressLine({ write: (piece) => (text += piece), isTTY: true });
    progress.report(1, 2, "A");
    progress.clear();
    expect(text).toBe("");
  });
});
