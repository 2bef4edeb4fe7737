import { execFile } from "node:child_process";
import { createHash } from "node:crypto";
import { copyFileSync, existsSync, mkdtempSync, readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { promisify } from "node:util";
import { describe, expect, test } from "vitest";
import { browserTools, serve } from "../browser/browserTools.ts";
import { optionalPackage } from "../plot/optionalPackage.ts";

// Slow: every kind of answer, three times over. STANDCURVE_SLOW=1, after `npm run build`.
const slow = process.env["STANDCURVE_SLOW"] === "1";
const root = new URL("../..", import.meta.url).pathname;
const run = promisify(execFile);

type Results = readonly (readonly [name: string, json: string])[];

async function printed(command: string, args: readonly string[]): Promise<Results> {
  const { stdout } = await run(command, [...args, join(root, "test/engines/runHere.mjs")], {
    maxBuffer: 1e9,
    cwd: root,
  });
  return JSON.parse(stdout);
}

const sha256 = (text: string): string => createHash("sha256").update(text).digest("hex");

/** Names whose bytes differ, with the first place where they do. */
function differing(here: Results, there: Results): string[] {
  return here.flatMap(([name, json], i) => {
    const [otherName, other] = there[i] ?? ["nothing", ""];
    if (name === otherName && sha256(json) === sha256(other)) return [];
    let at = 0;
    while (json[at] === other[at]) at += 1;
    return [`${name} / ${otherName}: …${json.slice(at - 60, at + 30)}… / …${other.slice(at - 60, at + 30)}…`];
  });
}

let nodeResults: Promise<Results> | null = null;
const onNode = (): Promise<Results> => {
  nodeResults ??= printed(process.execPath, []);
  return nodeResults;
};

const built = existsSync(join(root, "dist/index.js"));
const deno = slow && built ? optionalPackage("deno") : null;
const tools = slow && built ? browserTools() : null;
if (slow && !built) console.warn("skipped: the package is not built (npm run build)");

describe("every kind of answer from the demo trials has the same bytes", () => {
  test.skipIf(deno === null)("in Deno as in Node", { timeout: 1_200_000 }, async () => {
    const here = await onNode();
    expect(here.length).toBeGreaterThan(60);
    // The browser build of the CSV package sets prototypes the old way, which Deno allows with this flag only; it is reached by
    // files with quoted cells (messy-*.csv).
    const there = await printed(join(deno as string, "deno"), [
      "run",
      "--allow-read",
      "--unsafe-proto",
      "--no-prompt",
      "--cached-only",
    ]);
    expect(there.length).toBe(here.length);
    expect(differing(here, there)).toEqual([]);
  });

  test.skipIf(tools === null)("in Chromium as in Node", { timeout: 1_200_000 }, async () => {
    const folder = mkdtempSync(join(tmpdir(), "standcurve-engines-"));
    const builder: string = join(root, "data-demo/page/build.mjs");
    const { bundle } = await import(builder);
    await bundle(join(root, "dist/index.js"), join(folder, "standcurve.js"));
    copyFileSync(join(root, "test/engines/everyResult.mjs"), join(folder, "everyResult.js"));
    writeFileSync(join(folder, "index.html"), "<!doctype html><title>engines</title>");
    const { demoFiles } = await import("./everyResult.mjs");
    const demo = demoFiles.map((name: string) => [name, readFileSync(join(root, "data-demo", name), "utf8")]);
    const { url, server } = await serve(folder);
    const playwright: string = "playwright-core";
    const { chromium } = await import(playwright);
    const browser = await chromium.launch({
      executablePath: tools?.chromium,
      args: [
        "--headless",
        "--no-sandbox",
        "--disable-gpu",
        "--disable-quic",
        "--no-first-run",
        "--disable-background-networking",
        "--disable-component-update",
        "--disable-sync",
      ],
    });
    try {
      const page = await browser.newPage();
      await page.goto(url);
      const work = `Promise.all([import("/standcurve.js"), import("/everyResult.js")]).then(([library, { everyResult }]) => everyResult(library, Object.fromEntries(${JSON.stringify(demo)})))`;
      const [here, there] = await Promise.all([onNode(), page.evaluate(work) as Promise<Results>]);
      expect(there.length).toBe(here.length);
      expect(differing(here, there)).toEqual([]);
    } finally {
      await browser.close();
      server.close();
    }
  });
});
