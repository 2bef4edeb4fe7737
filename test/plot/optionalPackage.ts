import { existsSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";

const require = createRequire(import.meta.url);

/** Folder of a package that may not be installed; null, with a line that says so, when it is not. */
export function optionalPackage(name: string): string | null {
  for (const folder of require.resolve.paths(name) ?? []) {
    if (existsSync(join(folder, name, "package.json"))) return join(folder, name);
  }
  console.warn(`skipped: the package ${name} is not installed (npm install --no-save ${name})`);
  return null;
}
