/**
 * Accuracy scorecard: `npm run accuracy` measures the correct digits on every certified and reference answer (test/trust/scorecard.ts)
 * and writes bench/accuracy.md. It also raises the floors in test/trust/floors.json where digits were gained; it never lowers one.
 * Sets whose data may not be copied are measured where the shared data folder is beside the repository; without it the page is
 * not written, because it would be shorter.
 */
import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { createViteServer } from "vitest/node";
import { accuracyText } from "./accuracyText.mjs";

const root = join(import.meta.dirname, "..");
const server = await createViteServer({
  ...{ root, configFile: false, logLevel: "error", appType: "custom" },
  server: { middlewareMode: true, watch: null, hmr: false, ws: false },
  optimizeDeps: { noDiscovery: true },
});
const load = (file) => server.ssrLoadModule(`/test/trust/${file}`);
const { areas } = await load("scorecard.ts");
const { barOf, keyOf, OF_R } = await load("bar.ts");
const scores = Object.values(areas).flatMap((measure) => measure());
await server.close();

const path = join(root, "test/trust/floors.json");
const { floors: before } = JSON.parse(readFileSync(path, "utf8"));
const ours = scores.filter(({ figure }) => figure !== OF_R);
const measured = ours.map((score) => {
  const key = keyOf(score);
  return [key, Math.max(before[key] ?? 0, Math.floor(score.digits))];
});
const floors = {
  about:
    "Whole digits that each figure had when this file was last written by `npm run accuracy`. Our own measurements: a detector of lost digits beside the bars of bars.json, no proof of anything. A floor is lowered by hand only, with the reason in the commit.",
  beside: ours.filter(({ beside }) => beside).map(keyOf),
  floors: { ...before, ...Object.fromEntries(measured) },
};
writeFileSync(path, `${JSON.stringify(floors, null, 2)}\n`);

const beside = ours.some((score) => score.beside);
if (!beside) {
  console.error("The shared data folder is not beside the repository: bench/accuracy.md is left as it is.");
} else {
  const commit = execFileSync("git", ["rev-parse", "--short", "HEAD"], { encoding: "utf8" }).trim();
  const text = accuracyText(scores, { barOf, OF_R, commit });
  writeFileSync(join(root, "bench/accuracy.md"), text);
  process.stdout.write(text);
}
