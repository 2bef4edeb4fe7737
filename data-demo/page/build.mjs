// Puts the page together: `npm run build && node data-demo/page/build.mjs`, then serve data-demo/page/dist with any web server.
// One file a thread, no network; the page's policy gets the hash of the report's style.
import { createHash } from "node:crypto";
import { copyFileSync, mkdirSync, readFileSync, writeFileSync } from "node:fs";
import { rolldown } from "rolldown";

const here = new URL(".", import.meta.url).pathname;
const root = new URL("../..", import.meta.url).pathname;

/** Bundles one module with everything it imports. */
export async function bundle(input, file, define = {}) {
  const built = await rolldown({
    input,
    resolve: { alias: { "standcurve/plot": `${root}dist/plot/index.js`, standcurve: `${root}dist/index.js` } },
    transform: { define },
    platform: "browser",
    logLevel: "silent",
  });
  await built.write({ file, format: "esm", minify: true, codeSplitting: false });
  await built.close();
}

/** Writes the finished page into a folder. */
export async function buildPage(folder) {
  mkdirSync(folder, { recursive: true });
  const example = readFileSync(`${root}data-demo/plots.csv`, "utf8");
  await bundle(`${here}page.js`, `${folder}/page.js`, { EXAMPLE: JSON.stringify(example) });
  await bundle(`${here}worker.js`, `${folder}/worker.js`);
  copyFileSync(`${here}page.css`, `${folder}/page.css`);
  const { htmlStyle } = await import(`${root}dist/report/htmlStyle.js`);
  const hash = `sha256-${createHash("sha256").update(htmlStyle).digest("base64")}`;
  writeFileSync(`${folder}/index.html`, readFileSync(`${here}index.html`, "utf8").replace("REPORT_STYLE", hash));
}

if (process.argv[1] === new URL(import.meta.url).pathname) await buildPage(`${here}dist`);
