import { readFileSync } from "node:fs";
import { analyzeTrial, planZones, readField, readTrial, readZones, recommendRate, version } from "../../src/index.ts";
import { curveKeys, type Key, partsOf, rateKeys, zoneKeys } from "./goldenParts.ts";
import { shortHash } from "./shortHash.ts";

const folder = new URL("../../data-demo/", import.meta.url).pathname;
const demo = (name: string): string => readFileSync(`${folder}${name}`, "utf8");
const files = [
  "plots.csv",
  "strips.csv",
  "standing.csv",
  "ears.csv",
  "messy-cells.csv",
  "messy-semicolon.csv",
] as const;

/** One result: a hash of the numbers of each part, and a few numbers to read. */
export interface GoldenResult {
  readonly name: string;
  /** Hash of the input, so that changed demo data are told from a changed method. */
  readonly input: string;
  /** Part of the result -> hash of its numbers, each to 10 significant digits. */
  readonly parts: Readonly<Record<string, string>>;
  readonly key: Readonly<Key>;
}

export interface Golden {
  readonly about: string;
  readonly version: string;
  readonly results: readonly GoldenResult[];
}

/** Every golden result as the library gives it now. */
export function goldenResults(): Golden {
  const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };
  const read = files.map((name) => ({ name, ...readTrial(demo(name), { crop: "maize" }) }));
  const analyses = read.flatMap(({ name, trial, issues }) => {
    if (trial === null) throw new Error(`${name} cannot be read: ${issues[0]?.message}`);
    // Curves over all environments only: those of single environments go through the same code and would treble the time.
    const options = { issues, resamples: 200, prices, between: [24, 36], byEnvironment: false } as const;
    return [{ name, trial, analysis: analyzeTrial(trial, options) }];
  });
  const { trial, analysis } = analyses[0];
  const { field } = readField(demo("field.json"));
  const { zones } = readZones(demo("zones.geojson"));
  if (field === null || zones === null) throw new Error("the demo field or its zones cannot be read");
  const options = { trial, draws: 300 };
  const recommendation = recommendRate(analysis, field, options);
  const zonePlan = planZones(analysis, zones, { ...options, field });
  return {
    about:
      "Numbers that the demo files gave at this version. A detector of change, no oracle: what is right is decided by test/oracle, bench/accuracy.md and R. The same bytes on Node, Deno and Chromium are the business of test/engines. STANDCURVE_UPDATE=1 writes this file; test/golden/CHANGES.md says why.",
    version,
    results: [
      ...analyses.map((one) =>
        result(`analysis of ${one.name}`, demo(one.name), one.analysis, curveKeys(one.analysis)),
      ),
      result("recommendation for field.json", demo("field.json"), recommendation, rateKeys(recommendation)),
      result("zones of zones.geojson", demo("zones.geojson"), zonePlan, zoneKeys(zonePlan)),
    ],
  };
}

function result(name: string, input: string, value: unknown, key: Key): GoldenResult {
  return { name, input: shortHash(input), key, parts: partsOf(value) };
}
