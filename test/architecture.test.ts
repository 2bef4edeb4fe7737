import { readdirSync, readFileSync } from "node:fs";
import { join, relative } from "node:path";
import { expect, test } from "vitest";

const root = new URL("../src", import.meta.url).pathname;
/** Left may not import right. Files directly in src form the public face and may import every pure folder. */
const order = [
  "core",
  "numeric",
  "curves",
  "trial",
  "fit",
  "interval",
  "mixed",
  "derive",
  "standability",
  "recommend",
  "plan",
  "version",
  "analyze",
  "batch",
  "plot",
  "report",
  "index",
  "node",
];
const onlyHere: Readonly<Record<string, readonly string[]>> = {
  "csv-parse/browser/esm/sync": ["trial/csv.ts"],
  hyparquet: ["node/parquetSource.ts"],
  "ml-levenberg-marquardt": ["numeric/levenbergMarquardt.ts"],
  "@noble/hashes/sha2.js": ["core/hash.ts"],
  "@noble/hashes/utils.js": ["core/hash.ts"],
  "simple-statistics": ["numeric/quantile.ts"],
};

function files(folder: string): string[] {
  return readdirSync(folder, { withFileTypes: true }).flatMap((entry) =>
    entry.isDirectory()
      ? files(join(folder, entry.name))
      : entry.name.endsWith(".ts")
        ? [join(folder, entry.name)]
        : [],
  );
}

const sources = files(root).map((path) => ({
  name: relative(root, path),
  text: readFileSync(path, "utf8"),
  imports: [...readFileSync(path, "utf8").matchAll(/(?:from|import)\s+"([^"]+)"/g)].map((match) => match[1]),
}));

function layer(name: string): number {
  return order.indexOf(name.split("/")[0].replace(/\.ts$/, ""));
}

test("every source folder has its place in the order of layers", () => {
  expect(sources.filter(({ name }) => layer(name) < 0).map(({ name }) => name)).toEqual([]);
});

test("imports point to the own layer or to the left, never to the right", () => {
  const wrong = sources.flatMap(({ name, imports }) =>
    imports
      .filter((path) => path.startsWith("."))
      .map((path) => relative(root, join(root, name, "..", path)))
      .filter((target) => layer(target) > layer(name))
      .map((target) => `${name} imports ${target}`),
  );
  expect(wrong).toEqual([]);
});

test("each package is imported behind its one door, and Node only in the node folder", () => {
  const wrong = sources.flatMap(({ name, imports }) =>
    imports
      .filter((path) => !path.startsWith("."))
      .filter((path) => (path.startsWith("node:") ? !name.startsWith("node/") : !(onlyHere[path] ?? []).includes(name)))
      .map((path) => `${name} imports ${path}`),
  );
  expect(wrong).toEqual([]);
});

/** Members of Math that the language fixes to the last bit (ECMA-262, 21.3): roots, comparison, rounding, signs, integers, constants. */
const exactMath =
  /^(abs|ceil|clz32|floor|fround|imul|max|min|round|sign|sqrt|trunc|E|LN10|LN2|LOG10E|LOG2E|PI|SQRT1_2|SQRT2)$/;

/** Source without comments, and without the text of strings (a template's expressions stay). */
function code(text: string): string {
  return text
    .replace(/\/\*[\s\S]*?\*\//g, "")
    .replace(/"(?:[^"\\\n]|\\.)*"/g, '""')
    .replace(/(^|[^:])\/\/.*$/gm, "$1");
}

test("nothing rests on what engines compute differently: powers, exp and its kin, chance, locale, clock", () => {
  const wrong = sources.flatMap(({ name, text }) => {
    const body = code(text);
    const members = [...body.matchAll(/\bMath\s*(?:\.\s*(\w+)|\[)/g)]
      .filter((match) => !exactMath.test(match[1] ?? ""))
      .map((match) => match[0]);
    const others =
      body.match(
        /\bMath\b(?!\s*[.[])|\*\*(?![/>"'`_])|\.toLocale\w*|\blocaleCompare\b|\bIntl\.|\bnew Date\b|\bDate\.\w+/g,
      ) ?? [];
    return [...members, ...others].map((what) => `${name}: ${what}`);
  });
  // two ends of one emphasis in a Markdown template
  expect(wrong).toEqual(["report/markdownPage.ts: **", "report/markdownPage.ts: **"]);
});
