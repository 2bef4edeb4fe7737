import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import type { GroupResult } from "../../src/index.ts";
import { networkCsv, records } from "../batch/networkRows.ts";
import { demoPath, inFolder, run } from "./runInProcess.ts";

const csv = networkCsv(6, 2);
const cheap = ["--workers", "0", "--resamples", "0", "--families", "flat,linear,quadratic"];

/** The rows in the order of a field book: all hybrids in the first site, then all in the second. */
function scattered(text: string): string {
  const [header, ...rows] = text.trimEnd().split("\n");
  const site = (row: string): string => row.split(",")[1] ?? "";
  return `${[header, ...rows.sort((a, b) => (site(a) < site(b) ? -1 : site(a) > site(b) ? 1 : 0))].join("\n")}\n`;
}

const parsed = (text: string): GroupResult[] =>
  text
    .trimEnd()
    .split("\n")
    .map((line) => JSON.parse(line) as GroupResult);
const answers = (text: string): unknown =>
  Object.fromEntries(parsed(text).map(({ hybrid, analysis }) => [hybrid, JSON.stringify(analysis?.hybrids)]));

describe("standcurve batch", () => {
  test("writes a line for each hybrid, in order, and says what it did", () =>
    inFolder(async (folder) => {
      const file = join(folder, "network.csv");
      const out = join(folder, "results.jsonl");
      writeFileSync(file, csv);
      const { code, err } = await run(["batch", file, "--out", out, ...cheap]);
      expect([code, err]).toEqual([0, "6 groups of 180 rows: 6 analysed\n"]);
      const results = parsed(readFileSync(out, "utf8"));
      expect(results.map(({ hybrid, rows }) => [hybrid, rows.first, rows.last])).toEqual(
        [0, 1, 2, 3, 4, 5].map((h) => [`Hybrid ${h}`, 2 + 30 * h, 31 + 30 * h]),
      );
      expect(results[2]?.analysis?.hybrids[0]?.environments.length).toBe(2);
      // The standard output gets the same lines.
      expect((await run(["batch", file, ...cheap])).out === readFileSync(out, "utf8")).toBe(true);
    }));

  test("gives the same answers for CSV in any order, JSON lines of plots and of groups, and from the standard input", () =>
    inFolder(async (folder) => {
      const path = (name: string, text: string): string => {
        writeFileSync(join(folder, name), text);
        return join(folder, name);
      };
      const rows = records(csv);
      const lines = (values: readonly unknown[]): string =>
        `${values.map((value) => JSON.stringify(value)).join("\n")}\n`;
      const groups = [...new Set(rows.map(({ hybrid }) => hybrid))].map((hybrid) => ({
        schema: "standcurve/group/1",
        hybrid,
        environment: null,
        plots: rows.filter((row) => row.hybrid === hybrid),
      }));
      const expected = answers((await run(["batch", path("a.csv", csv), ...cheap])).out);
      const others = [
        await run(["batch", path("b.csv", scattered(csv)), ...cheap]),
        await run(["batch", path("c.jsonl", lines(rows)), ...cheap]),
        await run(["batch", path("d.jsonl", lines(groups)), ...cheap]),
        await run(["batch", "-", ...cheap], [scattered(csv)]),
        await run(["batch", "-", "--grouped", ...cheap], [csv.slice(0, 1000), csv.slice(1000)]),
        await run(["batch", "-", "--format", "jsonl", ...cheap], [lines(groups)]),
      ];
      for (const { out, code } of others) {
        expect(code).toBe(0);
        expect(answers(out)).toEqual(expected);
      }
    }));

  test("shards and merged files are the whole, byte for byte", () =>
    inFolder(async (folder) => {
      const at = (name: string): string => join(folder, name);
      writeFileSync(at("n.csv"), scattered(csv));
      await run(["batch", at("n.csv"), "--out", at("whole.jsonl"), ...cheap]);
      for (const i of [0, 1, 2])
        await run(["batch", at("n.csv"), "--shard", `${i}/3`, "--out", at(`${i}.jsonl`), ...cheap]);
      const shards = [0, 1, 2].map((i) => at(`${i}.jsonl`));
      const merged = await run(["batch", "--merge", ...shards, "--out", at("merged.jsonl")]);
      expect([merged.code, merged.err]).toEqual([0, "6 results of 3 files\n"]);
      await run(["batch", "--merge", at("whole.jsonl"), "--out", at("sorted.jsonl")]);
      expect(readFileSync(at("merged.jsonl")).equals(readFileSync(at("sorted.jsonl")))).toBe(true);
      const twice = await run(["batch", "--merge", shards[0] as string, at("whole.jsonl"), "--out", at("x.jsonl")]);
      expect([twice.code, existsSync(at("x.jsonl"))]).toEqual([1, false]);
      expect(twice.err).toMatch(/is in ".*0\.jsonl" and in ".*whole\.jsonl": the files are not shards of one run/);
      await run(["batch", at("n.csv"), "--shard", "1/3", "--out", at("other.jsonl"), ...cheap, "--level", "0.9"]);
      const mixed = await run(["batch", "--merge", at("0.jsonl"), at("other.jsonl"), "--out", at("x.jsonl")]);
      expect(mixed.err).toMatch(/different options or versions/);
    }));

  test("resumes: what is complete stays, a torn line and a failed group are done again", () =>
    inFolder(async (folder) => {
      const at = (name: string): string => join(folder, name);
      writeFileSync(at("n.csv"), csv);
      await run(["batch", at("n.csv"), "--out", at("r.jsonl"), ...cheap]);
      const whole = readFileSync(at("r.jsonl"), "utf8");
      const lines = whole.split("\n");
      const failed = JSON.stringify({ ...JSON.parse(lines[1] as string), status: "failed", analysis: null });
      writeFileSync(at("r.jsonl"), [lines[0], failed, lines[2], lines[3]?.slice(0, 900)].join("\n"));
      expect((await run(["batch", at("n.csv"), "--out", at("r.jsonl"), ...cheap])).code).toBe(2);
      const torn = await run(["batch", "--merge", at("r.jsonl"), "--out", at("m.jsonl")]);
      expect(torn.err).toMatch(/line 4 of .* is no complete group result: finish that run with --resume/);
      const again = await run(["batch", at("n.csv"), "--out", at("r.jsonl"), "--resume", ...cheap]);
      expect(again.err).toMatch(/Kept 2 results of an earlier run; 2 torn or failed ones were taken out/);
      expect(again.err).toMatch(/4 groups of 120 rows: 4 analysed/);
      expect(readFileSync(at("r.jsonl"), "utf8").trimEnd().split("\n").sort()).toEqual(
        whole.trimEnd().split("\n").sort(),
      );
      // Nothing to do; other options; other rows.
      expect((await run(["batch", at("n.csv"), "--out", at("r.jsonl"), "--resume", ...cheap])).err).toMatch(/0 groups/);
      const other = await run(["batch", at("n.csv"), "--out", at("r.jsonl"), "--resume", ...cheap, "--seed", "5"]);
      expect([other.code, other.err]).toEqual([2, expect.stringMatching(/other options/)]);
      writeFileSync(at("n.csv"), csv.replace(/^(Hybrid 3,.*),[\d.]+$/m, "$1,199.9"));
      const changed = await run(["batch", at("n.csv"), "--out", at("r.jsonl"), "--resume", ...cheap]);
      expect([changed.code, changed.err]).toEqual([
        1,
        expect.stringMatching(/rows of 1 groups have changed since \("Hybrid 3"/),
      ]);
    }));

  test("writes tidy tables out of the results, all or none", () =>
    inFolder(async (folder) => {
      const at = (name: string): string => join(folder, name);
      writeFileSync(at("n.csv"), csv.replace(/,[\d.]+$/m, ",many"));
      await run(["batch", at("n.csv"), "--out", at("r.jsonl"), ...cheap]);
      const { code } = await run(["batch", "--tables", at("r.jsonl"), "--out", at("tables")]);
      expect(code).toBe(0);
      const table = (name: string): string[] =>
        readFileSync(at(`tables/${name}.csv`), "utf8")
          .trimEnd()
          .split("\r\n");
      expect(table("groups").length).toBe(7);
      expect(table("groups")[1]).toMatch(/^Hybrid 0,,analysed,,30,2,31,1,[0-9a-f]{64}$/);
      // 6 hybrids x (pooled and 2 sites) x 3 families.
      expect(table("curves").length).toBe(1 + 54);
      expect(table("issues").filter((line) => line.includes("not-a-number"))).toEqual([
        expect.stringMatching(/^Hybrid 0,,error,not-a-number,2,yield_bu_ac,many,/),
      ]);
      expect((await run(["batch", "--tables", at("r.jsonl"), "--out", at("tables")])).code).toBe(2);
      expect((await run(["batch", "--tables", at("none.jsonl"), "--out", at("t2")])).code).toBe(1);
      expect(existsSync(at("t2"))).toBe(false);
    }));

  test("counts what is wrong in the rows by kind, and its exit code says so", () =>
    inFolder(async (folder) => {
      const file = join(folder, "n.csv");
      writeFileSync(
        file,
        csv
          .replace(/,[\d.]+\n(Hybrid 1,Site 1)/g, ",none at all\n$1")
          .replace(/^(Hybrid 5,[^,]*,[^,]*,[^,]*,)\d+,[\d.]+/gm, "$130,28.5"),
      );
      const { code, err, out } = await run(["batch", file, ...cheap]);
      expect(code).toBe(1);
      expect(err).toMatch(/6 groups of 180 rows: 5 analysed, 1 not/);
      expect(err).toMatch(/Not analysed: Hybrid 5: only one density was grown/);
      expect(err).toMatch(
        /not-a-number: 15 errors in 1 group, first in Hybrid 1: Line \d+, column "yield_bu_ac": found "none at all"/,
      );
      expect(parsed(out).length).toBe(6);
    }));

  test("refuses files that cannot be used once, not once for each hybrid", () =>
    inFolder(async (folder) => {
      const file = join(folder, "n.csv");
      writeFileSync(file, csv.replace("yield_bu_ac", "yield"));
      const bare = await run(["batch", file, ...cheap]);
      expect([bare.code, bare.out]).toEqual([3, ""]);
      expect(bare.err).toMatch(/the columns cannot be used:/);
      expect(bare.err).toMatch(/--unit yield/);
      expect((await run(["batch", file, "--unit", "yield=bu/ac", ...cheap])).code).toBe(0);
      writeFileSync(file, scattered(csv));
      const grouped = await run(["batch", file, "--grouped", ...cheap]);
      expect([grouped.code, grouped.err]).toEqual([
        3,
        expect.stringMatching(/"Hybrid 0" do not stand together.*leave --grouped out/),
      ]);
      writeFileSync(file, "PK\u0003\u0004");
      expect((await run(["batch", file])).err).toMatch(/spreadsheet workbook/);
      writeFileSync(file, "");
      expect((await run(["batch", file])).code).toBe(1); // an empty file is read to its end
      writeFileSync(
        join(folder, "bad.jsonl"),
        '{"hybrid":"A","stand_k_ac":20,"yield_bu_ac":180}\nnot json\n{"hybrid":"A","stand_k_ac":30,"yield_bu_ac":190}\n',
      );
      const lines = await run(["batch", join(folder, "bad.jsonl"), ...cheap]);
      expect([lines.code, lines.err]).toEqual([1, expect.stringMatching(/Line 2: found "not json"/)]);
      expect((await run(["batch", join(folder, "none.csv")])).err).toMatch(/there is no file/);
      writeFileSync(join(folder, "x.parquet"), "no parquet at all");
      expect((await run(["batch", join(folder, "x.parquet")])).err).toMatch(/cannot be read as Parquet/);
    }));

  test("lists everything that is wrong with the command", async () => {
    const { code, err } = await run([
      "batch",
      "x.csv",
      "--workers",
      "two",
      "--shard",
      "4/4",
      "--by",
      "site",
      "--json",
      "--grane-price",
      "4",
    ]);
    expect(code).toBe(2);
    for (const part of [
      "--workers must be",
      "--shard must be I/N",
      "--by must be hybrid",
      "--json does not belong to batch",
      "did you mean --grain-price",
    ])
      expect(err).toContain(part);
    expect((await run(["batch", "--merge", "--resume"])).err).toMatch(
      /--resume does not belong.*\n.*needs files.*\n.*needs --out FILE/,
    );
    expect((await run(["batch", "--help"])).out).toMatch(/--shard I\/N/);
    expect((await run(["--help"])).out).toMatch(/^batch /m);
    expect((await run(["batch"])).code).toBe(2);
  });

  test("reads Parquet as it reads the same table as CSV", async () => {
    // test/oracle/parquet/makeParquet.mjs: the demo trial written by DuckDB.
    const parquet = new URL("../oracle/parquet/plots.parquet", import.meta.url).pathname;
    const few = [...cheap, "--no-standability", "--pooled-only"];
    const one = await run(["batch", parquet, ...few]);
    expect(answers(one.out)).toEqual(answers((await run(["batch", demoPath("plots"), ...few])).out));
    expect(parsed(one.out).map(({ rows }) => rows.count)).toEqual([72, 72, 72, 72, 72, 72]);
  });
});
