/** Commands that take a saved analysis take one of an earlier version too, and say plainly what they cannot read. */
import { readFileSync } from "node:fs";
import { writeFile } from "node:fs/promises";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { inFolder, run } from "./runInProcess.ts";

const root = new URL("../..", import.meta.url).pathname;
const old = `${root}test/oracle/savedAnalysis/before-0.1.0.json`;
const field = ["--field", `${root}data-demo/field.json`];

describe("an analysis saved before the first release", () => {
  test("is enough for recommend and zones, with the limit that it holds", async () => {
    const { code, out, err } = await run(["recommend", old, ...field, "--draws", "100"]);
    expect([code, err]).toEqual([0, ""]);
    expect(out).toContain("Fern 18");
    expect(out.replace(/\s+/g, " ")).toContain("the saved analysis does not keep the counts: analyse the trial again");
    const zones = await run(["zones", old, ...field, "--zones", `${root}data-demo/zones.geojson`, "--draws", "100"]);
    expect(zones.code).toBe(0);
  });

  test("is enough for plan next", async () => {
    const next = ["plan", "next", old, "--simulations", "10"];
    const { code, err } = await run(next);
    expect([code, err]).toEqual([0, ""]);
  });
});

test("an analysis of a later version, a broken one and another kind of file end with 1 and the reason", async () => {
  await inFolder(async (folder) => {
    const file = join(folder, "saved.json");
    const attempt = async (text: string): Promise<string> => {
      await writeFile(file, text);
      const { code, out, err } = await run(["recommend", file, ...field]);
      expect([code, out]).toEqual([1, ""]);
      return err;
    };
    const saved = JSON.parse(readFileSync(old, "utf8"));
    expect(await attempt(JSON.stringify({ ...saved, schema: "standcurve/trial-analysis/7" }))).toContain(
      "has format 7",
    );
    expect(await attempt(JSON.stringify({ ...saved, issues: 1, check: [] }))).toMatch(
      /not a sound analysis:\nstandcurve: - check must be an object.*\nstandcurve: - issues must be a list/,
    );
    expect(await attempt("{")).toContain("is not JSON");
    expect(await attempt('{"schema":"standcurve/check/1"}')).toContain("is not an analysis of standcurve");
  });
});
