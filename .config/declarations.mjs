/** What the compiler declares for each file below src, as text without comments (but for deprecations), by file and name. */
import { spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join, posix } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("..", import.meta.url));

/**
 * Declarations as the compiler emits them now: file below src → name → text, and what each file imports.
 *
 * They are emitted into a folder of their own, so that an old `dist` cannot answer for sources that have moved on.
 */
export function declarations() {
  const folder = mkdtempSync(join(tmpdir(), "standcurve-declarations-"));
  try {
    emit(folder);
    const out = join(folder, "out");
    return new Map(
      readdirSync(out, { recursive: true, encoding: "utf8" })
        .filter((file) => file.endsWith(".d.ts"))
        .sort()
        .map((file) => {
          const text = readFileSync(join(out, file), "utf8");
          const source = file.replaceAll("\\", "/").replace(/\.d\.ts$/, ".ts");
          return [source, { declared: declaredIn(text), imported: importedBy(text, source) }];
        }),
    );
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

function emit(folder) {
  const settings = {
    extends: join(root, ".config/tsconfig.base.json"),
    compilerOptions: {
      lib: ["ES2022"],
      types: ["node"],
      typeRoots: [join(root, "node_modules/@types")],
      rootDir: join(root, "src"),
      outDir: join(folder, "out"),
      composite: false,
      declarationMap: false,
      sourceMap: false,
      emitDeclarationOnly: true,
      paths: { "csv-parse/browser/esm/sync": [join(root, "src/trial/csvParse.d.ts")] },
    },
    include: [join(root, "src")],
  };
  writeFileSync(join(folder, "tsconfig.json"), JSON.stringify(settings));
  const { status, stdout } = spawnSync(
    process.execPath,
    [join(root, "node_modules/typescript/bin/tsc"), "-p", join(folder, "tsconfig.json")],
    { encoding: "utf8" },
  );
  if (status !== 0) throw new Error(`the declarations cannot be made: ${stdout}`);
}

/** Names of a file's own declarations with their text: `export` and `declare` left out, comments too. */
export function declaredIn(text) {
  const found = new Map();
  for (const statement of statements(withoutComments(text))) {
    const head =
      /^((?:\/\*\* @deprecated[^*]*\*\/\s*)?)(?:export )?(?:declare )?((?:abstract )?(?:function|interface|type|const|class) (\w+)[\s\S]*)$/.exec(
        statement,
      );
    if (head === null) continue;
    const [, deprecation, code, name] = head;
    const one = `${deprecation}${code}`;
    // Overloads of a function are declared one after another.
    found.set(name, found.has(name) ? `${found.get(name)}\n${one}` : one);
  }
  return found;
}

/** Where the names come from that a file uses: local name → file below src and name there. Packages are left out. */
function importedBy(text, source) {
  const names = new Map();
  for (const [, list, from] of text.matchAll(/import (?:type )?\{([^}]*)\} from "(\.[^"]+)";/g)) {
    const file = posix.join(posix.dirname(source), from);
    for (const item of list.split(",").map((part) => part.trim().replace(/^type /, ""))) {
      if (item === "") continue;
      const [own, local = own] = item.split(" as ");
      names.set(local, { file, name: own });
    }
  }
  return names;
}

/** The text without comments; a docstring that deprecates something is kept as that line alone. */
function withoutComments(text) {
  let out = "";
  for (let i = 0; i < text.length; i++) {
    const letter = text[i];
    if (letter === '"' || letter === "'" || letter === "`") {
      const end = stringEnd(text, i);
      out += text.slice(i, end + 1);
      i = end;
    } else if (text.startsWith("/*", i)) {
      const end = text.indexOf("*/", i);
      const [, words] = /@deprecated\b([\s\S]*?)(?=\n\s*\*?\s*(?:@|$)|\*\/)/.exec(text.slice(i, end + 2)) ?? [];
      const kept = words
        ?.replace(/\n\s*\*/g, " ")
        .replace(/\s+/g, " ")
        .trim();
      if (kept !== undefined) out += `/** @deprecated ${kept} */`;
      i = end + 1;
    } else if (text.startsWith("//", i)) i = text.indexOf("\n", i) - 1;
    else out += letter;
  }
  return out.replace(/^\s*\n/gm, "");
}

function stringEnd(text, from) {
  let i = from + 1;
  while (text[i] !== text[from]) i += text[i] === "\\" ? 2 : 1;
  return i;
}

/** Statements of the top level: to a semicolon, or to the brace that ends an interface or a class. */
function statements(text) {
  const found = [];
  let depth = 0;
  let angles = 0; // `<` that are open: a brace between them belongs to a type parameter
  let start = 0;
  const cut = (i) => {
    found.push(text.slice(start, i + 1).trim());
    start = i + 1;
    angles = 0;
  };
  for (let i = 0; i < text.length; i++) {
    const letter = text[i];
    if (letter === '"' || letter === "'" || letter === "`") i = stringEnd(text, i);
    else if (text.startsWith("/*", i)) i = text.indexOf("*/", i) + 1;
    else if (letter === "<") angles += 1;
    else if (letter === ">" && text[i - 1] !== "=") angles -= 1;
    else if ("({[".includes(letter)) depth += 1;
    else if (")}]".includes(letter)) {
      depth -= 1;
      const ends = depth === 0 && angles === 0 && letter === "}" && hasBody.test(text.slice(start).trimStart());
      if (ends) cut(i);
    } else if (letter === ";" && depth === 0) cut(i);
  }
  return found;
}

const hasBody = /^(?:\/\*\*[^/]*\*\/\s*)?(?:export )?(?:declare )?(?:abstract )?(?:interface|class) /;
