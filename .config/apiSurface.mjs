/**
 * The public surface: every name that the package exports with its full declaration, and the types reached through them, as the
 * compiler emits them. `node .config/apiSurface.mjs` writes .docs/surface.md; a test holds the page to the sources, so that a change
 * of what others build on is seen where it is made.
 *
 * `node .config/apiSurface.mjs --since REF` compares with the page at a commit or tag (a release, say): prints what was added, removed
 * and changed, and ends with exit code 1 when something was removed or changed.
 */
import { spawnSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { publicNames } from "./apiReference.mjs";
import { declarations } from "./declarations.mjs";

const root = fileURLToPath(new URL("..", import.meta.url));
const page = ".docs/surface.md";
const reachedTitle = "Reached through these";
const byText = (a, b) => (a < b ? -1 : a > b ? 1 : 0);

/** The page as text. */
export function apiSurface() {
  const files = declarations();
  const names = publicNames().map(({ name, own, entry, source }) => ({ name, own, entry, source }));
  const manifest = JSON.parse(readFileSync(join(root, "package.json"), "utf8"));
  const parts = [
    "# Public surface",
    "Everything that a program can name or reach, with its full type, as the compiler declares it. Made by `node .config/apiSurface.mjs`; do not edit. What is removed or changed here breaks programs that use it: it needs a deprecation first and a major version.",
    [
      "## Entry points",
      ...Object.keys(manifest.exports).map((path) => `- \`${path.replace(/^\./, "standcurve")}\``),
    ].join("\n"),
  ];
  for (const entry of [...new Set(names.map((one) => one.entry))]) {
    parts.push(`## ${entry}`);
    for (const { name, own, source } of names
      .filter((one) => one.entry === entry)
      .sort((a, b) => byText(a.name, b.name))) {
      const code = textOf(files, source, own);
      parts.push(section(name, name === own ? code : code.replace(new RegExp(`\\b${own}\\b`), name)));
    }
  }
  const exported = new Set(names.map(({ source, own }) => `${source}#${own}`));
  const behind = [...reached(files, names)].filter((key) => !exported.has(key)).sort(byText);
  parts.push(
    `## ${reachedTitle}`,
    "Not exported by name, but part of the types above.",
    ...behind.map((key) => {
      const [file, name] = key.split("#");
      return section(`${name} of ${file.replace(/\.ts$/, "")}`, textOf(files, file, name));
    }),
  );
  return `${parts.join("\n\n")}\n`;
}

const section = (title, code) => `### ${title}\n\n\`\`\`ts\n${code}\n\`\`\``;

function textOf(files, file, name) {
  const code = files.get(file)?.declared.get(name);
  if (code === undefined) throw new Error(`${file} does not declare ${name}`);
  return code;
}

/** Every declaration that the public ones rest on, as "file#name". */
function reached(files, names) {
  const open = names.map(({ source, own }) => ({ file: source, name: own }));
  const seen = new Set();
  while (open.length > 0) {
    const { file, name } = open.pop();
    const key = `${file}#${name}`;
    if (seen.has(key)) continue;
    seen.add(key);
    const { declared, imported } = files.get(file);
    const code = textOf(files, file, name).replace(/"[^"]*"/g, "");
    for (const [, of, word] of code.matchAll(/(\btypeof )?\b([A-Za-z_]\w*)\b/g)) {
      const target = imported.get(word) ?? (declared.has(word) ? { file, name: word } : null);
      if (target !== null && (of !== undefined || isType(files, target))) open.push(target);
    }
  }
  return seen;
}

/** A function or constant of the same name as a property is not meant, unless the type says `typeof`. */
function isType(files, { file, name }) {
  const code = files.get(file)?.declared.get(name) ?? "";
  return /^(?:\/\*\*[^/]*\*\/\s*)?(?:abstract )?(?:interface|type|class) /.test(code);
}

/** Sections of a page: heading (with its entry) → declaration. */
function sectionsOf(text) {
  const found = new Map();
  let entry = "";
  for (const part of text.split(/^(?=##+ )/m)) {
    const [, level, title] = /^(##+) (.+)\n/.exec(part) ?? [];
    if (level === "##") {
      entry = title;
      for (const [, path] of part.matchAll(/^- `([^`]+)`$/gm)) found.set(`entry point ${path}`, "");
    } else if (level === "###") found.set(`${title} (${entry})`, /```ts\n([\s\S]*?)\n```/.exec(part)?.[1] ?? "");
  }
  return found;
}

/**
 * What differs between two pages: names added, removed and changed, and which of the removed ones had not been deprecated.
 *
 * A type that is only reached through others counts when it changes: programs cannot name it, and when it goes, what led to it changes.
 *
 * @param before - the page that programs were built on
 * @param after - the page now
 */
export function surfaceChanges(before, after) {
  const [old, now] = [sectionsOf(before), sectionsOf(after)];
  const named = (key) => !key.endsWith(`(${reachedTitle})`);
  const removed = [...old.keys()].filter((key) => !now.has(key) && named(key));
  return {
    added: [...now.keys()].filter((key) => !old.has(key) && named(key)),
    removed,
    changed: [...now.keys()].filter((key) => old.has(key) && old.get(key) !== now.get(key)),
    removedUnannounced: removed.filter((key) => !old.get(key).startsWith("/** @deprecated")),
  };
}

/** The changes in words, with what they ask for; empty when there are none. */
export function surfaceText({ added, removed, changed, removedUnannounced }) {
  const list = (word, names) => (names.length === 0 ? [] : [`${word}:`, ...names.map((name) => `  ${name}`)]);
  const asks = [];
  if (removed.length + changed.length > 0)
    asks.push(
      "A name removed, or a declaration changed so that a program of before no longer compiles or means something else, needs a major version (below 1.0.0 a minor one).",
    );
  if (removedUnannounced.length > 0)
    asks.push(
      `Deprecate first (@deprecated in the docstring, one minor version at least): ${removedUnannounced.join(", ")}.`,
    );
  if (added.length > 0) asks.push("What was added needs a minor version.");
  return [...list("Added", added), ...list("Removed", removed), ...list("Changed", changed), ...asks].join("\n");
}

function main() {
  const text = apiSurface();
  const at = process.argv.indexOf("--since");
  if (at < 0) {
    writeFileSync(join(root, page), text);
    process.stdout.write(`${page}: ${text.match(/^### /gm).length} declarations\n`);
    return;
  }
  const since = process.argv[at + 1] ?? "";
  const { status, stdout, stderr } = spawnSync("git", ["show", `${since}:${page}`], { cwd: root, encoding: "utf8" });
  if (status !== 0) throw new Error(`no ${page} at "${since}": ${stderr.trim()}`);
  const changes = surfaceChanges(stdout, text);
  process.stdout.write(`${surfaceText(changes) || `nothing changed since ${since}`}\n`);
  if (changes.removed.length + changes.changed.length > 0) process.exitCode = 1;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) main();
