import { defineConfig } from "vitest/config";

/** The tests of a mutation run: fast files only, named by `mutation.mjs`, so that a mutant costs seconds. */
export default defineConfig({
  test: {
    root: new URL("..", import.meta.url).pathname,
    include: (process.env["STANDCURVE_MUTATION_TESTS"] ?? "test/**/*.test.ts").split(","),
    testTimeout: 600_000,
    hookTimeout: 600_000,
  },
});
