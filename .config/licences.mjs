/**
 * The page of licences: what the package needs, why, and what breaks without it; what its developers need; where the data of tests and
 * demos come from. `node .config/licences.mjs` writes .docs/licences.md; a test holds the page to the lock file, the installed packages
 * and the tables beside the data.
 */
import { existsSync, readdirSync, readFileSync, statSync, writeFileSync } from "node:fs";
import { join, posix } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("..", import.meta.url));
const page = ".docs/licences.md";
const json = (file) => JSON.parse(readFileSync(join(root, file), "utf8"));

/** Licences that ask for no more than a notice: fit for what is shipped with a program that uses the package. */
export const shippedLicences = ["MIT", "ISC", "0BSD", "BSD-2-Clause", "BSD-3-Clause", "Apache-2.0"];
/** For optional packages and development also those that ask for changes of their own files to be shared, or for attribution. */
export const otherLicences = [...shippedLicences, "MPL-2.0", "BlueOak-1.0.0", "CC-BY-4.0", "CC0-1.0", "Unlicense"];

/** Why each package that is installed with this one is needed, and what rests on it. */
const runtime = {
  "@noble/hashes": [
    "SHA-256 of the input, the same and at once on every engine",
    "hash of the input, names of groups, seeds",
  ],
  "csv-parse": [
    "reading CSV by RFC 4180, with quotes and line numbers",
    "reading of text (rows given as objects do not need it)",
  ],
  "ml-levenberg-marquardt": [
    "steps of the smooth curves before they are polished",
    "exponential, reciprocal and Mitscherlich curves",
  ],
  "simple-statistics": ["quantiles", "medians, percentile intervals"],
  "ml-matrix": ["of ml-levenberg-marquardt", "as there"],
  "ml-array-max": ["of ml-matrix", "as there"],
  "ml-array-min": ["of ml-matrix", "as there"],
  "ml-array-rescale": ["of ml-matrix", "as there"],
  "is-any-array": ["of ml-matrix", "as there"],
};
/** The same for packages that are used when a program has them. */
const optional = {
  vega: ["drawing charts", "`renderChart`, pictures of `standcurve report`; charts as data still come"],
  "vega-lite": ["turning charts into what vega draws", "as vega"],
  "@resvg/resvg-js": ["PNG from SVG", "`renderChartPng`"],
  hyparquet: ["reading Parquet", "Parquet input of `standcurve batch`"],
};
const development = {
  "@arethetypeswrong/cli": "types of the packed package",
  "@biomejs/biome": "lint and layout",
  "@resvg/resvg-js": "tests of PNG",
  "@stryker-mutator/core": "mutation tests",
  "@stryker-mutator/vitest-runner": "mutation tests",
  "@types/node": "Node's types",
  ajv: "second opinion on JSON Schemas",
  "axe-core": "accessibility of pages",
  deno: "second engine, notebook kernel",
  "fast-check": "property tests",
  hyparquet: "tests of Parquet",
  jstat: "second opinion on distributions",
  "playwright-core": "tests in a browser",
  publint: "the packed package",
  typescript: "compiler",
  vega: "tests of pictures",
  "vega-lite": "tests of pictures",
  vitest: "test runner",
};

/** Every package of the lock file: name, version, licence, and whether it comes along with the package itself. */
export function packages() {
  return Object.entries(json("package-lock.json").packages)
    .filter(([path]) => path !== "")
    .map(([path, { version, license, dev, devOptional, optional: maybe, peer }]) => ({
      path,
      name: path.split("node_modules/").at(-1),
      version,
      licence: license ?? licenceInside(path),
      shipped: !(dev || devOptional || maybe || peer),
    }));
}

/** Older packages name their licence where the lock file does not look. */
function licenceInside(path) {
  const file = `${path}/package.json`;
  if (!existsSync(join(root, file))) return null;
  const { license, licenses } = json(file);
  return license?.type ?? license ?? licenses?.map(({ type }) => type).join(" OR ") ?? null;
}

/** One of the alternatives of a licence is among the allowed; all parts of a joined one are. */
export function isAllowed(licence, allowed) {
  return (licence ?? "")
    .replace(/[()]/g, "")
    .split(" OR ")
    .some((one) => one.split(" AND ").every((part) => allowed.includes(part)));
}

/** Packages without an allowed licence, and packages that no line above explains; empty when all is well. */
export function licenceProblems(list = packages()) {
  const { dependencies, devDependencies, peerDependencies } = json("package.json");
  const lacking = (names, reasons, where) =>
    names.filter((name) => !(name in reasons)).map((name) => `${name} is not explained among the ${where} packages`);
  return [
    ...list
      .filter(({ licence, shipped }) => !isAllowed(licence, shipped ? shippedLicences : otherLicences))
      .map(({ path, licence }) => `${path} has the licence ${licence ?? "(none)"}, which is not allowed`),
    ...lacking(
      list.filter(({ shipped }) => shipped).map(({ name }) => name),
      runtime,
      "runtime",
    ),
    ...lacking(Object.keys(dependencies), runtime, "runtime"),
    ...lacking(Object.keys(peerDependencies), optional, "optional"),
    ...lacking(Object.keys(devDependencies), development, "development"),
  ];
}

/** Files of data below a folder, as "folder/name", readmes and scripts left out. */
function dataFiles(folder) {
  return readdirSync(join(root, folder), { recursive: true, encoding: "utf8" })
    .map((file) => posix.join(folder, file.replaceAll("\\", "/")))
    .filter((file) => statSync(join(root, file)).isFile())
    .filter((file) => /\.(json|geojson|csv|parquet|txt|dat|xlsx|jsonl)$/.test(file))
    .sort();
}

/** What the table of a folder's README says of its files: file → [what, source and licence]. */
function tableOf(folder) {
  const readme = join(root, folder, "README.md");
  const text = existsSync(readme) ? readFileSync(readme, "utf8") : "";
  const rows = new Map();
  let inside = false;
  for (const line of text.split("\n")) {
    const cells = line.split("|").map((cell) => cell.trim());
    if (/^\| file \|/.test(line)) inside = true;
    else if (!line.startsWith("|")) inside = false;
    else if (inside)
      for (const file of cells[1].replaceAll("`", "").split(/,\s*/))
        rows.set(posix.join(folder, file), [cells[2], cells[3]]);
  }
  return rows;
}

const licenceWords = /\bMIT\b|public domain|own work|free to copy|CC0|CC-BY/;

/** Every data file of the tests with its source and licence, or null where its README does not say them. */
export function oracleSources() {
  return dataFiles("test/oracle").map((file) => {
    const said = tableOf(posix.dirname(file)).get(file)?.[1] ?? null;
    return { file, source: said !== null && licenceWords.test(said) ? said : null };
  });
}

/** Every data file of the demo, and whether data-demo/README.md, which says that all is invented, lists it. */
export function demoFiles() {
  const listed = tableOf("data-demo");
  return dataFiles("data-demo").map((file) => ({ file, listed: listed.has(file) }));
}

/** Bytes of a package's own files. */
function sizeOf(name) {
  const folder = join(root, "node_modules", name);
  const bytes = (at) =>
    readdirSync(at, { withFileTypes: true }).reduce((sum, entry) => {
      if (entry.isDirectory()) return entry.name === "node_modules" ? sum : sum + bytes(join(at, entry.name));
      return sum + statSync(join(at, entry.name)).size;
    }, 0);
  return `${Math.round(bytes(folder) / 1000)} kB`;
}

const table = (head, rows) =>
  [
    `| ${head.join(" | ")} |`,
    `|${head.map(() => "---").join("|")}|`,
    ...rows.map((row) => `| ${row.join(" | ")} |`),
  ].join("\n");

/** The page as text. */
export function licencesPage() {
  const all = packages();
  const { dependencies, devDependencies, peerDependencies, license } = json("package.json");
  const top = (name) => all.find(({ path }) => path === `node_modules/${name}`);
  const order = (a, b) =>
    Number(!(a.name in dependencies)) - Number(!(b.name in dependencies)) || (a.name < b.name ? -1 : 1);
  const counts = new Map();
  for (const { licence, shipped } of all) if (!shipped) counts.set(licence, (counts.get(licence) ?? 0) + 1);
  const parts = [
    "# Licences",
    `standcurve itself: ${license}, see [LICENSE](../LICENSE). Made by \`node .config/licences.mjs\` from the lock file, the installed packages and the tables beside the data; do not edit.`,
    "## What is installed with it",
    table(
      ["package", "version", "licence", "size", "why", "what rests on it"],
      all
        .filter(({ shipped }) => shipped)
        .sort(order)
        .map(({ name, version, licence }) => [name, version, licence, sizeOf(name), ...runtime[name]]),
    ),
    "Only licences that ask for no more than a notice are allowed here. Without one of them the package does not load; each is imported behind one file (`test/architecture.test.ts`), where it could be replaced. Sizes are those of all files of a package; a bundle takes less.",
    "## What it uses when it is there",
    table(
      ["package", "range", "licence", "why", "does not work without it"],
      Object.keys(peerDependencies)
        .sort()
        .map((name) => [name, peerDependencies[name], top(name).licence, ...optional[name]]),
    ),
    "## What developing it takes",
    table(
      ["package", "version", "licence", "for"],
      Object.keys(devDependencies)
        .sort()
        .map((name) => [name, top(name).version, top(name).licence, development[name]]),
    ),
    `With what these need in turn, on all platforms: ${[...counts]
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([licence, n]) => `${licence} ${n}`)
      .join(", ")}. None of it is shipped.`,
    "## Data of the tests",
    table(
      ["file", "source, licence"],
      oracleSources().map(({ file, source }) => [file.replace("test/oracle/", ""), source ?? "?"]),
    ),
    "Details: [test/oracle](../test/oracle/README.md). Sets that may not be copied are read from a folder beside the repository when it is there.",
    "## Data of the demo",
    `Invented, with their truth, in [data-demo](../data-demo/README.md), under the licence of the project: ${demoFiles()
      .map(({ file }) => file.replace("data-demo/", ""))
      .join(", ")}.`,
  ];
  return `${parts.join("\n\n")}\n`;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  for (const problem of licenceProblems()) process.stderr.write(`${problem}\n`);
  writeFileSync(join(root, page), licencesPage());
  process.stdout.write(`${page} written\n`);
}
