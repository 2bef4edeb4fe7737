import { parse } from "csv-parse/browser/esm/sync";
import { describe, expect, test } from "vitest";
import { csvText, type TidyRow } from "../../src/report/csvText.ts";
import { type TidyTables, tidyColumns, tidyTables } from "../../src/report/tidyTables.ts";
import { demoTrials, hostileNames, oddTrials } from "./oddTrials.ts";

const read = (text: string): string[][] => {
  const records: string[][] = [];
  parse(text, {
    delimiter: ",",
    record_delimiter: ["\r\n"],
    quote: '"',
    escape: '"',
    trim: false,
    relax_column_count: false,
    skip_empty_lines: false,
    on_record: (record) => {
      records.push([...record]);
      return null;
    },
  });
  return records;
};

describe("CSV", () => {
  test("cells with a comma, a quote or a line end are quoted, quotes doubled, lines end with CR LF (RFC 4180)", () => {
    expect(csvText([{ a: 'x "y", z', b: "two\nlines", c: "plain" }])).toBe(
      'a,b,c\r\n"x ""y"", z","two\nlines",plain\r\n',
    );
  });

  test("a text that a spreadsheet would run as a formula gets an apostrophe; numbers stay numbers", () => {
    const cells = ["=1+1", "+A1", "-A1", "@x", "\tx", "\rx"];
    for (const cell of cells) {
      const [, row] = read(csvText([{ cell }]));
      expect(row?.[0]).toBe(`'${cell}`);
    }
    expect(csvText([{ n: -1.5, m: 1e-7, t: true, f: false, nothing: null }])).toBe(
      "n,m,t,f,nothing\r\n-1.5,1e-7,true,false,\r\n",
    );
  });

  test("a table without rows still has its header", () => {
    expect(csvText([], ["a", "b"])).toBe("a,b\r\n");
    expect(csvText([])).toBe("");
  });

  test("any text survives the way to CSV and back through an independent reader", () => {
    const names = [...hostileNames, "", " ", "a\r\nb", "'", '"', ",", "''=1"];
    const rows = read(csvText(names.map((name, i) => ({ i, name }))));
    expect(rows.slice(1).map((row) => row[1])).toEqual(
      names.map((name) => (/^[=+\-@\t\r]/.test(name) ? `'${name}` : name)),
    );
  });
});

describe("tidy tables", () => {
  // Large trials have the same rows as small ones, only more of them.
  const large = ["plots", "hostile names", "thirty hybrids"];
  const all = Object.entries({ ...demoTrials, ...oddTrials }).filter(([name]) => !large.includes(name));

  test.each(all)("of the trial %s have the documented columns in every row, and finite numbers", (_, make) => {
    const tables = tidyTables(make());
    for (const name of Object.keys(tidyColumns) as (keyof TidyTables)[]) {
      for (const row of tables[name]) {
        expect(Object.keys(row), name).toEqual(tidyColumns[name]);
        for (const cell of Object.values(row)) if (typeof cell === "number") expect(Number.isFinite(cell)).toBe(true);
      }
    }
  });

  const analysis = oddTrials["one hybrid"]?.();
  if (analysis === undefined) throw new Error("the trial is missing");
  const { estimates } = tidyTables(analysis);
  const rows = (quantity: string): TidyRow[] => estimates.filter((row) => row["quantity"] === quantity);

  test("the estimate and interval of an optimum are those of the result, with method and level", () => {
    const pooled = analysis.hybrids[0]?.pooled;
    if (pooled?.kind !== "analysed") throw new Error("not analysed");
    const [headline] = rows("economic_density");
    expect(headline).toMatchObject({
      hybrid: "A",
      environment: null,
      unit: "1000 plants/ac",
      estimate: pooled.economic?.optimum.density,
      lower: pooled.economic?.interval.lower,
      upper: pooled.economic?.interval.upper,
      level: 0.95,
      method: "envelope",
      kind: "interior",
      family: "quadratic",
    });
  });

  test("each method has its own row, and a reader can tell them apart", () => {
    expect(rows("agronomic_density").map((row) => row["method"])).toEqual([
      "envelope",
      "profile",
      "bootstrap-percentile",
      "akaike-average",
    ]);
  });

  test("an open end is empty with its flag", () => {
    const rising = oddTrials["still rising"]?.();
    const [row] = tidyTables(rising as typeof analysis).estimates;
    expect(row).toMatchObject({ quantity: "agronomic_density", upper: null, upper_open: true, lower_open: false });
  });

  test("a hybrid without a curve has a row that says why", () => {
    const none = oddTrials["one density"]?.();
    expect(tidyTables(none as typeof analysis).estimates).toMatchObject([
      {
        quantity: "analysis",
        kind: "not-estimable",
        note: "only one density was grown, so there is no response to fit",
      },
    ]);
  });
});
