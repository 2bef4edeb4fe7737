import { spawnSync } from "node:child_process";
import { cpSync, existsSync, mkdirSync, mkdtempSync, readFileSync, symlinkSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { optionalPackage } from "../plot/optionalPackage.ts";

const root = new URL("../..", import.meta.url).pathname;

export interface NotebookTools {
  readonly deno: string;
  readonly python: string;
}

/** What running notebooks needs, or null with a line that says what is missing. */
export function notebookTools(): NotebookTools | null {
  const deno = optionalPackage("deno");
  const ready = optionalPackage("vega") !== null && optionalPackage("vega-lite") !== null && deno !== null;
  // Debian's modules belong to its own Python, which need not be the first on the path.
  const python = ["python3", "/usr/bin/python3"].find(
    (one) => spawnSync(one, ["-c", "import jupyter_client"]).status === 0,
  );
  const built = existsSync(join(root, "dist/index.js"));
  if (python === undefined) console.warn("skipped: python3 has no jupyter_client (Debian: python3-jupyter-client)");
  if (!built) console.warn("skipped: the package is not built (npm run build)");
  return ready && python !== undefined && built ? { deno: join(deno, "bin.cjs"), python } : null;
}

/**
 * Runs a notebook with Deno's kernel in a folder that has this package installed (by a link) and the demo files beside it.
 *
 * @returns the notebook with its outputs
 * @throws Error with the kernel's words when a cell fails
 */
export function runNotebook(path: string, { deno, python }: NotebookTools): unknown {
  const folder = mkdtempSync(join(tmpdir(), "standcurve-notebook-"));
  mkdirSync(join(folder, "node_modules"));
  symlinkSync(root, join(folder, "node_modules/standcurve"));
  for (const name of ["plots.csv", "strips.csv", "field.json"])
    cpSync(join(root, "data-demo", name), join(folder, name));
  writeFileSync(join(folder, "package.json"), JSON.stringify({ private: true, dependencies: { standcurve: "*" } }));
  const kernel = join(folder, "jupyter/kernels/deno");
  mkdirSync(kernel, { recursive: true });
  writeFileSync(
    join(kernel, "kernel.json"),
    JSON.stringify({
      argv: [process.execPath, deno, "jupyter", "--kernel", "--conn", "{connection_file}"],
      display_name: "Deno",
      language: "typescript",
    }),
  );
  const out = join(folder, "out.ipynb");
  const done = spawnSync(python, [join(root, "test/notebook/run_notebook.py"), "deno", path, out], {
    cwd: folder,
    encoding: "utf8",
    env: {
      ...process.env,
      JUPYTER_PATH: join(folder, "jupyter"),
      DENO_DIR: join(folder, "deno"),
      NO_COLOR: "1",
      DENO_NO_UPDATE_CHECK: "1",
    },
  });
  if (done.status !== 0) throw new Error(`the notebook failed: ${done.stderr}${done.stdout}`);
  return JSON.parse(readFileSync(out, "utf8"));
}
