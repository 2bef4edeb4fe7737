/**
 * The trust dossier: one page of figures made from the committed tables of bench and test, each with the command that rebuilds it.
 * `node .config/dossier.mjs` writes .docs/dossier.md; test/trust/dossier.test.ts holds the page to the tables.
 */
import { existsSync, readFileSync, writeFileSync } from "node:fs";
import { join } from "node:path";
import { fileURLToPath } from "node:url";
import { accuracy, bandCoverage, coverage, lodgingCoverage, mixedCoverage, regret } from "./dossierFigures.mjs";
import { fuzz, golden, mutation, speed } from "./dossierSlots.mjs";

const root = fileURLToPath(new URL("..", import.meta.url));

/** Text of a committed file, or null where it does not exist (yet). */
const committed = (path) => (existsSync(join(root, path)) ? readFileSync(join(root, path), "utf8") : null);

/**
 * The page. Each chapter gives a row (figure, what it means, command), lines for "where we are not as good", and a section.
 *
 * @param read - path in the repository -> text or null; for tests
 */
export function dossierText(read = committed) {
  const chapters = [
    accuracy(read("bench/accuracy.md")),
    coverage(read("bench/coverage.md")),
    bandCoverage(read("bench/coverage-band.md")),
    lodgingCoverage(read("bench/coverage-lodging.md")),
    mixedCoverage(read("bench/coverage-mixed.md")),
    regret(read("bench/regret.md")),
    reproducibility(read("test/golden/results.json")),
    fuzz(read("test/fuzz/results.json")),
    mutation(read("bench/mutation.md")),
    speed(read("bench/results.md")),
  ];
  const line = (cells) => `| ${cells.map((cell) => String(cell).replaceAll("|", "\\|")).join(" | ")} |`;
  return [
    "# Why trust these numbers",
    "",
    "Generated from committed tables by `npm run dossier` (.config/dossier.mjs); nothing here is typed by hand.",
    "",
    line(["question", "figure", "rebuild"]),
    "| --- | --- | --- |",
    ...chapters.map(({ question, figure, command }) => line([question, figure, command ? `\`${command}\`` : ""])),
    "",
    "## Where we are not as good",
    "",
    ...chapters.flatMap(({ question, weak }) =>
      weak.length === 0 ? [] : [`**${question}**`, "", ...weak.map((text) => `* ${text}`), ""],
    ),
    "## Details",
    "",
    ...chapters.flatMap(({ question, detail }) => (detail.length === 0 ? [] : [`### ${question}`, "", ...detail, ""])),
  ]
    .join("\n")
    .replace(/\n+$/, "\n");
}

function reproducibility(stored) {
  const kept = golden(stored);
  return {
    question: "Does the same input give the same answer everywhere?",
    figure: `the same bytes of JSON on Node, Deno and Chromium, for any number of workers and shards${kept.figure}`,
    command: "npm run test:slow",
    weak: [
      "The comparison runs on the engines of one machine at a time (test/engines); other processors were not compared for this page.",
    ],
    detail: [
      "test/engines makes every kind of answer from the demo trials on three engines and compares bytes; test/batch and test/node compare",
      `serial work with workers, shards and restarts. No platform function (exp, log, pow, sin) enters a result. ${kept.detail}`,
    ],
  };
}

if (process.argv[1] === fileURLToPath(import.meta.url)) {
  writeFileSync(join(root, ".docs/dossier.md"), dossierText());
  process.stdout.write(".docs/dossier.md\n");
}
