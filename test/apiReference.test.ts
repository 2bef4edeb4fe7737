/** The committed API reference is what the docstrings say; `node .config/apiReference.mjs` writes it again. */
import { readdirSync, readFileSync } from "node:fs";
import { beforeAll, describe, expect, test } from "vitest";
import * as publicNames from "../src/index.ts";
import * as nodeNames from "../src/node/index.ts";
import * as plotNames from "../src/plot/index.ts";

const root = new URL("..", import.meta.url).pathname;
let pages: ReadonlyMap<string, string>;
beforeAll(async () => {
  const generator: string = `${root}.config/apiReference.mjs`;
  pages = (await import(generator)).apiReference();
});

/** Sections of the functions of a page, by name. */
function functionsOf(page: string): Map<string, string> {
  const [, functions = ""] = /## Functions\n([\s\S]*?)(?=\n## |$(?![\s\S]))/.exec(page) ?? [];
  return new Map(
    functions
      .split(/^### /m)
      .slice(1)
      .map((section) => [section.slice(0, section.indexOf("\n")), section]),
  );
}

describe("the API reference", () => {
  test("is what the docstrings of the sources say", () => {
    expect(readdirSync(`${root}.docs/api`).sort()).toEqual([...pages.keys()].sort());
    for (const [file, text] of pages)
      expect(readFileSync(`${root}.docs/api/${file}`, "utf8"), `${file}: node .config/apiReference.mjs`).toBe(text);
  });

  test("has every public function, and for each what it means, its parameters, what it returns and an example", () => {
    const sections = new Map([...pages.values()].flatMap((page) => [...functionsOf(page)]));
    const wanted = [publicNames, plotNames, nodeNames].flatMap((names) =>
      Object.entries(names).flatMap(([name, value]) =>
        typeof value === "function" && !/^class\b/.test(String(value)) ? [name] : [],
      ),
    );
    expect([...sections.keys()].sort()).toEqual([...wanted].sort());
    const without = (sign: RegExp): string[] =>
      [...sections].flatMap(([name, text]) => (sign.test(text) ? [] : [name]));
    expect(without(/^\w+\n\n[A-Z"`0-9][^\n]{15,}/)).toEqual([]);
    expect(without(/\*\*Returns\*\* \S/)).toEqual([]);
    // These need workers of their own to show anything.
    const needWorkers = ["serveGroups", "threadExecutor", "webWorkers", "workerPool"];
    expect(without(/\*\*Example\*\*/).filter((name) => !needWorkers.includes(name))).toEqual([]);
    expect(without(/\| parameter \| type \| meaning \||^\w+[\s\S]*\(\)/)).toEqual([]);
  });

  test("links only to headings that are there", () => {
    const headings = new Map(
      [...pages].map(([file, text]) => {
        const seen = new Map<string, number>();
        const anchors = [...text.matchAll(/^#{1,3} (.+)$/gm)].map(([, title]) => {
          const plain = title
            .toLowerCase()
            .replace(/[^a-z0-9 _-]/g, "")
            .replaceAll(" ", "-");
          const before = seen.get(plain) ?? 0;
          seen.set(plain, before + 1);
          return before === 0 ? plain : `${plain}-${before}`;
        });
        return [file, anchors] as const;
      }),
    );
    let links = 0;
    for (const [file, text] of pages) {
      for (const [, target, anchor] of text
        .replace(/```[\s\S]*?```/g, "")
        .matchAll(/\]\(([\w]*\.?m?d?)(?:#([\w-]+))?\)/g)) {
        links += 1;
        const page = target === "" ? file : target;
        expect(headings.has(page), `${file}: ${target}`).toBe(true);
        if (anchor !== undefined) expect(headings.get(page), `${file}: ${target}#${anchor}`).toContain(anchor);
      }
    }
    expect(links).toBeGreaterThan(500);
  });
});
