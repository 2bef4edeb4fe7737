/** The committed page of the public surface is what the compiler declares now; `node .config/apiSurface.mjs` writes it again. */
import { readFileSync } from "node:fs";
import { beforeAll, describe, expect, test } from "vitest";
import * as publicNames from "../../src/index.ts";
import * as nodeNames from "../../src/node/index.ts";
import * as plotNames from "../../src/plot/index.ts";

const root = new URL("../..", import.meta.url).pathname;

interface Changes {
  readonly added: readonly string[];
  readonly removed: readonly string[];
  readonly extended: readonly string[];
  readonly changed: readonly string[];
  readonly removedUnannounced: readonly string[];
}
let surfaceChanges: (before: string, after: string) => Changes;
let surfaceText: (changes: Changes) => string;
let versionNeeded: (changes: Changes) => "major" | "minor" | "none";
let isVersionEnough: (from: string, to: string, needed: string) => boolean;
let declaredIn: (text: string) => ReadonlyMap<string, string>;
let now: string;
beforeAll(async () => {
  const generator: string = `${root}.config/apiSurface.mjs`;
  const reader: string = `${root}.config/declarations.mjs`;
  const made = await import(generator);
  ({ surfaceChanges, surfaceText, versionNeeded, isVersionEnough } = made);
  ({ declaredIn } = await import(reader));
  now = made.apiSurface();
});

describe("the public surface", () => {
  test("is the committed one: a change is written down, and meant", () => {
    const committed = readFileSync(`${root}.docs/surface.md`, "utf8");
    const said = surfaceText(surfaceChanges(committed, now));
    expect(said, `${said}\nWhen it is meant: node .config/apiSurface.mjs, and say it in CHANGELOG.md`).toBe("");
    expect(committed).toBe(now);
  });

  test("has every value that the three entry points give at run time, and no path of this machine", () => {
    for (const [entry, names] of [
      ["standcurve", publicNames],
      ["standcurve/plot", plotNames],
      ["standcurve/node", nodeNames],
    ] as const) {
      const part = now.split(`\n## ${entry}\n`)[1]?.split("\n## ")[0] ?? "";
      const listed = [...part.matchAll(/^### (\w+)\n\n```ts\n(?:function|const|class)/gm)].map(([, name]) => name);
      expect(listed, entry).toEqual(Object.keys(names).sort());
    }
    expect(now).not.toMatch(/file:\/\/|\/src\/|node_modules/);
  });
});

describe("what changed between two surfaces", () => {
  const page = (...names: readonly (readonly [string, string])[]): string =>
    ["## standcurve", ...names.map(([name, code]) => `### ${name}\n\n\`\`\`ts\n${code}\n\`\`\``)].join("\n\n");
  const two = page(["fit", "function fit(): number;"], ["old", "/** @deprecated use fit */function old(): number;"]);

  test("nothing: no words", () => {
    expect(surfaceText(surfaceChanges(two, two))).toBe("");
    expect(surfaceText(surfaceChanges(now, now))).toBe("");
  });

  test("a name more asks for a minor version only", () => {
    const said = surfaceText(surfaceChanges(two, `${two}\n\n### more\n\n\`\`\`ts\nconst more: 1;\n\`\`\``));
    expect(said).toContain("Added:\n  more (standcurve)");
    expect(said).toContain("minor version");
    expect(said).not.toContain("major");
  });

  test("a name less, or another type, asks for a major version, and for a deprecation where there was none", () => {
    const gone = surfaceChanges(two, page(["old", "/** @deprecated use fit */function old(): number;"]));
    expect(gone).toEqual({
      added: [],
      removed: ["fit (standcurve)"],
      extended: [],
      changed: [],
      removedUnannounced: ["fit (standcurve)"],
    });
    expect(surfaceText(gone)).toMatch(/major version[\s\S]*Deprecate first.*fit/);
    const announced = surfaceChanges(two, page(["fit", "function fit(): number;"]));
    expect(surfaceText(announced)).toContain("Removed:\n  old (standcurve)");
    expect(announced.removedUnannounced).toEqual([]);
    const other = surfaceChanges(two, two.replace("fit(): number", "fit(): string"));
    expect(other.changed).toEqual(["fit (standcurve)"]);
    expect(surfaceText(other)).toContain("major version");
  });

  test("an entry point less is seen, and a change of a type that has no public name", () => {
    const points = "## Entry points\n- `standcurve`\n- `standcurve/plot`\n\n";
    expect(surfaceChanges(points, points.replace("- `standcurve/plot`\n", "")).removed).toEqual([
      "entry point standcurve/plot",
    ]);
    const hidden = "## Reached through these\n\n### Part of fit/part\n\n```ts\ntype Part = 1;\n```\n";
    expect(surfaceChanges(hidden, hidden.replace("= 1", "= 2")).changed).toHaveLength(1);
    expect(surfaceChanges(hidden, "").removed).toEqual([]);
  });
});

test("a declaration that only gained lines is extended, one that lost or changed a line is changed", () => {
  const page = (...lines: readonly string[]): string =>
    `## standcurve\n\n### A\n\n\`\`\`ts\n${lines.join("\n")}\n\`\`\`\n`;
  const two = page("interface A {", "    one: 1;", "    two: 2;", "}");
  const compared = (after: string): Changes => surfaceChanges(two, after);
  const extended = compared(page("interface A {", "    one: 1;", "    more?: 3;", "    two: 2;", "}"));
  expect([extended.extended, extended.changed]).toEqual([["A (standcurve)"], []]);
  expect(versionNeeded(extended)).toBe("minor");
  for (const lines of [
    ["interface A {", "    one: 1;", "}"],
    ["interface A {", "    one: 1;", "    two?: 2;", "}"],
  ]) {
    expect(compared(page(...lines)).changed).toEqual(["A (standcurve)"]);
    expect(versionNeeded(compared(page(...lines)))).toBe("major");
  }
  expect(versionNeeded(compared(two))).toBe("none");
  const words = page('type Code = "a" | "b";');
  expect(surfaceChanges(words, page('type Code = "a" | "new" | "b";')).extended).toHaveLength(1);
  for (const other of ['type Code = "a";', 'type Code = "a" | "b" | null;', 'type Code = "a" | "c";'])
    expect(surfaceChanges(words, page(other)).changed, other).toHaveLength(1);
});

test("a version takes the step that semantic versioning asks for (semver.org 2.0.0, items 4, 6 to 8)", () => {
  const enough = (needed: string): string[] =>
    ["0.2.0 0.2.1", "0.2.0 0.3.0", "1.2.3 1.2.4", "1.2.3 1.3.0", "1.2.3 2.0.0", "1.9.0 1.10.0", "0.9.0 1.0.0"].filter(
      (pair) => {
        const [from = "", to = ""] = pair.split(" ");
        return isVersionEnough(from, to, needed);
      },
    );
  expect(enough("none")).toHaveLength(7);
  expect(enough("minor")).toEqual(["0.2.0 0.3.0", "1.2.3 1.3.0", "1.2.3 2.0.0", "1.9.0 1.10.0", "0.9.0 1.0.0"]);
  expect(enough("major")).toEqual(["0.2.0 0.3.0", "1.2.3 2.0.0", "0.9.0 1.0.0"]);
});

test("declarations are read with quotes, comments and braces in awkward places", () => {
  const text = [
    'import type { A } from "./a.ts";',
    "/** Words with a } and a ; and 'quotes'. */",
    'export type Text = "a;b" | "/* no comment */" | `x-y`;',
    "/**\n * @deprecated use\n * `other`\n * @example\n * x; // => 1\n */",
    "export declare function old(a: { b: number; }, c?: () => void): { d: A; };",
    "declare const hidden: readonly [1, 2];",
    "export interface Wide<T extends { x: 1 } = { x: 1 }> extends A {\n    // why\n    one: T;\n}",
    "export declare function twice(a: 1): 1;",
    "export declare function twice(a: 2): 2;",
    "export {};",
  ].join("\n");
  expect([...declaredIn(text)]).toEqual([
    ["Text", 'type Text = "a;b" | "/* no comment */" | `x-y`;'],
    ["old", "/** @deprecated use `other` */\nfunction old(a: { b: number; }, c?: () => void): { d: A; };"],
    ["hidden", "const hidden: readonly [1, 2];"],
    ["Wide", "interface Wide<T extends { x: 1 } = { x: 1 }> extends A {\n    one: T;\n}"],
    ["twice", "function twice(a: 1): 1;\nfunction twice(a: 2): 2;"],
  ]);
});
