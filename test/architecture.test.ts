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
