import { readFileSync } from "node:fs";
import fc from "fast-check";
import { expect, test } from "vitest";
import { AnalysisError } from "../../src/core/errors.ts";
import { checkTrial } from "../../src/trial/checkTrial.ts";
import { readTrial, type TrialReading } from "../../src/trial/readTrial.ts";

const slow = process.env["STANDCURVE_SLOW"] === "1";
const numRuns = slow ? 5_000 : 400;
const demo = (name: string): string => readFileSync(new URL(`../../data-demo/${name}`, import.meta.url), "utf8");

/** Numbers anywhere in plain data must be finite, or JSON would turn them into null. */
function allFinite(value: unknown): boolean {
  if (typeof value === "number") return Number.isFinite(value);
  return typeof value !== "object" || value === null || Object.values(value).every(allFinite);
}

/** What must hold for every reading, whatever the text. */
function checkReading({ trial, issues }: TrialReading): void {
  for (const issue of issues) {
    expect(issue.message.length).toBeGreaterThan(10);
    expect(issue.message).not.toMatch(/undefined|NaN|\[object Object\]/);
    expect((issue.received ?? "").length).toBeLessThanOrEqual(60);
  }
  if (trial === null) {
    expect(issues.some((issue) => issue.severity === "error")).toBe(true);
    return;
  }
  expect(allFinite(trial)).toBe(true);
  const rows = trial.plots.flatMap((plot) => plot.rows);
  expect(new Set(rows).size).toBe(rows.length);
  for (const plot of trial.plots) {
    expect(plot.rows[0]).toBe(plot.row);
    expect(plot.weight).toBeGreaterThan(0);
    if (plot.excluded === null) {
      expect(trial.hybrids).toContain(plot.hybrid);
      expect(trial.environments).toContain(plot.environment);
    } else expect(plot.excluded).not.toBe("");
    for (const { lodged, examined } of plot.lodging) expect(lodged).toBeLessThanOrEqual(examined ?? 1);
  }
  const found = checkTrial(trial);
  expect(allFinite(found)).toBe(true);
  expect(JSON.parse(JSON.stringify(found))).toEqual(found);
  expect(JSON.parse(JSON.stringify(trial))).toEqual(trial);
}

/** Reads, and lets only the documented refusal of what is no table through. */
function readAny(text: string): void {
  try {
    checkReading(readTrial(text));
  } catch (error) {
    if (!(error instanceof AnalysisError) || error.code !== "unreadable-source") throw error;
  }
}

test("arbitrary text is read or refused as unreadable, never anything else", () => {
  fc.assert(fc.property(fc.string({ unit: "binary", maxLength: 300 }), readAny), { numRuns });
});

const cell = fc.oneof(
  {
    weight: 6,
    arbitrary: fc.constantFrom(
      "24",
      "30",
      "36.5",
      "1",
      "2",
      "Amber 12",
      "Birch 7",
      "Northfield",
      "2031",
      "205.5",
      "199,5",
      "34 000",
      "34,000",
    ),
  },
  {
    weight: 2,
    arbitrary: fc.constantFrom(
      "",
      "NA",
      "-",
      "Inf",
      "1e999",
      "-5",
      "0",
      "#DIV/0!",
      "x",
      "yes",
      "12%",
      "1e308",
      "5e-324",
      "__proto__",
      "\ufffd",
      "\u0000",
    ),
  },
  { weight: 1, arbitrary: fc.string({ maxLength: 6 }) },
);
const header = fc.constantFrom(
  "site",
  "year",
  "block",
  "rep",
  "plot",
  "hybrid",
  "variety",
  "treatment",
  "seeding_rate_k_ac",
  "Seeding rate (seeds/ac)",
  "target density (plants/m2)",
  "stand_k_ac",
  "density",
  "plants counted",
  "counted length (ft)",
  "row_width_in",
  "yield_bu_ac",
  "Yield (t/ha)",
  "yield_wet_bu_ac",
  "weight_lb",
  "strip_length_ft",
  "strip_width_ft",
  "plot area (m2)",
  "rows harvested",
  "moisture_pct",
  "moisture",
  "lodged",
  "examined",
  "root_lodging_pct",
  "date counted",
  "exclude",
  "exclude reason",
  "order",
  "row",
  "range",
  "fit weight",
  "crop",
  "notes",
  "",
  "__proto__",
);

test("arbitrary tables under real headers keep every promise of the reader", () => {
  const table = fc.tuple(
    fc.array(header, { minLength: 1, maxLength: 12 }),
    fc.array(fc.array(cell, { minLength: 1, maxLength: 13 }), { maxLength: 12 }),
    fc.constantFrom(",", ";", "\t", "|"),
    fc.constantFrom("\n", "\r\n", "\r"),
  );
  fc.assert(
    fc.property(table, ([headers, rows, delimiter, end]) =>
      readAny([headers, ...rows].map((row) => row.join(delimiter)).join(end)),
    ),
    { numRuns },
  );
});

test("a good file with characters changed, cut or inserted keeps every promise of the reader", () => {
  const sources = ["plots.csv", "strips.csv", "messy-semicolon.csv", "messy-cells.csv"].map((name) =>
    demo(name).split(/\r?\n/).slice(0, 40).join("\n"),
  );
  const edit = fc.record({
    at: fc.double({ min: 0, max: 1, noNaN: true }),
    cut: fc.nat(12),
    put: fc.string({
      unit: fc.constantFrom(",", ";", '"', "\n", "\r", "0", "9", "-", ".", "x", " ", "\t", "e"),
      maxLength: 4,
    }),
  });
  fc.assert(
    fc.property(fc.constantFrom(...sources), fc.array(edit, { minLength: 1, maxLength: 8 }), (source, edits) => {
      let text = source;
      for (const { at, cut, put } of edits) {
        const place = Math.floor(at * text.length);
        text = text.slice(0, place) + put + text.slice(place + cut);
      }
      readAny(text);
    }),
    { numRuns: Math.ceil(numRuns / 4) },
  );
});

test("every row of a table is a plot or is named by an issue", () => {
  const rows = fc.array(fc.tuple(cell, cell, cell, cell), { minLength: 1, maxLength: 15 });
  fc.assert(
    fc.property(rows, (table) => {
      const text = [
        "hybrid|plot|stand_k_ac|yield_bu_ac",
        ...table.map((row) => row.map((one) => one.replaceAll(/["\r\n|]/g, "")).join("|")),
      ].join("\n");
      const { trial, issues } = readTrial(text, { crop: "maize", delimiter: "|", acceptMagnitudes: true });
      if (trial === null) return;
      const listed = new Set([
        ...trial.plots.flatMap((plot) => plot.rows),
        ...issues.flatMap((issue) => issue.row ?? []),
      ]);
      const blanks = issues.find((issue) => issue.code === "blank-rows")?.count ?? 0;
      const missing = table.map((_, i) => i + 2).filter((line) => !listed.has(line));
      expect(missing.length).toBeLessThanOrEqual(blanks);
    }),
    { numRuns },
  );
});

test("row order, line ends and separator do not change the plots", () => {
  const text = demo("plots.csv");
  const [head, ...rows] = text.trim().split("\n");
  const base = readTrial(text).trial;
  const key = (plot: { environment: string; plot: string | null }) => `${plot.environment} ${plot.plot}`;
  const facts = (reading: TrialReading) =>
    new Map(
      reading.trial?.plots.map(({ row: _row, rows: _rows, density, ...plot }) => [
        key(plot),
        { ...plot, density: density?.toPrecision(12) },
      ]),
    );
  const wanted = facts({ trial: base, issues: [] });
  expect(facts(readTrial([head, ...rows.reverse()].join("\r\n")))).toEqual(wanted);
  expect(facts(readTrial(text.replaceAll(",", ";").replaceAll(".", ",")))).toEqual(wanted);
  expect(facts(readTrial(text.replaceAll(",", "\t").replaceAll("\n", "\r")))).toEqual(wanted);
});
