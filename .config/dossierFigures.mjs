/** Chapters of the dossier made from the tables of bench: each takes a page's text, or null where there is none. */
import { markdownTables, notMeasured, numberIn, rangeOf } from "./markdownTables.mjs";

export function accuracy(text) {
  const question = "Are the numbers right to the digit?";
  const command = "npm run accuracy";
  if (text === null) return notMeasured(question, command);
  const [summary] = markdownTables(text);
  const numbers = summary.rows.reduce((sum, row) => sum + numberIn(row.numbers), 0);
  const under = summary.rows.reduce((sum, row) => sum + numberIn(row["figures under the bar"]), 0);
  const medians = rangeOf(summary.rows.map((row) => row.median));
  const weak = /## Where we are not as good\n\n([\s\S]*?)\n\n/.exec(text)?.[1] ?? "";
  return {
    question,
    figure: `${numbers.toLocaleString("en")} numbers against certified and reference answers: median ${medians} correct digits by area; ${under} figures under their bar, all explained below`,
    command,
    weak: weak
      .replaceAll(/\n {2}/g, " ")
      .split("\n")
      .map((bullet) => bullet.replace(/^\* /, "")),
    detail: [
      "| area | numbers | fewest digits | median | bar |",
      "| --- | --- | --- | --- | --- |",
      ...summary.rows.map(
        (row) => `| ${row.area} | ${row.numbers} | ${row["fewest digits"]} | ${row.median} | ${row.bar} |`,
      ),
      "",
      "Set by set: [bench/accuracy.md](../bench/accuracy.md). Every slow run fits fresh random trials here and by R:",
      "`npm run test:slow` (test/trust/liveCrossCheck.test.ts, the seed is the date).",
    ],
  };
}

export function coverage(text) {
  const question = "Does a 95 % range of the optimum hold the truth 95 times in 100?";
  const command = "npm run coverage";
  if (text === null) return notMeasured(question, command);
  const tables = markdownTables(text);
  const [inside, ...rest] = tables.filter(({ columns }) => columns.includes("envelope %"));
  const candidate = (row) => !row.truth.startsWith("exponential");
  const normal = inside.rows.filter((row) => candidate(row) && row.errors === "normal");
  const of = (rows, column) => rangeOf(rows.map((row) => row[column]));
  // A cell counts as inside when two of its Monte-Carlo standard errors reach the band, as on the page itself.
  const within = normal.filter((row) => {
    const [share, error] = row["envelope %"].split("±").map(Number);
    return share + 2 * error >= 93 && share - 2 * error <= 97;
  }).length;
  const outside = tables.find(({ columns }) => columns.includes("cause"));
  const cause = (row) => row.cause.replace(/\s*\(.*\)/, "");
  const causes = [...new Set((outside?.rows ?? []).map(cause))];
  return {
    question,
    figure: `${of(normal, "envelope %")} % over ${normal.length} designs, ${within} of them within 93 to 97 (two Monte-Carlo standard errors allowed); the range of the best-fitting curve alone, the usual practice: ${of(normal, "chosen family %")} %`,
    command,
    weak: causes.map((name) => {
      const rows = outside.rows.filter((row) => cause(row) === name);
      return `${rows.length} cells outside the band, ${rangeOf(rows.map((row) => row["coverage %"]))} %: ${name}.`;
    }),
    detail: [
      "| truth inside the range, errors | cells | envelope % | chosen curve's own % |",
      "| --- | --- | --- | --- |",
      ...["normal", "unequal", "heavy", "missing"].flatMap((errors) =>
        [
          ["a candidate curve", candidate],
          ["none of the candidates", (row) => !candidate(row)],
        ].flatMap(([name, chosen]) => {
          const rows = inside.rows.filter((row) => chosen(row) && row.errors === errors);
          if (rows.length === 0) return [];
          return [
            `| ${name}, ${errors} | ${rows.length} | ${of(rows, "envelope %")} | ${of(rows, "chosen family %")} |`,
          ];
        }),
      ),
      "",
      `Cell by cell, and ${rest.reduce((sum, { rows }) => sum + rows.length, 0)} cells with the optimum beyond the range or other quantities: [bench/coverage.md](../bench/coverage.md).`,
    ],
  };
}

export function bandCoverage(text) {
  const question = "Does the 95 % band hold the curve?";
  const command = "npm run build && node bench/coverage-band.mjs 4000";
  if (text === null) return notMeasured(question, command);
  const [{ rows }] = markdownTables(text);
  const cells = rows.flatMap((row) =>
    Object.entries(row).flatMap(([name, cell]) => (/^\d+$/.test(name) ? [cell] : [])),
  );
  const low = Math.min(...cells.map(numberIn));
  return {
    question,
    figure: `${rangeOf(cells)} % over ${cells.length} densities and truths`,
    command,
    weak: [`The lowest cell covers ${low.toFixed(1)} %, ${(95 - low).toFixed(1)} points under the claim.`],
    detail: [],
  };
}

export function lodgingCoverage(text) {
  const question = "Does the 95 % range of the standability limit hold the truth?";
  const command = "npm run build && node bench/coverage-lodging.mjs 1000 199";
  if (text === null) return notMeasured(question, command);
  const rows = markdownTables(text).flatMap((table) => (table.columns.includes("bootstrap") ? table.rows : []));
  const of = (column) => rangeOf(rows.map((row) => row[column]));
  return {
    question,
    figure: `${of("bootstrap")} % over ${rows.length} designs (default, bootstrap); plants taken as independent: ${of("binomial profile")} %`,
    command,
    weak: [
      `${rows.filter((row) => numberIn(row.bootstrap) < 93).length} of ${rows.length} designs lie below 93 %, the lowest at ${of("bootstrap").split(" ")[0]} %.`,
      `The two other methods on offer fall lower where plants of a plot go down together: Fieller ${of("fieller")} %, profile ${of("profile")} %.`,
      `Ranges open at an end of the tested densities: ${of("open (bootstrap)")} % of them, most where plots are few and plants go together.`,
    ],
    detail: [],
  };
}

export function mixedCoverage(text) {
  const question = "Do the ranges over many environments hold the truth?";
  const command = "npm run build && node bench/coverage-mixed.mjs 600";
  if (text === null) return notMeasured(question, command);
  const [{ columns, rows }] = markdownTables(text);
  const goals = columns.filter((name) => name.startsWith("goal"));
  const goalCells = rows.flatMap((row) => goals.map((name) => row[name]));
  const open = (cell) => Number(/\((\d+)\)/.exec(cell)?.[1]);
  return {
    question,
    figure: `pooled optimum ${rangeOf(rows.map((row) => row.pooled))} %, at a yield goal ${rangeOf(goalCells)} %`,
    command,
    weak: [
      `Goals far from the average level with few environments: up to ${Math.max(...goalCells.map(open))} % of the ranges are open at an end.`,
    ],
    detail: [],
  };
}

export function regret(text) {
  const question = "What does following the recommendation cost?";
  const command = "npm run build && node bench/regret.mjs";
  if (text === null) return notMeasured(question, command);
  const [all, byTruth] = markdownTables(text);
  const rules = all.columns.slice(1);
  const others = ["highest-yielding tested", "quadratic optimum"];
  const of = (name) =>
    rangeOf(
      all.rows.map((row) => row[name]),
      2,
    );
  const better = byTruth.rows.flatMap((row) =>
    others
      .concat("fixed 32,000")
      .filter((name) => numberIn(row[name]) < numberIn(row.recommendation))
      .map(
        (name) =>
          `${row.trial}, ${row.truths} truths: the rule "${name}" loses ${(numberIn(row.recommendation) - numberIn(row[name])).toFixed(2)} an acre less.`,
      ),
  );
  const alone = byTruth.rows.filter((row) => numberIn(row["from JSON alone"]) < numberIn(row.recommendation)).length;
  return {
    question,
    figure: `${of("recommendation")} $ an acre under the best rate; rate of the highest yield ${of(others[0])}, quadratic optimum ${of(others[1])}`,
    command,
    weak: [
      ...better,
      ...(alone > 0
        ? [
            `In ${alone} of ${byTruth.rows.length} cells the shorter way (from the saved analysis alone) lost less, by chance or not.`,
          ]
        : []),
      "Simulated truths: no field result is behind these sums.",
    ],
    detail: [
      `| ${["trial", ...rules].join(" | ")} |`,
      `| ${["trial", ...rules].map(() => "---").join(" | ")} |`,
      ...all.rows.map((row) => `| ${[row.trial, ...rules.map((name) => row[name])].join(" | ")} |`),
      "",
      "Mean loss in $ an acre (standard error); truths described in bench/regret.mjs: [bench/regret.md](../bench/regret.md).",
    ],
  };
}
