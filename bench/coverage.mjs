/**
 * Coverage dossier: `npm run coverage` simulates the grid and writes bench/coverage.md. `--quick` runs a small part of it with few
 * runs, for a look; `--from file.json` writes the table again from saved results. Seeded: the same numbers on every machine.
 */
import { execFileSync } from "node:child_process";
import { readFileSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { analyticCell, bootstrapCell, quantityCell } from "./coverageCell.mjs";
import { coverageText } from "./coverageText.mjs";

const quick = process.argv.includes("--quick");
const noise = [3, 6];
const designs = [4, 5, 6, 9].flatMap((levels) => [3, 4, 6, 8].map((blocks) => ({ levels, blocks })));
const pick = (...names) => designs.filter(({ levels, blocks }) => names.includes(`${levels}x${blocks}`));
const candidates = ["quadratic inside", "linear-plateau inside", "quadratic-plateau inside"];
const beyond = ["linear", "quadratic beyond", "quadratic-plateau beyond", "exponential beyond"];

function grid(truthNames, layouts, errorNames, ratios = noise) {
  return truthNames.flatMap((truth) =>
    layouts.flatMap((design) =>
      ratios.flatMap((ratio) => errorNames.map((error) => ({ truth, ...design, ratio, error }))),
    ),
  );
}

const analytic = quick
  ? grid(candidates, pick("6x4"), ["normal"])
  : [
      ...grid(candidates, designs, ["normal"]),
      ...grid(["exponential inside"], pick("4x4", "5x4", "6x4", "6x8", "9x4", "9x8"), ["normal"]),
      ...grid(beyond, pick("4x4", "5x4", "6x4", "9x4"), ["normal"]),
      ...grid(["flat"], pick("4x4", "5x4", "6x4", "9x4"), ["normal"], [3]),
      ...grid(candidates, pick("4x4", "6x4", "9x4"), ["unequal", "heavy", "missing"]),
      ...grid(["exponential inside", "linear"], pick("6x4"), ["unequal", "heavy", "missing"], [6]),
    ];
const economic = grid(candidates, pick("5x4", "6x4"), ["normal"]);
const resampled = quick
  ? grid(candidates.slice(0, 1), pick("6x4"), ["normal"], [6])
  : [...grid(candidates, pick("4x4", "6x4"), ["normal"]), ...grid(candidates, pick("6x4"), ["unequal", "heavy"], [6])];
const derived = grid(candidates, pick("6x4"), ["normal"]);

const variants = [
  { scheme: "residual", limits: "percentile" },
  { scheme: "residual", limits: "basic" },
  { scheme: "residual", limits: "bca" },
  { scheme: "residual", limits: "studentised" },
  { scheme: "wild", multipliers: "rademacher", limits: "percentile" },
  { scheme: "wild", multipliers: "webb", limits: "percentile" },
  { scheme: "parametric", limits: "percentile" },
  { scheme: "case", limits: "percentile" },
];
const quantities = [
  {
    name: "flex score 20 to 40",
    quantity: { kind: "flex-score", between: [20, 40] },
    truth: (at) => 100 * (1 - Math.log(at(40) / at(20)) / Math.log(2)),
  },
  { name: "gain 28 to 38", quantity: { kind: "gain", from: 28, to: 38 }, truth: (at) => at(38) - at(28) },
  { name: "yield at 28", quantity: { kind: "yield", density: 28 }, truth: (at) => at(28) },
];
/** Seed cost / grain price, yield units per density unit: moves the optimum down by a few per cent of the range. */
const PRICE_RATIO = 0.4;

const runs = quick
  ? { analytic: 400, economic: 0, bootstrap: 50, derived: 0, simulations: 99, resamples: 399 }
  : { analytic: 4000, economic: 1000, bootstrap: 1000, derived: 500, simulations: 999, resamples: 399 };

/** The parts are independent, so they can be run side by side: `--part analytic`, `bootstrap` or `derived`. */
const parts = {
  analytic: (keep) => {
    const results = { analytic: [], economic: [] };
    analytic.forEach((cell, i) => {
      results.analytic.push(analyticCell(cell, runs.analytic, i, { calibrate: runs.simulations }));
      keep(results);
    });
    for (const [i, cell] of (quick ? [] : economic).entries()) {
      results.economic.push(
        analyticCell(cell, runs.economic, 1000 + i, { r: PRICE_RATIO, calibrate: runs.simulations }),
      );
    }
    return results;
  },
  bootstrap: (keep) => {
    const results = { bootstrap: [] };
    resampled.forEach((cell, i) => {
      const used =
        cell.error === "normal"
          ? variants
          : variants.filter((one) => one.limits === "percentile" && one.scheme !== "case");
      results.bootstrap.push(bootstrapCell(cell, runs.bootstrap, 2000 + i, used, runs.resamples));
      keep(results);
    });
    return results;
  },
  derived: (keep) => {
    const results = { derived: [] };
    for (const [i, cell] of (quick ? [] : derived).entries()) {
      results.derived.push(quantityCell(cell, runs.derived, 3000 + i, quantities));
      keep(results);
    }
    return results;
  },
};

function simulate(names) {
  let all = { runs };
  for (const name of names) {
    const file = join(tmpdir(), `standcurve-coverage-${name}.json`);
    const keep = (results) => writeFileSync(file, JSON.stringify({ runs, ...results }));
    const results = parts[name](keep);
    keep(results);
    all = { ...all, ...results };
  }
  return all;
}

const part = process.argv.indexOf("--part");
if (part > 0) {
  simulate([process.argv[part + 1]]);
  process.exit();
}
const from = process.argv.indexOf("--from");
const results =
  from > 0
    ? Object.assign({}, ...process.argv.slice(from + 1).map((file) => JSON.parse(readFileSync(file, "utf8"))))
    : simulate(Object.keys(parts));
const commit = execFileSync("git", ["rev-parse", "--short", "HEAD"], { encoding: "utf8" }).trim();
const text = coverageText(results, commit, PRICE_RATIO);
if (quick) process.stdout.write(text);
else writeFileSync(join(import.meta.dirname, "coverage.md"), text);
