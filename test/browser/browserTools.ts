import { existsSync, readFileSync } from "node:fs";
import { createServer, type Server } from "node:http";
import { extname, join, normalize } from "node:path";
import { optionalPackage } from "../plot/optionalPackage.ts";

const root = new URL("../..", import.meta.url).pathname;

/** Where a Chromium lies, and what else the browser tests need; null with a line that says what is missing. */
export function browserTools(): { readonly chromium: string; readonly axe: string } | null {
  const packages = ["playwright-core", "axe-core", "rolldown", "vega", "vega-lite"].map(optionalPackage);
  const chromium = [
    process.env["CHROMIUM"],
    "/usr/bin/chromium",
    "/usr/bin/chromium-browser",
    "/usr/bin/google-chrome",
  ].find((path) => path !== undefined && existsSync(path));
  const built = existsSync(join(root, "dist/index.js"));
  if (chromium === undefined)
    console.warn("skipped: no Chromium found (Debian: chromium; or set CHROMIUM to its path)");
  if (!built) console.warn("skipped: the package is not built (npm run build)");
  if (packages.includes(null) || chromium === undefined || !built) return null;
  return { chromium, axe: readFileSync(join(packages[1] as string, "axe.min.js"), "utf8") };
}

const types: Readonly<Record<string, string>> = { ".html": "text/html", ".js": "text/javascript", ".css": "text/css" };

/** Serves the files of one folder on a free port of this machine. */
export async function serve(folder: string): Promise<{ readonly url: string; readonly server: Server }> {
  const server = createServer((request, response) => {
    const name = normalize(new URL(request.url ?? "/", "http://x").pathname).replace(/\/$/, "/index.html");
    const path = join(folder, name);
    // Browsers ask for it unbidden.
    if (name === "/favicon.ico") response.writeHead(204).end();
    else if (!existsSync(path)) response.writeHead(404).end();
    else response.writeHead(200, { "content-type": types[extname(path)] ?? "text/plain" }).end(readFileSync(path));
  });
  await new Promise<void>((resolve) => server.listen(0, "127.0.0.1", resolve));
  const address = server.address();
  return { url: `http://127.0.0.1:${typeof address === "object" && address !== null ? address.port : 0}`, server };
}
