/**
 * What programs see of the package's types, by TypeScript version and way of resolving modules: the files of test/types are compiled
 * against the packed package, strict and with all declarations checked.
 *
 * `node .config/typeVersions.mjs` takes every version; versions named behind it, those. A version that is not installed is packed by npm
 * into a temporary folder; where the registry does not answer it is passed over, and said so.
 */
import { spawnSync } from "node:child_process";
import {
  copyFileSync,
  existsSync,
  mkdirSync,
  mkdtempSync,
  readdirSync,
  readFileSync,
  rmSync,
  symlinkSync,
  writeFileSync,
} from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { fileURLToPath } from "node:url";

const root = fileURLToPath(new URL("..", import.meta.url));

/** Versions of TypeScript that programs may use: the first of ours, two between, the last of each line. */
export const typescriptVersions = ["5.4", "5.6", "5.9", "6.0", "7.0"];

const installed = JSON.parse(readFileSync(join(root, "node_modules/typescript/package.json"), "utf8")).version;

/** Ways of resolving modules with the settings that go with them. */
const resolutions = {
  node16: { module: "node16", moduleResolution: "node16" },
  nodenext: { module: "nodenext", moduleResolution: "nodenext" },
  bundler: { module: "esnext", moduleResolution: "bundler" },
  // The old resolution, by main, types and typesVersions; gone in TypeScript 7.
  node10: { module: "es2022", moduleResolution: "node10" },
};

/**
 * Compiles the consumers with each version and resolution.
 *
 * @param versions - such as "5.4"
 * @param onResult - called with each result as it comes
 * @returns for each: version, resolution, and `errors` as the compiler prints them; null with a reason where it could not be had
 */
export function checkTypes(versions = typescriptVersions, onResult = () => {}) {
  const folder = mkdtempSync(join(tmpdir(), "standcurve-types-"));
  try {
    makeConsumer(folder);
    const results = [];
    const add = (result) => {
      results.push(result);
      onResult(result);
    };
    for (const version of versions) {
      const { tsc, reason } = compilerOf(version, folder);
      if (tsc === null) add({ version, resolution: null, errors: null, reason });
      else
        for (const resolution of Object.keys(resolutions)) {
          if (resolution === "node10" && Number.parseInt(version, 10) >= 7) continue;
          add({ version, resolution, errors: compile(tsc, version, resolution, folder) });
        }
    }
    return results;
  } finally {
    rmSync(folder, { recursive: true, force: true });
  }
}

/** A program that has installed the packed package, with its dependencies, and Node's types for the part that needs Node. */
function makeConsumer(folder) {
  run("npm", ["pack", "--silent", "--ignore-scripts", "--pack-destination", folder], root);
  const packed = readdirSync(folder).find((file) => file.endsWith(".tgz"));
  const modules = join(folder, "node_modules");
  mkdirSync(join(modules, "@types"), { recursive: true });
  unpack(join(folder, packed), join(modules, "standcurve"));
  const { dependencies } = JSON.parse(readFileSync(join(root, "package.json"), "utf8"));
  for (const name of [...Object.keys(dependencies), "@types/node", "undici-types"]) {
    if (name.startsWith("@")) mkdirSync(join(modules, name.split("/")[0]), { recursive: true });
    symlinkSync(join(root, "node_modules", name), join(modules, name));
  }
  writeFileSync(join(folder, "package.json"), '{ "type": "module" }');
  for (const file of readdirSync(join(root, "test/types")))
    copyFileSync(join(root, "test/types", file), join(folder, file));
}

/** Where the tsc of a version is; packed by npm unless it is the installed one. */
function compilerOf(version, folder) {
  if (installed.startsWith(`${version}.`)) return { tsc: join(root, "node_modules/typescript/bin/tsc") };
  const place = join(folder, `typescript-${version}`);
  mkdirSync(place);
  try {
    run("npm", ["pack", `typescript@${version}`, "--silent", "--pack-destination", place], place);
    unpack(join(place, readdirSync(place)[0]), join(place, "package"));
    return { tsc: join(place, "package/bin/tsc") };
  } catch (error) {
    return {
      tsc: null,
      reason: `typescript@${version} could not be had from the registry: ${error.message.split("\n")[0]}`,
    };
  }
}

function compile(tsc, version, resolution, folder) {
  const settings = (types, files) => ({
    compilerOptions: {
      ...resolutions[resolution],
      // TypeScript 6 asks for this where the old resolution is used.
      ...(resolution === "node10" && version.startsWith("6.") ? { ignoreDeprecations: "6.0" } : {}),
      target: "es2022",
      lib: ["es2022"],
      types,
      strict: true,
      skipLibCheck: false,
      noEmit: true,
    },
    files,
  });
  // Without Node's types, as in a browser; the part that needs Node with them, once for the new resolutions and once for the old.
  const projects = {
    "tsconfig.json": settings([], ["mainFunctions.ts", "narrowing.ts"]),
    ...(["nodenext", "node10"].includes(resolution)
      ? { "tsconfig.node.json": settings(["node"], ["nodeFunctions.ts"]) }
      : {}),
  };
  return Object.entries(projects).flatMap(([file, project]) => {
    writeFileSync(join(folder, file), JSON.stringify(project));
    const { status, stdout } = spawnSync(process.execPath, [tsc, "-p", file, "--pretty", "false"], {
      cwd: folder,
      encoding: "utf8",
    });
    return status === 0 ? [] : stdout.split("\n").filter((line) => line.trim() !== "");
  });
}

function unpack(archive, into) {
  mkdirSync(into, { recursive: true });
  run("tar", ["-xzf", archive, "-C", into, "--strip-components=1"], into);
}

function run(program, words, cwd) {
  const { status, stderr, error } = spawnSync(program, words, { cwd, encoding: "utf8", timeout: 180_000 });
  if (status !== 0)
    throw new Error(`${program} ${words[0]} failed: ${error?.message ?? stderr.replace(/https?:\S+/g, "…")}`);
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  if (!existsSync(join(root, "dist/index.d.ts"))) throw new Error("build first: npm run build");
  const named = process.argv.slice(2);
  checkTypes(named.length > 0 ? named : typescriptVersions, ({ version, resolution, errors, reason }) => {
    const said =
      errors === null ? `passed over: ${reason}` : errors.length === 0 ? "ok" : ["errors", ...errors].join("\n  ");
    process.stdout.write(`TypeScript ${version}${resolution === null ? "" : `, ${resolution}`}: ${said}\n`);
    if (errors !== null && errors.length > 0) process.exitCode = 1;
  });
}
