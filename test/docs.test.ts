/** Every example of the docs is run: `expr; // => value` must hold, and the README's blocks must not throw. */
import { readdirSync, readFileSync } from "node:fs";
import { transformWithOxc } from "vite";
import { beforeAll, describe, expect, test } from "vitest";
import * as publicNames from "../src/index.ts";
import * as nodeNames from "../src/node/index.ts";
import * as plotNames from "../src/plot/index.ts";

const root = new URL("..", import.meta.url).pathname;

/** `expr; // => value` on one line, or spread over lines that end with it, becomes a check. */
function withChecks(code: string): { code: string; checks: number } {
  let checks = 0;
  const lines = code.split("\n").map((line) => {
    const match = /^(\s*)(.+?);?\s*\/\/ => (.+)$/.exec(line);
    if (!match) return line;
    checks++;
    return `${match[1]}__check(${match[2]}, ${match[3]});`;
  });
  return { code: lines.join("\n"), checks };
}

function check(actual: unknown, expected: unknown): void {
  if (typeof actual === "number" && typeof expected === "number") {
    // Examples print what a reader wants to see, ten digits at the most.
    expect(Math.abs(actual - expected)).toBeLessThanOrEqual(1e-9 * Math.max(Math.abs(expected), 1));
  } else if (Array.isArray(actual) && Array.isArray(expected) && actual.length === expected.length) {
    actual.forEach((value, i) => {
      check(value, expected[i]);
    });
  } else expect(actual).toEqual(expected);
}

async function run(code: string, scope: Readonly<Record<string, unknown>>): Promise<void> {
  // Inside a function of its own an example may await.
  const own = `async function example() {\n${code.replace(/^import .*$/gm, "")}\n}`;
  const { code: js } = await transformWithOxc(own, "example.ts");
  const names = Object.keys(scope);
  const body = `${js}\nreturn example();`;
  await new Function(...names, "__check", body)(...names.map((name) => scope[name]), check);
}

const sources = readdirSync(`${root}/src`, { recursive: true, encoding: "utf8" })
  .filter((file) => file.endsWith(".ts") && !file.endsWith(".d.ts"))
  .flatMap((file) => {
    const text = readFileSync(`${root}/src/${file}`, "utf8");
    return [...text.matchAll(/@example\n((?:\s*\* ?.*\n)+?)(?=\s*\*\s*(?:\n|\/)|\s*\* @|\s*\* Source|\s*\*\/)/g)].map(
      (match, i) => ({
        name: `${file}${i > 0 ? ` (${i + 1})` : ""}`,
        file,
        code: match[1].replace(/^\s*\* ?/gm, ""),
      }),
    );
  });

/** Examples may use every name of the sources, and the demo trial and its analysis. */
const scope: Record<string, unknown> = {};
beforeAll(async () => {
  for (const file of new Set(sources.map((source) => source.file)))
    Object.assign(scope, await import(`../src/${file}`));
  Object.assign(scope, await import("../src/fit/fitBinomialLinks.ts"), publicNames);
  const { trial } = publicNames.readTrial(readFileSync(`${root}/data-demo/strips.csv`, "utf8"));
  if (trial === null) throw new Error("the demo trial must be readable");
  Object.assign(scope, { trial, analysis: publicNames.analyzeTrial(trial, { resamples: 0 }) });
});

describe("docstring examples", () => {
  test("there are examples to run, and most of them check a value", () => {
    expect(sources.length).toBeGreaterThan(15);
    const checked = sources.filter(({ code }) => withChecks(code).checks > 0);
    expect(checked.length).toBeGreaterThan(0.8 * sources.length);
  });

  test.each(sources)("$name", async ({ code }) => {
    await run(withChecks(code).code, scope);
  });
});

describe("README", () => {
  const readme = readFileSync(`${root}/README.md`, "utf8");
  const blocks = [...readme.matchAll(/```ts\n([\s\S]*?)```/g)].map((match, i) => ({
    name: `block ${i + 1}`,
    code: match[1],
  }));

  test.each(blocks)("$name runs", async ({ code }) => {
    const demo = (name: string): string => readFileSync(`${root}/data-demo/${name}`, "utf8");
    await run(withChecks(code).code, { ...publicNames, ...plotNames, ...nodeNames, demo });
  });

  test("says of each picture what the picture says of itself", () => {
    const pictures = [...readme.matchAll(/^!\[(.*)\]\((.*\.svg)\)$/gm)];
    expect(pictures.length).toBeGreaterThanOrEqual(4);
    for (const [, words, file] of pictures) {
      const title = /<title>([^<]*)<\/title>/.exec(readFileSync(`${root}/${file}`, "utf8"))?.[1] ?? "";
      expect(words.length, file).toBeGreaterThan(80);
      expect(
        title.replaceAll("&lt;", "<").replaceAll("&gt;", ">").replaceAll("&amp;", "&").startsWith(words),
        file,
      ).toBe(true);
    }
  });

  test("has no link to a file that is not there", () => {
    const links = [...readme.matchAll(/\]\((?!https?:|#)([^)#]+)/g)].map((match) => match[1]);
    for (const link of links) expect(() => readFileSync(`${root}/${link}`), link).not.toThrow();
  });
});
