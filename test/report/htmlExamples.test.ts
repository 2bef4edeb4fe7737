/** The worked examples in data-demo run as they stand; `expr; // => value` must hold. */
import { readFileSync } from "node:fs";
import { transformWithOxc } from "vite";
import { expect, test } from "vitest";
import * as publicNames from "../../src/index.ts";
import * as plotNames from "../../src/plot/index.ts";

const root = new URL("../..", import.meta.url).pathname;
const text = readFileSync(`${root}/data-demo/examples.md`, "utf8");
const blocks = [...text.matchAll(/```ts\n([\s\S]*?)```/g)].map(([, code]) => code);

test("data-demo/examples.md", async () => {
  let checks = 0;
  const code = blocks
    .join("\n")
    .replace(/^import .*$/gm, "")
    .replace(/^(.+?);\s*\/\/ => (.+)$/gm, (_, actual: string, expected: string) => {
      checks += 1;
      return `__check(${actual}, ${expected}, ${JSON.stringify(actual)});`;
    });
  const { code: js } = await transformWithOxc(code, "examples.ts");
  const scope: Record<string, unknown> = {
    ...publicNames,
    ...plotNames,
    file: (name: string) => readFileSync(`${root}/data-demo/${name}`, "utf8"),
    __check: (actual: unknown, expected: unknown, said: string) => expect(actual, said).toEqual(expected),
  };
  await new Function(...Object.keys(scope), `return (async () => {\n${js}\n})();`)(...Object.values(scope));
  expect(checks).toBe(text.match(/\/\/ => /g)?.length);
  expect(checks).toBeGreaterThan(25);
});

test("every name the examples import is public", () => {
  const imported = [...text.matchAll(/^import \{ ([^}]*) \} from "(standcurve(?:\/plot)?)";$/gm)];
  expect(imported.length).toBeGreaterThan(4);
  for (const [, names, entry] of imported) {
    const offered = entry === "standcurve" ? publicNames : plotNames;
    for (const name of (names ?? "").split(", ")) expect(Object.keys(offered)).toContain(name);
  }
});
