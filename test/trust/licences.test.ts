/** Every package has an allowed licence and a reason, every data file a source; `node .config/licences.mjs` writes the page again. */
import { readFileSync } from "node:fs";
import { beforeAll, describe, expect, test } from "vitest";

const root = new URL("../..", import.meta.url).pathname;

interface Package {
  readonly path: string;
  readonly name: string;
  readonly version: string;
  readonly licence: string | null;
  readonly shipped: boolean;
}
let licences: {
  readonly packages: () => readonly Package[];
  readonly licenceProblems: (list?: readonly Package[]) => readonly string[];
  readonly isAllowed: (licence: string | null, allowed: readonly string[]) => boolean;
  readonly oracleSources: () => readonly { readonly file: string; readonly source: string | null }[];
  readonly demoFiles: () => readonly { readonly file: string; readonly listed: boolean }[];
  readonly licencesPage: () => string;
};
beforeAll(async () => {
  const generator: string = `${root}.config/licences.mjs`;
  licences = await import(generator);
});

describe("licences", () => {
  test("of all packages are allowed, and each direct one has its reason", () => {
    expect(licences.packages().length).toBeGreaterThan(100);
    expect(licences.licenceProblems()).toEqual([]);
  });

  test("a package without a licence, with one that is not allowed, or without a reason is named", () => {
    const bad = (name: string, licence: string | null, shipped: boolean): Package => ({
      path: `node_modules/${name}`,
      name,
      version: "1.0.0",
      licence,
      shipped,
    });
    const problems = licences.licenceProblems([
      bad("a", null, false),
      bad("b", "GPL-3.0", false),
      bad("c", "MPL-2.0", true),
    ]);
    expect(problems).toEqual([
      "node_modules/a has the licence (none), which is not allowed",
      "node_modules/b has the licence GPL-3.0, which is not allowed",
      "node_modules/c has the licence MPL-2.0, which is not allowed",
      "c is not explained among the runtime packages",
    ]);
    expect(licences.isAllowed("(GPL-3.0 OR MIT)", ["MIT"])).toBe(true);
    expect(licences.isAllowed("GPL-3.0 AND MIT", ["MIT"])).toBe(false);
    expect(licences.isAllowed("", ["MIT"])).toBe(false);
  });

  test("the page is what lock file, packages and tables say now", () => {
    expect(readFileSync(`${root}.docs/licences.md`, "utf8"), "node .config/licences.mjs").toBe(licences.licencesPage());
  });
});

describe("data", () => {
  test("of the tests all have a source and a licence in the table of their folder", () => {
    const sources = licences.oracleSources();
    expect(sources.length).toBeGreaterThan(40);
    expect(sources.filter(({ source }) => source === null).map(({ file }) => file)).toEqual([]);
  });

  test("of the demo are all listed where it says that everything is invented", () => {
    expect(readFileSync(`${root}data-demo/README.md`, "utf8")).toContain("Everything here is **invented**");
    expect(
      licences
        .demoFiles()
        .filter(({ listed }) => !listed)
        .map(({ file }) => file),
    ).toEqual([]);
  });
});
