import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { readdir } from "node:fs/promises";
import { join } from "node:path";
import { Ajv2020 } from "ajv/dist/2020.js";
import { describe, expect, test } from "vitest";
import { trialAnalysisSchema } from "../../src/analyze/schema.ts";
import { version } from "../../src/version.ts";
import { five, hostileNames, peak, table } from "../report/oddTrials.ts";
import { demoPath, inFolder, run } from "./runInProcess.ts";

const quick = ["--resamples", "20", "--pooled-only"];
const priced = ["--grain-price", "4.5", "--seed-cost", "3.75"];

describe("analyze", () => {
  test("prints the report and ends with 0 when the file has no error", async () => {
    const { code, out, err } = await run(["analyze", demoPath("strips"), ...quick, ...priced, "--currency", "$"]);
    expect(code).toBe(0);
    expect(err).toBe("");
    expect(out).toMatch(/^Maize: how densely to plant\n/);
    expect(out).toContain("grain $4.50 per bu");
  });

  test("still prints the report, and ends with 1, when rows had errors", async () => {
    const { code, out } = await run(["analyze", demoPath("messy-semicolon"), ...quick]);
    expect(code).toBe(1);
    expect(out).toContain("Errors (value or row not used):");
  });

  test("--strict stops at errors: no report, the errors on the error stream, 1", async () => {
    const { code, out, err } = await run(["analyze", demoPath("messy-semicolon"), "--strict"]);
    expect([code, out]).toEqual([1, ""]);
    expect(err).toContain("12,9o");
    expect(err).not.toMatch(/\n\s+at /);
  });

  test("--json prints the result and nothing else, and it fits the schema", async () => {
    const { code, out } = await run(["analyze", demoPath("messy-semicolon"), ...quick, "--json"]);
    expect(code).toBe(1);
    expect(new Ajv2020({ allowUnionTypes: true }).validate(trialAnalysisSchema, JSON.parse(out))).toBe(true);
  });

  test("--json prints the issues when no analysis is possible", async () => {
    const { code, out, err } = await run(["analyze", "-", "--json"], ["hybrid,yield_bu_ac\nA,100\n"]);
    expect(code).toBe(1);
    expect(JSON.parse(out)).toMatchObject({ schema: "standcurve/issues/1" });
    expect(err).toContain("no analysis is possible");
  });

  test("the same file, options and seed give the same bytes", async () => {
    const once = await run(["analyze", demoPath("strips"), ...quick, "--json"]);
    expect((await run(["analyze", demoPath("strips"), ...quick, "--json"])).out).toBe(once.out);
    expect((await run(["analyze", demoPath("strips"), ...quick, "--json", "--seed", "2"])).out).not.toBe(once.out);
  });

  test("--csv prints the estimates as CSV", async () => {
    const { out } = await run(["analyze", demoPath("strips"), ...quick, "--csv", "--quiet"]);
    expect(out.split("\r\n")[0]).toBe(
      "hybrid,environment,quantity,unit,estimate,lower,upper,lower_open,upper_open,level,method,kind,family,note",
    );
  });

  test("- reads the standard input, in whatever pieces and encoding it comes", async () => {
    const text = table(peak, five, { hybrids: ["Größe"] });
    const bytes = new TextEncoder().encode(text);
    const pieces = [bytes.subarray(0, 35), bytes.subarray(35, 47), bytes.subarray(47)];
    const whole = await run(["analyze", "-", ...quick], [text]);
    expect(whole.out).toContain("Größe");
    expect((await run(["analyze", "-", ...quick], pieces)).out).toBe(whole.out);
  });

  test.each([
    ["0.05", 0.05],
    ["5%", 0.05],
    ["7.5 %", 0.075],
  ])("--tolerated-lodging %s is the share %d", async (written, share) => {
    const { out } = await run(["analyze", demoPath("strips"), ...quick, "--json", "--tolerated-lodging", written]);
    expect(JSON.parse(out).settings.toleratedLodging).toBe(share);
  });

  test.each(["10", "1", "0", "100%", "-0.1", "ten", "0,1"])(
    "--tolerated-lodging %s is refused: a share or a percentage with its sign",
    async (written) => {
      const { code, err } = await run(["analyze", demoPath("strips"), `--tolerated-lodging=${written}`]);
      expect(code).toBe(2);
      expect(err).toContain("such as 0.1, or a percentage with its sign, such as 10%");
      if (written === "10") expect(err).toContain("write 10% if per cent is meant");
    },
  );

  test("--loss takes 0 and 100%, and refuses a bare 1, which may mean one per cent", async () => {
    for (const [written, share] of [["0", 0] as const, ["100%", 1] as const, ["50%", 0.5] as const]) {
      const { out } = await run(["analyze", demoPath("strips"), ...quick, "--json", "--loss", written]);
      expect(JSON.parse(out).settings.lossShare).toBe(share);
    }
    const { code, err } = await run(["analyze", demoPath("strips"), "--loss", "1"]);
    expect([code, err.includes("write 1% if per cent is meant")]).toEqual([2, true]);
  });

  test("--rating states the scale of a column, and is refused without a worst end", async () => {
    const text = "hybrid,stand_k_ac,yield_bu_ac,my score\nA,24,190,2\nA,30,200,3\nA,36,204,5\nA,40,203,7\n";
    const { out } = await run(["analyze", "-", "--json", "--resamples", "0", "--rating", "my score=1,9,9"], [text]);
    expect(JSON.parse(out).hybrids[0].pooled.standability.ratings[0]).toMatchObject({ name: "my score", worst: 9 });
    const { code, err } = await run(["analyze", "-", "--rating", "my score=1,9,5"], [text]);
    expect([code, err.includes("with the worst one of the two ends")]).toEqual([2, true]);
  });

  test("options reach the analysis", async () => {
    const { out } = await run([
      ...["analyze", demoPath("strips"), "--json", "--resamples", "30", "--seed", "7", "--level", "0.9", ...priced],
      ...["--yield-cost=0.25", "--between", "24,36", "--near-best-loss", "2", "--near-best-share", "0.02"],
      ...["--miss-by", "1", "--families", "flat,quadratic", "--density-unit", "1000 plants/ac", "--yield-unit", "t/ha"],
      ...["--axis", "seeding-rate", "--pooled-only", "--tolerated-lodging", "5%", "--loss", "0.3", "--no-standability"],
      ...["--no-scrutiny", "--no-mixed-models"],
    ]);
    const { settings, trial } = JSON.parse(out);
    expect(settings).toEqual({
      families: ["flat", "quadratic"],
      level: 0.9,
      seed: 7,
      resamples: 30,
      between: [24, 36],
      prices: { grainPrice: 4.5, seedCostPerThousand: 3.75, yieldCost: 0.25 },
      nearBestShare: 0.02,
      nearBestLoss: 2,
      missBy: 1,
      byEnvironment: false,
      standability: false,
      scrutiny: false,
      toleratedLodging: 0.05,
      lossShare: 0.3,
      mixedModels: false,
      yieldGoal: null,
      extrapolateYieldGoal: false,
    });
    expect(trial).toMatchObject({ densityUnit: "1000 plants/ac", yieldUnit: "t/ha", densityAxis: "seeding-rate" });
  });

  test("--yield-goal is answered inside the levels seen, beyond them only when that is asked for", async () => {
    const plain = ["analyze", demoPath("network"), "--json", "--resamples", "0", "--pooled-only", "--yield-goal"];
    const goals = async (...more: string[]): Promise<string[]> => {
      const { out } = await run([...plain, ...more]);
      const { hybrids } = JSON.parse(out) as { hybrids: { acrossEnvironments: { yieldGoal: { kind: string } } }[] };
      return hybrids.slice(0, 1).map(({ acrossEnvironments }) => acrossEnvironments.yieldGoal.kind);
    };
    expect([...(await goals("210")), ...(await goals("400"))]).toEqual(["estimated", "refused"]);
    expect(await goals("400", "--beyond-levels-seen")).toEqual(["estimated"]);
    const wrong = async (...more: string[]): Promise<unknown> => {
      const { code, err } = await run(["analyze", demoPath("network"), ...more]);
      return [code, err];
    };
    expect(await wrong("--yield-goal", "low")).toEqual([2, expect.stringContaining("a yield above 0")]);
    expect(await wrong("--beyond-levels-seen")).toEqual([2, expect.stringContaining("needs --yield-goal")]);
    const both = await wrong("--yield-goal", "210", "--no-mixed-models");
    expect(both).toEqual([2, expect.stringContaining("needs the mixed models")]);
  });

  test("options reach the reading", async () => {
    const source =
      "sort,wiederholung,dichte,ertrag\nA,1,6,10\nA,1,8,11\nA,2,6,9.9\nA,2,8,11.2\nA,3,-9,10\nA,3,8,11.1\n";
    const { out } = await run(
      [
        ...["analyze", "-", "--json", "--resamples", "0", "--crop", "Dinkel", "--bushel-weight", "60"],
        ...["--standard-moisture", "14", "--column", "hybrid=sort", "--column", "block=wiederholung"],
        ...[
          "--column",
          "stand=dichte",
          "--unit",
          "stand=plants/m2",
          "--column",
          "yield=ertrag",
          "--unit",
          "yield=t/ha",
        ],
        ...["--missing", "-9", "--environment", "Feld 1"],
      ],
      [source],
    );
    expect(JSON.parse(out).trial).toMatchObject({
      crop: { name: "Dinkel", poundsPerBushel: 60, standardMoisture: 14 },
      environments: ["Feld 1"],
      plotsUsed: 5,
    });
  });

  test("remedies name options of the command line, not of the library", async () => {
    const { out } = await run(["analyze", demoPath("messy-semicolon"), "--resamples", "0"]);
    expect(out).toContain("--yield-moisture");
    expect(out).not.toContain("schema.");
  });

  test("progress goes to the error stream of a terminal only, and never into the result", async () => {
    const silent = await run(["analyze", demoPath("plots"), ...quick, "--json", "--quiet"]);
    expect(silent.err).toBe("");
    const watched = await run(["analyze", demoPath("plots"), ...quick, "--json"], [], true);
    expect(watched.out).toBe(silent.out);
  });
});

describe("--out", () => {
  const files = [
    "analysis.json",
    "comparisons.csv",
    "coefficients.csv",
    "crowding.csv",
    "curves.csv",
    "environments.csv",
    "estimates.csv",
    "excluded.csv",
    "issues.csv",
    "report.txt",
    "standability.csv",
    "tests.csv",
    "together.csv",
  ].sort();

  test("writes report, JSON and tables into a new folder, parents too, and nothing to the output stream", async () => {
    await inFolder(async (folder) => {
      const target = join(folder, "a", "results");
      const { code, out, err } = await run(["analyze", demoPath("strips"), ...quick, ...priced, "--out", target]);
      expect([code, out]).toEqual([0, ""]);
      expect(err).toContain("Wrote");
      expect((await readdir(target)).sort()).toEqual(files);
      expect(await readdir(join(folder, "a"))).toEqual(["results"]);
      expect(JSON.parse(readFileSync(join(target, "analysis.json"), "utf8")).schema).toBe(
        "standcurve/trial-analysis/1",
      );
    });
  });

  test("with --json the files are written and the output stream holds the JSON only", async () => {
    await inFolder(async (folder) => {
      const { out } = await run(["analyze", demoPath("strips"), ...quick, "--out", join(folder, "r"), "--json"]);
      expect(readFileSync(join(folder, "r", "analysis.json"), "utf8")).toBe(out);
    });
  });

  test("a failure leaves nothing and ends with 1 and one plain line", async () => {
    await inFolder(async (folder) => {
      writeFileSync(join(folder, "file"), "");
      const { code, err } = await run(["analyze", demoPath("strips"), ...quick, "--out", join(folder, "file", "r")]);
      expect(code).toBe(1);
      expect(err).toMatch(/^standcurve: .+\n$/);
      expect(await readdir(folder)).toEqual(["file"]);
    });
  });

  test("nothing is written when the file cannot be analysed", async () => {
    await inFolder(async (folder) => {
      const { code } = await run(["analyze", "-", "--out", join(folder, "r")], ["hybrid\nA\n"]);
      expect([code, existsSync(join(folder, "r"))]).toEqual([1, false]);
    });
  });

  test("hostile names neither break a table nor leave a formula for a spreadsheet", async () => {
    await inFolder(async (folder) => {
      const source = table(peak, five, { hybrids: hostileNames });
      await run(["analyze", "-", ...quick, "--out", join(folder, "r"), "--quiet"], [source]);
      const csv = readFileSync(join(folder, "r", "estimates.csv"), "utf8");
      expect(csv).not.toMatch(/(^|,|\n)"?[=+@]/);
      expect(csv).not.toMatch(/(^|\n)"?-2\+3/);
      expect(csv).toContain("'=1+1");
      expect(JSON.parse(readFileSync(join(folder, "r", "analysis.json"), "utf8")).trial.hybrids).toContain("=1+1");
    });
  });
});

describe("check", () => {
  test("says what the trial can tell and ends with 0", async () => {
    const { code, out } = await run(["check", demoPath("plots")]);
    expect(code).toBe(0);
    expect(out).toMatch(/^What this trial can tell\n/);
  });

  test("lists every problem and ends with 1 when there are errors, also when no trial can be made of it", async () => {
    const messy = await run(["check", demoPath("messy-semicolon")]);
    expect(messy.code).toBe(1);
    expect(messy.out).toContain("12,9o");
    const none = await run(["check", "-"], ["hybrid\nA\n"]);
    expect(none.code).toBe(1);
    expect(none.out).toContain("No analysis is possible");
  });

  test("--json prints check and issues", async () => {
    const { out } = await run(["check", demoPath("strips"), "--json"]);
    expect(JSON.parse(out)).toMatchObject({
      schema: "standcurve/check/1",
      check: { schema: "standcurve/trial-check/1" },
    });
  });
});

describe("other commands", () => {
  test("schema field, zones and zone print the input schemas, which judge the demo files as the commands do", async () => {
    const ajv = new Ajv2020({ strict: false });
    const demoText = (name: string): string =>
      readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8");
    for (const [name, file] of [
      ["field", "field.json"],
      ["zones", "zones.geojson"],
    ]) {
      const { code, out } = await run(["schema", name]);
      expect(code).toBe(0);
      const fits = ajv.compile(JSON.parse(out));
      expect(fits(JSON.parse(demoText(file)))).toBe(true);
      expect(fits({ planterStep: -1 })).toBe(false);
    }
    expect(JSON.parse((await run(["schema", "zone"])).out).required).toContain("area");
    expect((await run(["schema", "analysis"])).out).toBe((await run(["schema"])).out);
    const wrong = await run(["schema", "feild"]);
    expect(wrong.code).toBe(2);
    expect(wrong.err).toContain("did you mean field?");
    expect((await run(["schema", "field", "zones"])).code).toBe(2);
    for (const name of ["analysis", "field", "zones", "zone"])
      expect((await run(["schema", "--help"])).out).toContain(`  ${name}`);
  });

  test("schema prints the JSON Schema", async () => {
    const { code, out } = await run(["schema"]);
    expect([code, JSON.parse(out)]).toEqual([0, trialAnalysisSchema]);
  });

  test("--version prints the version, --help the help, both with 0 and on the output stream", async () => {
    expect(await run(["--version"])).toEqual({ code: 0, out: `${version}\n`, err: "" });
    const { code, out, err } = await run(["--help"]);
    expect([code, err]).toEqual([0, ""]);
    expect(out).toContain("--grain-price MONEY");
    expect((await run(["check", "--help"])).out).not.toContain("--grain-price");
    expect((await run(["-h"])).code).toBe(0);
  });
});

describe("wrong commands end with 2, all problems at once, nothing on the output stream", () => {
  test("several problems of several kinds are listed together", async () => {
    const { code, out, err } = await run([
      ...["analyze", "x.csv", "--grain-prize", "4", "--levle=0.9", "--resamples", "many", "--level", "95"],
      ...["--column", "hybrd=Sorte", "--yield-cost", "1", "--axis", "stand"],
    ]);
    expect([code, out]).toEqual([2, ""]);
    expect(err.trimEnd().split("\n")).toEqual([
      "standcurve: unknown option --grain-prize; did you mean --grain-price?",
      "standcurve: unknown option --levle; did you mean --level?",
      'standcurve: --column names "hybrd", which is not a column role; did you mean hybrid?',
      'standcurve: --axis must be one of mean-stand, plot-stand, seeding-rate, got "stand"',
      "standcurve: --yield-cost needs --grain-price and --seed-cost",
      'standcurve: --level must be a share between 0 and 1 (95 % is 0.95), got "95"',
      'standcurve: --resamples must be a whole number from 0 to 1,000,000, got "many"',
      "standcurve --help lists commands and options.",
    ]);
  });

  test.each([
    [[], "name a command: analyze, check, schema"],
    [["analyse", "x.csv"], 'unknown command "analyse"; did you mean: standcurve analyze'],
    [["trial.csv"], 'unknown command "trial.csv"; did you mean: standcurve analyze trial.csv'],
    [["analyze"], "analyze needs a file"],
    [["analyze", "a.csv", "b.csv"], 'analyze takes one file; also got "b.csv"'],
    [["check", "a.csv", "--level", "0.9"], "--level does not belong to check"],
    [["schema", "a.csv"], 'there is no schema "a.csv"; schemas are analysis, field, zones, zone'],
    [["analyze", "a.csv", "--seed"], "--seed needs a value"],
    [["analyze", "a.csv", "--seed", "--json"], "--seed needs a value"],
    [["analyze", "a.csv", "--seed", "1", "--seed", "2"], "--seed is given twice"],
    [["analyze", "a.csv", "--json=yes"], '--json takes no value, got "yes"'],
    [["analyze", "a.csv", "--json", "--csv"], "--json and --csv exclude each other"],
    [["analyze", "a.csv", "--grain-price", "4"], "--grain-price and --seed-cost go together; --seed-cost is missing"],
    [["analyze", "a.csv", "--grain-price", "4,50", "--seed-cost", "3"], "write decimals with a point"],
    [["analyze", "a.csv", "--grain-price", "1", "--seed-cost", "3", "--yield-cost", "2"], "--yield-cost must be below"],
    [["analyze", "a.csv", "--between", "38,20"], "--between must be two densities, the lower first"],
    [
      ["analyze", "a.csv", "--families", "flat,quadratik"],
      'names "quadratik", which is no curve; did you mean quadratic?',
    ],
    [["analyze", "a.csv", "--unit", "yield"], "--unit must be written ROLE=UNIT"],
    [["analyze", "a.csv", "--row-width", "30"], "--row-width must be a length such as 30in"],
    [["analyze", "a.csv", "--bushel-weight", "50"], "--bushel-weight describes a crop of your own"],
    [["analyze", "a.csv", "--delimiter", "x"], "--delimiter must be one of"],
    [["analyze", "a.csv", "--establishment", "95"], "95 % is 0.95"],
  ])("%j: %s", async (argv, message) => {
    const { code, out, err } = await run(argv as string[]);
    expect([code, out]).toEqual([2, ""]);
    expect(err).toContain(message);
  });

  test("values that only the library can judge end with 2 as well, in words of the command line", async () => {
    const { code, err } = await run(["analyze", demoPath("strips"), "--crop", "unobtainium"]);
    expect(code).toBe(2);
    expect(err).toContain('--crop "unobtainium" is not in the crop table');
    expect((await run(["analyze", demoPath("strips"), "--unit", "yield=bushels"])).code).toBe(2);
  });

  test("a number below zero is a value, not an option", async () => {
    const { err } = await run(["analyze", demoPath("strips"), "--missing", "-999", "--seed", "-1"]);
    expect(err).toContain('--seed must be a whole number of 0 or more, got "-1"');
    expect(err).not.toContain("--missing");
  });
});

describe("files that cannot be read end with 1 and a plain sentence", () => {
  test.each([
    [["analyze", "no such file.csv"], 'there is no file "no such file.csv"'],
    [["analyze", "."], '"." is a folder; name a CSV file'],
    [["check", "a\u0000b"], "cannot be read"],
  ])("%j", async (argv, message) => {
    const { code, out, err } = await run(argv);
    expect([code, out]).toEqual([1, ""]);
    expect(err).toContain(message);
    expect(err).not.toMatch(/\n\s+at |Error:/);
  });

  test("an empty input and a workbook", async () => {
    expect((await run(["analyze", "-"], [])).code).toBe(1);
    const { code, err } = await run(["analyze", "-"], [Uint8Array.of(0x50, 0x4b, 3, 4, 20, 0, 6, 0)]);
    expect(code).toBe(1);
    expect(err).not.toMatch(/\n\s+at /);
  });
});
