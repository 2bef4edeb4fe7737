import { Ajv2020 } from "ajv/dist/2020.js";
import { describe, expect, test } from "vitest";
import type { TrialAnalysis } from "../../src/analyze/result.ts";
import { trialAnalysisSchema } from "../../src/analyze/schema.ts";
import { demoTrials, oddTrials } from "../report/oddTrials.ts";

const validate = new Ajv2020({ strict: true, allErrors: true, allowUnionTypes: true }).compile(trialAnalysisSchema);

function problems(value: unknown): string[] {
  validate(value);
  return (validate.errors ?? []).map(({ instancePath, message, params }) =>
    `${instancePath} ${message} ${JSON.stringify(params)}`.slice(0, 200),
  );
}

const trials: [string, () => TrialAnalysis][] = [...Object.entries(demoTrials), ...Object.entries(oddTrials)];

describe("the JSON Schema of an analysis", () => {
  test.each(trials)("describes the result of the trial: %s", (_, make) => {
    expect(problems(JSON.parse(JSON.stringify(make())))).toEqual([]);
  });

  const good = JSON.parse(JSON.stringify(oddTrials["one hybrid"]?.())) as Record<string, unknown>;

  test.each(Object.keys(good))("refuses a result without %s", (name) => {
    const { [name]: _gone, ...rest } = good;
    expect(problems(rest).length).toBeGreaterThan(0);
  });

  test("refuses a property that it does not know, at any depth", () => {
    expect(problems({ ...good, extra: 1 }).length).toBe(1);
    const deep = structuredClone(good) as unknown as TrialAnalysis;
    const pooled = deep.hybrids[0]?.pooled;
    if (pooled?.kind === "analysed") (pooled.agronomic.interval as unknown as Record<string, unknown>)["extra"] = 1;
    expect(problems(deep).length).toBeGreaterThan(0);
  });

  test("refuses a density where JSON.stringify would have put null for NaN, and another version of the format", () => {
    const broken = structuredClone(good) as unknown as {
      hybrids: { pooled: { meanYield: unknown } }[];
      schema: string;
    };
    (broken.hybrids[0] as { pooled: { meanYield: unknown } }).pooled.meanYield = null;
    expect(problems(broken).length).toBeGreaterThan(0);
    expect(problems({ ...good, schema: "standcurve/trial-analysis/2" }).length).toBe(1);
  });

  test("every object lists its properties and allows no others, but for maps by name", () => {
    const loose: string[] = [];
    const walk = (node: unknown, path: string): void => {
      if (node === null || typeof node !== "object") return;
      const one = node as Record<string, unknown>;
      if (one["type"] === "object" && one["additionalProperties"] !== false) loose.push(path);
      for (const [key, value] of Object.entries(one)) walk(value, `${path}/${key}`);
    };
    walk(trialAnalysisSchema, "");
    expect(loose).toEqual(["/$defs/curveFit/properties/coefficients", "/$defs/curveFit/properties/standardErrors"]);
  });
});
