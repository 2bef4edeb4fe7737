import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { afterAll, describe, expect, test } from "vitest";
import { analyzeTrial, readTrial, type Trial } from "../../src/index.ts";
import { recommendCommand } from "../../src/node/recommendCommand.ts";
import type { CommandStreams } from "../../src/node/streams.ts";
import { zonesCommand } from "../../src/node/zonesCommand.ts";

const demo = (name: string): string => new URL(`../../data-demo/${name}`, import.meta.url).pathname;
const folder = mkdtempSync(join(tmpdir(), "standcurve-"));
afterAll(() => rmSync(folder, { recursive: true }));

async function run(
  command: typeof recommendCommand,
  ...argv: string[]
): Promise<{ code: number; out: string; err: string }> {
  const written = { out: "", err: "" };
  const streams: CommandStreams = {
    stdout: { write: (text) => (written.out += text) },
    stderr: { write: (text) => (written.err += text) },
  };
  return { code: await command([...argv, "--resamples", "0"], streams), ...written };
}

describe("recommend", () => {
  const trial = demo("plots.csv");

  test("writes the paragraph, the limits, the steps and the cautions", async () => {
    const { code, out } = await run(recommendCommand, trial, "--field", demo("field.json"), "--draws", "200");
    expect(code).toBe(0);
    for (const piece of [
      "For Fern 18 on Mill field we suggest",
      "standability",
      "season 1",
      "Be careful",
      "seed label",
    ])
      expect(out).toContain(piece);
    expect(Math.max(...out.split("\n").map((line) => line.length))).toBeLessThanOrEqual(80);
  });

  test("--json is the result and nothing else", async () => {
    const { code, out, err } = await run(
      recommendCommand,
      trial,
      `--field=${demo("field.json")}`,
      "--json",
      "--draws",
      "200",
    );
    expect([code, err]).toEqual([0, ""]);
    const { recommendation, steps } = JSON.parse(out);
    expect(recommendation.schema).toBe("standcurve/recommendation/1");
    expect(recommendation.bindingLimit).toBe("accepted-step");
    expect(steps.steps[0].rate).toBe(recommendation.rate);
  });

  test("an analysis saved as JSON stands for the trial; options about the file cannot change it", async () => {
    const saved = join(folder, "analysis.json");
    const { trial: read } = readTrial(readFileSync(trial, "utf8"));
    writeFileSync(saved, JSON.stringify(analyzeTrial(read as Trial, { resamples: 0, byEnvironment: false })));
    const direct = async (...argv: string[]): Promise<{ code: number; out: string; err: string }> => {
      const written = { out: "", err: "" };
      const streams: CommandStreams = {
        stdout: { write: (text) => (written.out += text) },
        stderr: { write: (text) => (written.err += text) },
      };
      return { code: await recommendCommand(argv, streams), ...written };
    };
    const given = [saved, "--field", demo("field.json"), "--draws", "200"] as const;
    const { code, out } = await direct(...given);
    expect(code).toBe(0);
    expect(out).toContain("its doubt from the\n  errors of its fits");
    expect(out).toContain("standability                 31,300");
    const wrong = await direct(...given, "--crop", "maize");
    expect([wrong.code, wrong.err]).toEqual([2, expect.stringContaining("--crop cannot change it")]);
    writeFileSync(join(folder, "other.json"), '{ "schema": "x" }');
    expect((await direct(join(folder, "other.json"), "--field", demo("field.json"))).err).toContain("not an analysis");
  });

  test("a wrong command is 2, a bad field or a missing file is 1, each with all its reasons", async () => {
    expect((await run(recommendCommand, trial)).code).toBe(2);
    const wrong = await run(recommendCommand, trial, "--field", "x", "--chance", "2", "--elsewhere", "mars");
    expect(wrong.code).toBe(2);
    expect(wrong.err).toMatch(/--chance[\s\S]*--elsewhere/);
    const path = join(folder, "bad.json");
    writeFileSync(path, '{"hybrid":"Fern 18","planterStep":-1,"presentRate":"30"}');
    const bad = await run(recommendCommand, trial, "--field", path);
    expect(bad.code).toBe(1);
    expect(bad.err).toMatch(/planterStep[\s\S]*presentRate/);
    expect((await run(recommendCommand, trial, "--field", join(folder, "none.json"))).code).toBe(1);
    writeFileSync(path, '{"hybrid":"Birch 99","prices":{"grainPrice":4,"seedCostPerThousand":3}}');
    const unknown = await run(recommendCommand, trial, "--field", path);
    expect(unknown.code).toBe(2);
    expect(unknown.err).toContain("it has");
    expect((await run(recommendCommand, "--help")).out).toContain("--field");
  });
});

describe("zones", () => {
  const common = [demo("plots.csv"), "--field", demo("field.json"), "--draws", "100"] as const;

  test("text, CSV and GeoJSON tell the same rates", async () => {
    const text = await run(zonesCommand, ...common, "--zones", demo("zones.geojson"));
    expect(text.code).toBe(0);
    const map = JSON.parse((await run(zonesCommand, ...common, "--zones", demo("zones.geojson"), "--geojson")).out);
    const table = (await run(zonesCommand, ...common, "--zones", demo("zones.csv"), "--csv")).out.split("\r\n");
    const column = table[0].split(",").indexOf("plan_rate");
    map.features.forEach((feature: { properties: Record<string, unknown> }, i: number) => {
      expect(Number(table[i + 1].split(",")[column])).toBe(feature.properties["plan_rate"]);
      expect(text.out).toContain(`${(1000 * (feature.properties["plan_rate"] as number)).toLocaleString("en-US")}`);
    });
  });

  test("--out writes text, JSON, CSV and GeoJSON", async () => {
    const out = join(folder, "plan");
    const { code } = await run(zonesCommand, ...common, "--zones", demo("zones.csv"), "--out", out);
    expect(code).toBe(0);
    for (const name of ["plan.txt", "plan.json", "plan.csv", "plan.geojson"])
      expect(readFileSync(join(out, name), "utf8").length).toBeGreaterThan(100);
  });

  test("shapes exclude each other, zones are needed, and bad zones are listed", async () => {
    expect((await run(zonesCommand, ...common, "--zones", "x", "--csv", "--geojson")).code).toBe(2);
    expect((await run(zonesCommand, ...common)).code).toBe(2);
    const path = join(folder, "zones.csv");
    writeFileSync(path, "zone,area_ac\na,-1\na,2\n");
    const bad = await run(zonesCommand, ...common, "--zones", path);
    expect(bad.code).toBe(1);
    expect(bad.err).toMatch(/line 2, area[\s\S]*line 3, id/);
  });
});
