import { defineConfig } from "vitest/config";

const report = process.env["STANDCURVE_TEST_REPORT"];

export default defineConfig({
  test: {
    root: new URL("..", import.meta.url).pathname,
    include: ["test/**/*.test.ts"],
    testTimeout: process.env["STANDCURVE_SLOW"] === "1" ? 1_200_000 : 60_000,
    reporters: report ? ["default", ["json", { outputFile: report }]] : ["default"],
  },
});
