/** What a TypeScript program sees that installs the built package: today's resolution, and the old one of notebooks (tslab) by `main` and `types`. */
import { spawnSync } from "node:child_process";
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { dirname, join } from "node:path";
import { describe, expect, test } from "vitest";

const root = new URL("..", import.meta.url).pathname;
// In the slow run the build has gone before: a missing one is a failure there.
const built = existsSync(join(root, "dist/index.js")) || process.env["STANDCURVE_SLOW"] === "1";
// A TypeScript before 7, which still knows the old resolution: its tsc, when there is one on this machine.
const oldTsc = process.env["STANDCURVE_OLD_TSC"] ?? "";

const program = `import { analyzeTrial, readTrial, type TrialAnalysis } from "standcurve";
import { renderChart } from "standcurve/node";
import { type Chart, responseChart } from "standcurve/plot";
const { trial } = readTrial("hybrid,block,stand_k_ac,yield_bu_ac");
if (trial !== null) {
  const analysis: TrialAnalysis = analyzeTrial(trial, { resamples: 0 });
  const chart: Chart = responseChart(analysis, { hybrid: "A" });
  const svg: Promise<string> = renderChart(chart);
  void svg;
  const wrong: number = analysis.version;
  void wrong;
}
`;

/** Errors that a compiler finds in the program, as "line: code". */
function errorsOf(tsc: string, ...options: readonly string[]): string[] {
  const folder = mkdtempSync(join(tmpdir(), "standcurve-consumer-"));
  mkdirSync(join(folder, "node_modules"));
  symlinkSync(root, join(folder, "node_modules/standcurve"));
  writeFileSync(join(folder, "package.json"), '{ "type": "module" }');
  writeFileSync(join(folder, "program.ts"), program);
  const { stdout } = spawnSync(
    process.execPath,
    [tsc, "--noEmit", "--strict", "--target", "es2022", ...options, "program.ts"],
    { cwd: folder, encoding: "utf8" },
  );
  return stdout
    .split("\n")
    .filter((line) => line.includes("error"))
    .map((line) => line.replace(/^program\.ts\((\d+),\d+\): error (\w+).*$/, "$1: $2"));
}

/** The one mistake of the program, so that a check that sees nothing cannot pass. */
const mistake = ["10: TS2322"];

describe.skipIf(!built)("a program that installs the package", () => {
  test("type-checks with its own mistakes only, as a Node module and for a bundler", () => {
    const tsc = join(root, "node_modules/typescript/bin/tsc");
    expect(errorsOf(tsc, "--module", "nodenext")).toEqual(mistake);
    expect(errorsOf(tsc, "--module", "esnext", "--moduleResolution", "bundler")).toEqual(mistake);
  });

  test("finds every declaration by the old resolution: `types`, `typesVersions`, and relative paths that lead to a file", () => {
    const manifest = JSON.parse(readFileSync(join(root, "package.json"), "utf8"));
    const subpaths = Object.keys(manifest.exports).filter((name) => name !== "." && name !== "./package.json");
    expect(Object.keys(manifest.typesVersions["*"]).sort()).toEqual(subpaths.map((name) => name.slice(2)).sort());
    const starts = [
      manifest.main,
      manifest.types,
      ...(Object.values(manifest.typesVersions["*"]) as string[][]).flat(),
    ];
    for (const file of starts) expect(existsSync(join(root, file)), file).toBe(true);
    const lost = readdirSync(join(root, "dist"), { recursive: true, encoding: "utf8" })
      .filter((file) => file.endsWith(".d.ts"))
      .flatMap((file) =>
        [...readFileSync(join(root, "dist", file), "utf8").matchAll(/(?:from |import\()"(\.[^"]+)"/g)].flatMap(
          ([, path]) =>
            existsSync(join(root, "dist", dirname(file), path.replace(/\.[jt]s$/, ".d.ts")))
              ? []
              : [`${file}: ${path}`],
        ),
      );
    expect(lost).toEqual([]);
  });

  test.skipIf(oldTsc === "")("type-checks with a compiler that knows only the old resolution", () => {
    expect(errorsOf(oldTsc, "--module", "es2022", "--moduleResolution", "node")).toEqual(mistake);
  });
});
