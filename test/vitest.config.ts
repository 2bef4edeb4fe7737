import { readdirSync, readFileSync } from "node:fs";
import { availableParallelism } from "node:os";
import { defineConfig } from "vitest/config";

const root = new URL("..", import.meta.url).pathname;
const report = process.env["STANDCURVE_TEST_REPORT"];
const slow = process.env["STANDCURVE_SLOW"] === "1";

/** The slow run takes only the files that have a slow part. */
function slowFiles(): string[] {
  return readdirSync(`${root}/test`, { recursive: true, encoding: "utf8" })
    .filter((file) => file.endsWith(".test.ts"))
    .map((file) => `test/${file}`)
    .filter((file) => readFileSync(`${root}/${file}`, "utf8").includes("STANDCURVE_SLOW"));
}

export default defineConfig({
  test: {
    root,
    include: slow ? slowFiles() : ["test/**/*.test.ts"],
    testTimeout: slow ? 1_200_000 : 60_000,
    hookTimeout: slow ? 1_200_000 : 120_000,
    // Vitest leaves one processor alone, which on two is half of them. Modules are pure, so files can share them.
    maxWorkers: availableParallelism(),
    isolate: false,
    reporters: report ? ["default", ["json", { outputFile: report }]] : ["default"],
  },
});
