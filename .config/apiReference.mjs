/**
 * The API reference: one Markdown page for each area of the library and an index, made from the docstrings of everything that
 * src/index.ts, src/plot/index.ts and src/node/index.ts export. `node .config/apiReference.mjs` writes .docs/api; a test holds the
 * pages to the sources.
 */
import { mkdirSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { join, posix } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("..", import.meta.url));

/** Areas in reading order: the folder of the sources, the page's title, what it is about. */
const areas = [
  [
    "trial",
    "Reading a trial",
    "From text or rows to plots with units, stands, moisture, and a list of everything that is wrong.",
  ],
  [
    "analyze",
    "The whole analysis",
    "One call from a trial to optima, ranges, flex scores and standability of every hybrid.",
  ],
  ["curves", "Curves", "The families of response curves, and how to read a fitted one."],
  ["fit", "Fitting", "One curve, several compared, ear counts, binomial counts."],
  ["interval", "Intervals", "Where an optimum may lie: by test inversion and by resampling."],
  ["derive", "Derived figures", "Optima, near-best ranges, flex scores, budgets, bands, diagnostics."],
  ["mixed", "Many environments", "Mixed models, variance components, optimum by yield level, comparison of hybrids."],
  ["standability", "Standability", "Lodging, stalk traits, limits and verdicts."],
  ["recommend", "Recommending", "A rate for a field, the steps towards it, zones."],
  ["plan", "Planning", "Layouts, densities, power, what to add next."],
  ["report", "Reports", "Text, page, Markdown and tables from finished results."],
  ["plot", "Charts", "Charts as Vega-Lite data, each with words that say the same: `standcurve/plot`."],
  ["node", "Node", "Files, drawing, the command line: `standcurve/node`."],
  ["batch", "Many hybrids at once", "Groups of a large file analysed one after another, on threads or in shards."],
  ["core", "Shared parts", "Errors, issues, intervals, random numbers."],
];
const entries = [
  ["standcurve", "index.ts"],
  ["standcurve/plot", "plot/index.ts"],
  ["standcurve/node", "node/index.ts"],
];

/** Everything public: name, entry, file below src, and the name it has there. */
export function publicNames() {
  const found = [];
  for (const [entry, file] of entries) {
    const text = readFileSync(join(root, "src", file), "utf8");
    for (const [, kind, list, from] of text.matchAll(/export (type )?\{([^}]*)\} from "([^"]+)";/g)) {
      const source = posix.join(posix.dirname(file), from);
      for (const item of list
        .split(",")
        .map((part) => part.trim())
        .filter((part) => part !== "")) {
        const [own, name = own] = item.replace(/^type /, "").split(" as ");
        found.push({ name, own, entry, source, typeOnly: kind !== undefined || item.startsWith("type ") });
      }
    }
  }
  return found;
}

/** The declaration of a name in a source file: its docstring and its text without a body. */
function declarationOf(source, own) {
  const text = readFileSync(join(root, "src", source), "utf8");
  const start = new RegExp(
    `^export (?:declare )?(?:abstract )?(async function\\*?|function|interface|type|const|class) ${own}\\b`,
    "m",
  ).exec(text);
  if (start === null) throw new Error(`${source} does not declare ${own}`);
  const kind = start[1].replace(/async |\*/g, "");
  const before = text.slice(0, start.index).trimEnd();
  const open = before.lastIndexOf("/**");
  const doc = before.endsWith("*/") && open >= 0 ? before.slice(open) : "";
  return { kind, doc: docOf(doc), code: codeOf(text, start.index, kind) };
}

/** The text of a declaration; functions end before their body, constants before a long value. */
function codeOf(text, from, kind) {
  const pairs = { "{": "}", "(": ")", "[": "]" };
  let depth = 0;
  let last = "";
  for (let i = from; i < text.length; i++) {
    const letter = text[i];
    if (text.startsWith("/*", i)) {
      i = text.indexOf("*/", i) + 1;
      continue;
    }
    if (text.startsWith("//", i)) {
      i = text.indexOf("\n", i);
      continue;
    }
    if (letter === '"' || letter === "`") {
      i = text.indexOf(letter, i + 1);
      last = letter;
      continue;
    }
    if (
      letter === "{" &&
      depth === 0 &&
      kind === "function" &&
      !"|&:<,(=".includes(last) &&
      !text.slice(from, i).trimEnd().endsWith("=>")
    )
      return text.slice(from, i).trim();
    if (letter === "=" && depth === 0 && kind === "const" && text[i + 1] !== ">") return text.slice(from, i).trim();
    if (letter in pairs) depth += 1;
    else if (Object.values(pairs).includes(letter)) {
      depth -= 1;
      if (depth === 0 && letter === "}" && (kind === "interface" || kind === "class")) return text.slice(from, i + 1);
    } else if (letter === ";" && depth === 0) return text.slice(from, i + 1);
    if (letter.trim() !== "") last = letter;
  }
  throw new Error(`no end of the declaration: ${text.slice(from, from + 200)}`);
}

/** A docstring taken apart. Text behind the last tag that is set off by an empty line (the source) goes back to the description. */
function docOf(comment) {
  const lines = comment
    .replace(/^\/\*\*/, "")
    .replace(/\*\/$/, "")
    .split("\n")
    .map((line) => line.replace(/^\s*\* ?/, "").trimEnd());
  const doc = { text: [], params: new Map(), returns: [], throws: [], examples: [], sources: [] };
  let into = doc.text;
  for (const line of lines) {
    const tag = /^@(\w+)\s*(.*)$/.exec(line);
    if (tag !== null) {
      const [, name, rest] = tag;
      if (name === "param") {
        const [, parameter, words] = /^(\S+)\s*-?\s*(.*)$/.exec(rest) ?? [];
        into = [words];
        doc.params.set(parameter, into);
      } else if (name === "returns") {
        into = doc.returns;
        into.push(rest);
      } else if (name === "throws") {
        into = [rest];
        doc.throws.push(into);
      } else if (name === "example") {
        into = [];
        doc.examples.push(into);
      } else into = doc.text;
    } else if (/^Sources?[: ]|^Oracle:/.test(line)) {
      into = [line];
      doc.sources.push(into);
    } else into.push(line);
  }
  const joined = (part) => part.join("\n").trim();
  return {
    text: joined(doc.text),
    params: new Map([...doc.params].map(([name, part]) => [name, flat(joined(part))])),
    returns: flat(joined(doc.returns)),
    throws: doc.throws.map((part) => flat(joined(part))),
    examples: doc.examples.map(joined),
    sources: doc.sources.map((part) => flat(joined(part))),
  };
}

const flat = (text) => text.replace(/\s*\n\s*/g, " ");

/** Parameters of a function as written ("name: type"), and the type of its result. */
function signatureOf(code) {
  const open = code.indexOf("(", code.indexOf("function"));
  const parts = [];
  let depth = 0;
  let part = "";
  let end = code.length;
  for (let i = open; i < code.length; i++) {
    const letter = code[i];
    if (letter === ">" && code[i - 1] === "=") {
      part += letter;
      continue;
    }
    if ("({[<".includes(letter)) depth += 1;
    if (")}]>".includes(letter)) depth -= 1;
    if (depth === 0) {
      end = i;
      break;
    }
    if (letter === "," && depth === 1) {
      parts.push(part);
      part = "";
    } else if (i > open) part += letter;
  }
  parts.push(part);
  const result = flat(
    code
      .slice(end + 1)
      .trim()
      .replace(/^:\s*/, ""),
  );
  return {
    parameters: parts
      .map((one) => flat(one.trim()))
      .filter((one) => one !== "")
      .map(nameAndType),
    result,
  };
}

/** Splits at the first colon outside brackets: the name (or pattern) and its type, a default value dropped. */
function nameAndType(parameter) {
  let depth = 0;
  for (let i = 0; i < parameter.length; i++) {
    if ("({[".includes(parameter[i])) depth += 1;
    if (")}]".includes(parameter[i])) depth -= 1;
    if (parameter[i] !== ":" || depth !== 0) continue;
    const name = parameter.slice(0, i).trim();
    const [type, value] = parameter.slice(i + 1).split(/ = (?=[^>]*$)/);
    const pattern = name.startsWith("{");
    return {
      name: pattern ? "options" : name.replace("?", ""),
      type: type.trim(),
      optional: name.endsWith("?") || value !== undefined,
    };
  }
  // Only a default value says what it is: `level = 0.95`.
  const [name, value] = parameter.split(" = ");
  return {
    name,
    type: /^["`]/.test(value) ? "string" : /^(true|false)$/.test(value) ? "boolean" : "number",
    optional: true,
  };
}

/** Headings of a page in their order; a second one of the same letters gets a number, as GitHub counts. */
function anchorsOf(names, places) {
  const anchors = new Map();
  for (const [area] of areas) {
    const seen = new Map();
    for (const { name } of inOrder(names.filter((one) => places.get(one.name) === area))) {
      const plain = name.toLowerCase();
      const before = seen.get(plain) ?? 0;
      seen.set(plain, before + 1);
      anchors.set(name, before === 0 ? plain : `${plain}-${before}`);
    }
  }
  return anchors;
}

const groups = [
  ["Functions", ["function"]],
  ["Values", ["const", "class"]],
  ["Types", ["interface", "type"]],
];
const inOrder = (names) => groups.flatMap(([, kinds]) => names.filter(({ kind }) => kinds.includes(kind)).sort(byName));
const cell = (text) => text.replaceAll("|", "\\|");

function firstSentence(text) {
  const paragraph = flat(text.split(/\n\s*\n/)[0] ?? "");
  const end = /[.:](?=\s+[A-Z`{])|[.:]$/.exec(paragraph);
  return end === null ? paragraph : `${paragraph.slice(0, end.index)}.`;
}

/** Plain text of a docstring as Markdown: indented lines are formulas and stay as they are. */
function prose(text) {
  const out = [];
  for (const block of text.split(/\n\s*\n/)) {
    const lines = block.split("\n");
    if (lines.every((line) => /^ {3,}/.test(line)))
      out.push(`\`\`\`text\n${lines.map((line) => line.replace(/^ {4}/, "")).join("\n")}\n\`\`\``);
    else
      out.push(
        block.replace(/([<>])/g, (sign) => (sign === "<" ? "&lt;" : "&gt;")).replace(/(?<!`)\*(?![*`])/g, "\\*"),
      );
  }
  return out
    .join("\n\n")
    .replace(/`([^`\n]*)`/g, (code) => code.replaceAll("&lt;", "<").replaceAll("&gt;", ">").replaceAll("\\*", "*"));
}

/** The pages by file name. */
export function apiReference() {
  const names = publicNames().map((one) => ({ ...one, ...declarationOf(one.source, one.own) }));
  const areaOf = (source) => {
    const folder = source.includes("/") ? source.split("/")[0] : "core";
    if (folder === "numeric") return "core";
    if (!areas.some(([name]) => name === folder)) throw new Error(`no area for src/${source}: name one above`);
    return folder;
  };
  const places = new Map(names.map((one) => [one.name, areaOf(one.source)]));
  const anchors = anchorsOf(names, places);
  const link = (text, from, name = text) => {
    const area = places.get(name);
    return `[${text}](${area === from ? "" : `${area}.md`}#${anchors.get(name)})`;
  };
  const mentioned = (code, from, own) =>
    [...new Set(code.match(/\b[A-Z]\w+\b/g) ?? [])]
      .filter((name) => name !== own && places.has(name))
      .map((name) => link(name, from));
  /** A type as code, with a link when it is one public name. */
  const linkTo = (type, from) => (places.has(type) ? link(`\`${type}\``, from, type) : `\`${cell(type)}\``);
  /** What a type is, from its own docstring. */
  const meaningOf = (type) => {
    const text = names.find(({ name }) => name === type)?.doc.text ?? "";
    return text === "" ? null : firstSentence(text);
  };
  const pages = new Map();
  for (const [area, title, about] of areas) {
    const here = names.filter((one) => places.get(one.name) === area);
    if (here.length === 0) continue;
    const parts = [
      `# ${title}`,
      about,
      "[All areas](index.md). Made from the docstrings of `src`; do not edit.",
      ...groups.flatMap(([heading, kinds]) => {
        const list = inOrder(here.filter(({ kind }) => kinds.includes(kind)));
        const write = heading === "Functions" ? functionText : valueText;
        return list.length === 0
          ? []
          : [`## ${heading}`, ...list.map((one) => write(one, area, mentioned, linkTo, meaningOf))];
      }),
    ];
    pages.set(`${area}.md`, `${parts.join("\n\n")}\n`);
  }
  pages.set("index.md", indexText(names, places, link));
  return pages;
}

const byName = (a, b) => (a.name < b.name ? -1 : 1);

function functionText({ name, own, entry, code, doc }, area, mentioned, linkTo, meaningOf) {
  const linked = (type) => linkTo(type, area);
  const { parameters, result } = signatureOf(code);
  const shown = code.replace(/^export /, "").replace(own, name);
  const lines = parameters.map(({ name: one, type, optional }) => {
    const words = doc.params.get(one) ?? meaningOf(type) ?? (/^[A-Z]/.test(type) ? "see the type" : "");
    return `| \`${one}\`${optional ? " (optional)" : ""} | ${linked(type)} | ${cell(prose(words))} |`;
  });
  const uses = mentioned(code, area, name);
  return [
    `### ${name}`,
    prose(doc.text),
    `\`\`\`ts\nimport { ${name} } from "${entry}";\n\n${shown};\n\`\`\``,
    ...(lines.length > 0 ? [`| parameter | type | meaning |\n|---|---|---|\n${lines.join("\n")}`] : []),
    `**Returns** ${[linked(result), prose(doc.returns === "" ? (meaningOf(result) ?? "") : doc.returns)].filter((part) => part !== "").join(": ")}`,
    ...(doc.throws.length > 0 ? [`**Errors**\n\n${doc.throws.map((one) => `- ${prose(one)}`).join("\n")}`] : []),
    ...doc.examples.map((example) => `**Example**\n\n\`\`\`ts\n${example}\n\`\`\``),
    ...doc.sources.map(prose),
    ...(uses.length > 0 ? [`Types: ${uses.join(", ")}`] : []),
  ].join("\n\n");
}

function valueText({ name, own, entry, code, doc, kind }, area, mentioned) {
  const uses = mentioned(code, area, name);
  const import_ = kind === "interface" || kind === "type" ? "import type" : "import";
  return [
    `### ${name}`,
    ...(doc.text === "" ? [] : [prose(doc.text)]),
    `\`\`\`ts\n${import_} { ${name} } from "${entry}";\n\n${code.replace(/^export /, "").replace(own, name)}\n\`\`\``,
    ...doc.examples.map((example) => `**Example**\n\n\`\`\`ts\n${example}\n\`\`\``),
    ...doc.sources.map(prose),
    ...(uses.length > 0 ? [`Types: ${uses.join(", ")}`] : []),
  ].join("\n\n");
}

function indexText(names, places, link) {
  const parts = [
    "# API reference",
    "Every public name of `standcurve`, `standcurve/plot` and `standcurve/node`, by area. Made from the docstrings of `src`: `node .config/apiReference.mjs`.",
  ];
  for (const [area, title, about] of areas) {
    const functions = names.filter((one) => places.get(one.name) === area && one.kind === "function").sort(byName);
    const others = names.filter((one) => places.get(one.name) === area && one.kind !== "function").sort(byName);
    if (functions.length + others.length === 0) continue;
    parts.push(`## [${title}](${area}.md)`, about);
    if (functions.length > 0)
      parts.push(
        `| function | |\n|---|---|\n${functions.map(({ name, doc }) => `| ${link(name, null)} | ${cell(prose(firstSentence(doc.text)))} |`).join("\n")}`,
      );
    if (others.length > 0) parts.push(`Types and values: ${others.map(({ name }) => link(name, null)).join(", ")}`);
  }
  return `${parts.join("\n\n")}\n`;
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  const folder = join(root, ".docs/api");
  rmSync(folder, { recursive: true, force: true });
  mkdirSync(folder, { recursive: true });
  for (const [file, text] of apiReference()) writeFileSync(join(folder, file), text);
  process.stdout.write(`${readdirSync(folder).length} pages in .docs/api\n`);
}
