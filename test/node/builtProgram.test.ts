import { execFileSync, spawnSync } from "node:child_process";
import { existsSync, readFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { version } from "../../src/version.ts";
import { demoPath } from "./runInProcess.ts";

const program = new URL("../../dist/node/main.js", import.meta.url).pathname;

// In the slow run the build has gone before: a missing program is a failure there.
const built = existsSync(program) || process.env["STANDCURVE_SLOW"] === "1";

describe.skipIf(!built)("the built program", () => {
  test("runs, and its exit codes are those of the commands", () => {
    expect(execFileSync(process.execPath, [program, "--version"], { encoding: "utf8" })).toBe(`${version}\n`);
    const status = (argv: string[]): number | null => spawnSync(process.execPath, [program, ...argv]).status;
    expect([
      status(["check", demoPath("plots")]),
      status(["check", demoPath("messy-semicolon")]),
      status(["chek"]),
    ]).toEqual([0, 1, 2]);
  });

  test("a reader that closes the pipe early is no failure, and a large result arrives whole", () => {
    const shell = (command: string) => spawnSync("sh", ["-c", command], { encoding: "utf8" });
    const call = `"${process.execPath}" "${program}" analyze "${demoPath("strips")}" --resamples 20 --json --quiet`;
    expect(shell(`${call} | head -c 10`)).toMatchObject({ stdout: '{\n  "schem', stderr: "" });
    expect(JSON.parse(shell(`${call} | cat`).stdout).schema).toBe("standcurve/trial-analysis/1");
  });

  test("reads its standard input", () => {
    const { status, stdout } = spawnSync(
      "sh",
      ["-c", `"${process.execPath}" "${program}" check - < "${demoPath("plots")}"`],
      {
        encoding: "utf8",
      },
    );
    expect(status).toBe(0);
    expect(stdout).toContain("What this trial can tell");
  });

  // Slow: analyses the demo trial in full.
  test.skipIf(process.env["STANDCURVE_SLOW"] !== "1")("prints what the README says that it prints", () => {
    const readme = readFileSync(new URL("../../README.md", import.meta.url), "utf8");
    const [, shown = ""] = /prints among other things\n\n```text\n([\s\S]*?)```/.exec(readme) ?? [];
    const call = ["analyze", demoPath("plots"), "--grain-price", "4.50", "--seed-cost", "3.75", "--currency", "$"];
    const printed = new Set(execFileSync(process.execPath, [program, ...call], { encoding: "utf8" }).split("\n"));
    const lines = shown.split("\n").filter((line) => line !== "");
    expect(lines.length).toBeGreaterThan(20);
    expect(lines.filter((line) => !printed.has(line))).toEqual([]);
  });
});
