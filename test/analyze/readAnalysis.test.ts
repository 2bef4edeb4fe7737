/** Saved analyses of this version and older ones; the check of the schema is held to ajv, a program that others wrote. */
import { readFileSync } from "node:fs";
import { Ajv2020 } from "ajv/dist/2020.js";
import { describe, expect, test } from "vitest";
import {
  analysisUpgrades,
  analysisVersion,
  type SavedDocument,
  versionOf,
} from "../../src/analyze/analysisUpgrades.ts";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import { readAnalysis } from "../../src/analyze/readAnalysis.ts";
import { trialAnalysisSchema } from "../../src/analyze/schema.ts";
import { schemaProblems } from "../../src/analyze/schemaProblems.ts";
import { hashText } from "../../src/core/hash.ts";
import { recommendRate } from "../../src/recommend/recommendRate.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import { oddTrials } from "../report/oddTrials.ts";

const slow = process.env["STANDCURVE_SLOW"] === "1";
const root = new URL("../..", import.meta.url).pathname;
const validate = new Ajv2020({ strict: true, allErrors: false, allowUnionTypes: true }).compile(trialAnalysisSchema);
const oldText = readFileSync(`${root}test/oracle/savedAnalysis/before-0.1.0.json`, "utf8");
const [head, ...lines] = readFileSync(`${root}data-demo/plots.csv`, "utf8").split("\n");
const fern = `${[head, ...lines.filter((line) => line.includes("Fern 18") && !line.includes(",2032,"))].join("\n")}\n`;
const options = { prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 }, resamples: 200 };

type Path = readonly (string | number)[];

/** The error that reading gives. */
function errorOf(source: unknown, name?: string): { readonly code: string; readonly message: string } {
  try {
    readAnalysis(source, name === undefined ? {} : { name });
  } catch (error) {
    return error as { code: string; message: string };
  }
  throw new Error("no error");
}

function at(value: unknown, path: Path): unknown {
  return path.reduce<unknown>((one, key) => (one as Record<string | number, unknown>)[key], value);
}

/** Every place of a JSON value, the whole of it first. */
function placesOf(value: unknown, path: Path = []): Path[] {
  if (typeof value !== "object" || value === null) return [path];
  const keys: (string | number)[] = Array.isArray(value) ? value.map((_, i) => i) : Object.keys(value);
  return [path, ...keys.flatMap((key) => placesOf((value as Record<string | number, unknown>)[key], [...path, key]))];
}

describe("a saved analysis", () => {
  const analysis = oddTrials["one hybrid"]?.();
  const text = JSON.stringify(analysis);

  test("comes back as it was, from text and from a value", () => {
    expect(readAnalysis(text)).toEqual(JSON.parse(text));
    expect(readAnalysis(`\uFEFF${text}`)).toEqual(JSON.parse(text));
    expect(readAnalysis(analysis)).toBe(analysis);
  });

  // Every other odd trial meets the same schema in schema.test.ts, and the check agrees with ajv below.
  test.each(["lodges below the optimum", "push test only", "lodging without yield", "rows"])(
    "is accepted: %s",
    (name) => {
      expect(() => readAnalysis(JSON.stringify(oddTrials[name]?.()))).not.toThrow();
    },
  );

  test("is refused when it is no JSON, empty, no object, or another kind of document, and each error says which", () => {
    expect(errorOf(text.slice(0, -3), "a.json")).toMatchObject({
      code: "unreadable-source",
      message: expect.stringMatching(/^"a\.json" is not JSON: /),
    });
    expect(errorOf(" \n").message).toContain("it is empty");
    for (const other of ["[]", "null", "3", '"text"']) expect(errorOf(other).code).toBe("unreadable-source");
    expect(errorOf({}).message).toContain("no property schema");
    expect(errorOf({ schema: "standcurve/layout-plan/1" }).message).toContain(
      'its schema is "standcurve/layout-plan/1"',
    );
    expect(errorOf({ schema: "standcurve/group-result/1" }).message).toContain("in its property analysis");
    expect(errorOf({ schema: "standcurve/trial-analysis/" }).code).toBe("unreadable-source");
    expect(errorOf({ schema: { toString: () => "standcurve/trial-analysis/1" } }).message).toContain(
      "no property schema",
    );
  });

  test("of a later format is refused with both versions and the way out", () => {
    const { code, message } = errorOf(
      { ...JSON.parse(text), schema: "standcurve/trial-analysis/2", version: "3.1.4" },
      "b",
    );
    expect(code).toBe("newer-version");
    expect(message).toMatch(
      /^"b" has format 2, written by standcurve 3\.1\.4; .* reads up to format 1: update standcurve/,
    );
  });

  test("with problems is refused with all of them at once, those of every item of a list told once", () => {
    const broken = JSON.parse(text);
    broken.settings.level = "high";
    broken.extra = 1;
    broken.trial.crop.poundsPerBushel = -0;
    delete broken.hybrids[0].pooled.flex.score;
    delete broken.hybrids[0].pooled.flex.flex.score;
    for (const one of broken.hybrids[0].pooled.marginal) one.density = null;
    const { code, message } = errorOf(broken, "c.json");
    expect(code).toBe("invalid-data");
    expect(message.split("\n")).toEqual([
      '"c.json" is not a sound analysis:',
      '- settings.level must be a number, got "high"',
      "- hybrids[0].pooled.flex.flex.score is missing",
      `- hybrids[0].pooled.marginal[0].density must be a number, got null (and ${broken.hybrids[0].pooled.marginal.length - 1} more like it)`,
      "- extra is not a property of this format",
    ]);
  });

  test("that is given as a value may not hold NaN or Infinity either", () => {
    for (const value of [Number.NaN, Number.POSITIVE_INFINITY]) {
      const broken = structuredClone(JSON.parse(text));
      broken.hybrids[0].pooled.meanYield = value;
      expect(errorOf(broken).message).toContain("hybrids[0].pooled.meanYield must be a number");
    }
  });

  test("names of the language's own objects are properties like others", () => {
    const bad = text.replace('{"schema"', '{"__proto__":1,"constructor":2,"schema"');
    expect(errorOf(bad).message).toMatch(/- __proto__ is not a property.*\n- constructor is not a property/);
  });
});

describe("the check against the schema agrees with ajv", () => {
  // Each change is made alone at every place of a small analysis and of one with lodging and several environments.
  const changes: readonly ((value: unknown) => unknown)[] = [
    () => null,
    () => "word",
    () => -1,
    () => 1e9 + 0.5,
    () => [],
    () => ({}),
    (value) => (Array.isArray(value) ? [...value, ...value] : value),
    (value) => (typeof value === "object" && value !== null && !Array.isArray(value) ? { ...value, other: 1 } : value),
    () => true,
  ];
  const documents: readonly [string, unknown][] = [
    ["one hybrid", JSON.parse(JSON.stringify(oddTrials["one hybrid"]?.()))],
    ["an upgraded one with lodging", readAnalysis(oldText)],
  ];

  test.each(documents)("wherever a value is changed or taken away: %s", (_, document) => {
    const every = placesOf(document);
    // Some 500 places spread over the document; all of them in the slow run.
    const places = every.filter((_, p) => slow || p % Math.ceil(every.length / 500) === 0);
    const wrong: string[] = [];
    let refused = 0;
    const compare = (changed: unknown, what: string): void => {
      const theirs = validate(changed);
      if (!theirs) refused += 1;
      if ((schemaProblems(changed, trialAnalysisSchema).length === 0) !== theirs) wrong.push(what);
    };
    const copy = structuredClone(document);
    places.forEach((path, p) => {
      if (path.length === 0) return;
      const parent = at(copy, path.slice(0, -1)) as Record<string | number, unknown>;
      const key = path.at(-1) as string | number;
      const value = parent[key];
      // One change a place, in turn.
      const c = p % (changes.length + 1);
      if (c < changes.length) {
        parent[key] = changes[c]?.(value);
        compare(copy, `${path.join(".")} change ${c}`);
        parent[key] = value;
      } else if (typeof key === "string") {
        delete parent[key];
        compare(copy, `${path.join(".")} taken away`);
        parent[key] = value;
      }
    });
    expect(wrong).toEqual([]);
    expect(refused).toBeGreaterThan(places.length / 2);
  });
});

describe("an analysis saved before the first release", () => {
  const saved = JSON.parse(oldText);
  const read = readAnalysis(oldText);

  test("is the real thing: the hash of its input is that of the demo lines", () => {
    expect(saved.inputHash).toBe(hashText(fern));
    expect(validate(saved)).toBe(false);
  });

  test("becomes one of today by ajv's judgement, every saved value kept and all else null or false", () => {
    expect(validate(read), JSON.stringify(validate.errors)).toBe(true);
    const added: string[] = [];
    const walk = (before: unknown, after: unknown, path: string): void => {
      if (typeof after !== "object" || after === null || typeof before !== "object" || before === null) {
        expect(after, path).toBe(before);
        return;
      }
      for (const [key, value] of Object.entries(after)) {
        if (Object.hasOwn(before, key)) walk((before as SavedDocument)[key], value, `${path}.${key}`);
        else added.push(`${path.replace(/\.\d+/g, "")}.${key}=${value}`);
      }
      for (const key of Object.keys(before)) expect(after, path).toHaveProperty([key]);
    };
    const { cautions, ...rest } = read;
    const { cautions: oldCautions, ...old } = saved;
    walk(old, rest, "");
    expect([...new Set(added)].sort()).toEqual([
      ".hybrids.acrossEnvironments=null",
      ".hybrids.environments.flex.interval=null",
      ".hybrids.environments.nitrogen=null",
      ".hybrids.environments.scrutiny=null",
      ".hybrids.environments.standability.lodgingFit=null",
      ".hybrids.pooled.flex.interval=null",
      ".hybrids.pooled.nitrogen=null",
      ".hybrids.pooled.scrutiny=null",
      ".hybrids.pooled.standability.lodgingFit=null",
      ".plantResponse=null",
      ".settings.extrapolateYieldGoal=false",
      ".settings.mixedModels=false",
      ".settings.scrutiny=false",
      ".settings.yieldGoal=null",
      ".together=null",
    ]);
    expect(cautions.slice(0, -1)).toEqual(oldCautions);
    expect(cautions.at(-1)).toContain("before 0.1.0");
  });

  test("is not changed by being read, and reading twice is reading once", () => {
    const value = JSON.parse(oldText);
    const first = readAnalysis(value);
    expect(value).toEqual(JSON.parse(oldText));
    expect(readAnalysis(first)).toBe(first);
  });

  test("of the days when mixed models were there and the curves at yield goals were not, is known by what it lacks", () => {
    const across = (response: object): SavedDocument => ({
      schema: "standcurve/trial-analysis/1",
      together: null,
      hybrids: [{ acrossEnvironments: null }, { acrossEnvironments: { response } }],
    });
    const before = across({ kind: "estimated", curve: "quadratic" });
    expect(
      [before, across({ kind: "estimated", goalLine: null }), across({ kind: "withheld" })].map(versionOf),
    ).toEqual([0, 1, 1]);
    const response = at(analysisUpgrades.get(0)?.(before), ["hybrids", 1, "acrossEnvironments", "response"]);
    expect(response).toEqual({ kind: "estimated", curve: "quadratic", goalLine: null });
    expect([{}, { schema: 1 }, { schema: "standcurve/trial-analysis/1x" }].map(versionOf)).toEqual([null, null, null]);
  });

  test("still says what an analysis of the same file says today: best-paying density, limit, rate", () => {
    const { trial, issues } = readTrial(fern);
    if (trial === null) throw new Error("the demo cannot be read");
    const today = analyzeTrial(trial, { ...options, issues });
    const [before, now] = [read, today].map(({ hybrids }) => hybrids[0]?.pooled);
    if (before?.kind !== "analysed" || now?.kind !== "analysed") throw new Error("not analysed");
    // Own exp and log came in between: the last digits moved.
    expect(before.economic?.optimum.density).toBeCloseTo(now.economic?.optimum.density as number, 9);
    const limits = [before, now].map(({ standability }) => standability?.lodging[0]?.limit.density as number);
    expect(limits[0]).toBeCloseTo(limits[1] as number, 6);

    const field = { hybrid: "Fern 18", toleratedLodging: 0.1, prices: { grainPrice: 4.5, seedCostPerThousand: 1 } };
    const [old, fresh] = [read, today].map((one) => recommendRate(one, field));
    expect(fresh?.limits.standability.kind).toBe("at");
    expect(old?.limits.standability.rate).toBeCloseTo(fresh?.limits.standability.rate as number, 6);
    expect(old?.rate).toBeCloseTo(fresh?.rate as number, 6);
    expect(old?.expected.lodging).toBeNull();
    expect(old?.cautions.join(" ")).toContain("does not keep the counts: analyse the trial again");
    // Its limit serves for its own tolerated share alone.
    const other = recommendRate(read, { ...field, toleratedLodging: 0.05 });
    expect(other.limits.standability).toMatchObject({ kind: "none", rate: null });
    expect(other.cautions.join(" ")).toMatch(
      /limit for 5 % lodged cannot be told from that for 10 %.*Look at stalk strength/,
    );
  });

  test("broken, is told by its place, not by what upgrading made of it", () => {
    const broken = JSON.parse(oldText);
    broken.settings = "none";
    broken.hybrids[0].pooled.flex = 7;
    broken.hybrids.push(3);
    expect(errorOf(broken).message.split("\n").slice(1)).toEqual([
      '- settings must be an object, got "none"',
      "- hybrids[0].pooled.flex must be an object, got 7",
      "- hybrids[1] must be an object, got 3",
    ]);
  });
});

test("the table of upgrades leads from every older version to this one", () => {
  expect([...analysisUpgrades.keys()]).toEqual(Array.from({ length: analysisVersion }, (_, version) => version));
  expect(trialAnalysisSchema["$id"]).toBe(`urn:standcurve:trial-analysis:${analysisVersion}`);
});
