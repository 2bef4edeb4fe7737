/**
 * The public surface: every name that the package exports with its full declaration, and the types reached through them, as the
 * compiler emits them. `node .config/apiSurface.mjs` writes .docs/surface.md; a test holds the page to the sources, so that a change
 * of what others build on is seen where it is made.
 *
 * `node .config/apiSurface.mjs --since REF` compares with the page at a commit or tag, or at the `last-release`: prints what was added,
 * removed, extended and changed, and ends with exit code 1 when the version has not taken the step that this needs.
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
 * What differs between two pages: names added, removed, extended and changed, and which of the removed ones had not been deprecated.
 *
 * Extended: the declaration has all its lines of before and more between them (a new option, a new part of a result, a new word in a union of words). A type that is only
 * reached through others counts when it changes: programs cannot name it, and when it goes, what led to it changes.
 *
 * @param before - the page that programs were built on
 * @param after - the page now
 */
export function surfaceChanges(before, after) {
  const [old, now] = [sectionsOf(before), sectionsOf(after)];
  const named = (key) => !key.endsWith(`(${reachedTitle})`);
  const removed = [...old.keys()].filter((key) => !now.has(key) && named(key));
  const other = [...now.keys()].filter((key) => old.has(key) && old.get(key) !== now.get(key));
  const extended = other.filter((key) => isExtended(old.get(key), now.get(key)));
  return {
    added: [...now.keys()].filter((key) => !old.has(key) && named(key)),
    removed,
    extended,
    changed: other.filter((key) => !extended.includes(key)),
    removedUnannounced: removed.filter((key) => !old.get(key).startsWith("/** @deprecated")),
  };
}

function isExtended(before, after) {
  const lines = after.split("\n");
  let at = -1;
  return before.split("\n").every((line) => {
    at = lines.findIndex((other, i) => i > at && withoutNewWords(other, line) === line);
    return at >= 0;
  });
}

/** A union of words may gain words (a code, a kind): programs are told to expect that. */
function withoutNewWords(line, before) {
  return line.replace(/ \| ("[^"]*")/g, (found, word) => (before.includes(word) ? found : ""));
}

/** The least step that a version must take: "major", "minor" or "none"; before 1.0.0 a minor version may do what a major one may later. */
export function versionNeeded({ added, removed, extended, changed }) {
  if (removed.length + changed.length > 0) return "major";
  return added.length + extended.length > 0 ? "minor" : "none";
}

/** True when going from one version to another is at least the step needed. */
export function isVersionEnough(from, to, needed) {
  const [[major0, minor0], [major, minor]] = [from, to].map((version) => version.split(".").map(Number));
  if (needed === "none" || major > major0) return true;
  if (major < major0 || minor <= minor0) return false;
  return needed === "minor" || major0 === 0;
}

/** The changes in words, with what they ask for; empty when there are none. */
export function surfaceText(changes) {
  const list = (word, names) => (names.length === 0 ? [] : [`${word}:`, ...names.map((name) => `  ${name}`)]);
  const { added, removed, extended, changed, removedUnannounced } = changes;
  const asks = {
    major:
      "A name removed, or a declaration changed, can break programs: it needs a major version (before 1.0.0 a minor one), or the old form kept beside the new one and deprecated.",
    minor:
      "What was added or extended needs a minor version. (A new property that callers must give breaks them: make it optional.)",
    none: null,
  }[versionNeeded(changes)];
  const announce =
    removedUnannounced.length === 0
      ? []
      : [
          `Deprecate first (@deprecated in the docstring, one minor version at least): ${removedUnannounced.join(", ")}.`,
        ];
  return [
    ...list("Added", added),
    ...list("Removed", removed),
    ...list("Extended", extended),
    ...list("Changed", changed),
    ...(asks === null ? [] : [asks]),
    ...announce,
  ].join("\n");
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
  const release =
    since === "last-release" ? git("describe", "--tags", "--abbrev=0", "--match", "v[0-9]*", "HEAD^") : since;
  if (release === null) {
    process.stdout.write("no release before this one: nothing to compare with\n");
    return;
  }
  const before = git("show", `${release}:${page}`);
  if (before === null) throw new Error(`there is no ${page} at "${release}"`);
  const changes = surfaceChanges(`${before}\n`, text);
  process.stdout.write(`${surfaceText(changes) || `nothing changed since ${release}`}\n`);
  const { version } = JSON.parse(git("show", `${release}:package.json`));
  const now = JSON.parse(readFileSync(join(root, "package.json"), "utf8")).version;
  if (isVersionEnough(version, now, versionNeeded(changes))) return;
  process.stderr.write(`version ${now} is too small a step from ${version}\n`);
  process.exitCode = 1;
}

function git(...words) {
  const { status, stdout } = spawnSync("git", words, { cwd: root, encoding: "utf8", maxBuffer: 1e8 });
  return status === 0 ? stdout.trim() : null;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) main();
