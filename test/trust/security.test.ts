import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { beforeAll, describe, expect, test } from "vitest";
import * as library from "../../src/index.ts";
import { writeFilesAtomically } from "../../src/node/index.ts";
import { runCommand } from "../../src/node/runCommand.ts";
import * as plot from "../../src/plot/index.ts";

// Files come from strangers. What they hold may be shown, never run, never obeyed as a path, and never reach a prototype.
const src = new URL("../../src/", import.meta.url).pathname;
const sources = readdirSync(src, { recursive: true, encoding: "utf8" })
  .filter((name) => name.endsWith(".ts"))
  .map((name) => ({ name, text: readFileSync(join(src, name), "utf8").replace(/\/\*[\s\S]*?\*\/|^\s*\/\/.*$/gm, "") }));

describe("the program runs no data", () => {
  test("no eval, no Function constructor, no timer with a text", () => {
    const forbidden =
      /\beval\s*\(|\bnew\s+Function\b|\bFunction\s*\(|set(?:Timeout|Interval)\s*\(\s*["'`]|node:vm\b|\.innerHTML|document\.write/;
    expect(sources.filter(({ text }) => forbidden.test(text)).map(({ name }) => name)).toEqual([]);
  });

  test("the one other program ever started is rsvg-convert, by a fixed name, without a shell", () => {
    const starters = sources.filter(({ text }) => /child_process/.test(text));
    expect(starters.map(({ name }) => name)).toEqual(["node/renderChartPng.ts"]);
    const text = starters[0]?.text ?? "";
    expect(
      [...text.matchAll(/\b(?:spawn|exec|execFile|fork)(?:Sync)?\(\s*([^,]*),/g)].map(([, program]) => program),
    ).toEqual(['"rsvg-convert"']);
    expect(text).not.toMatch(/shell\s*:/);
  });

  test("modules loaded at run time are the named optional packages and nothing that data could name", () => {
    const found = sources.flatMap(({ name, text }) =>
      [...text.matchAll(/\bimport\(([^)]*)\)/g)].map(([, what]) => `${name}: ${what}`),
    );
    expect(found.sort()).toEqual([
      'node/parquetSource.ts: "hyparquet"',
      "node/renderChart.ts: first as string",
      "node/renderChart.ts: second as string",
      "node/renderChartPng.ts: name",
    ]);
    const constants = sources.filter(({ name }) => /renderChart(?:Png)?\.ts$/.test(name)).map(({ text }) => text);
    expect(constants.join()).toMatch(/"vega"/);
    expect(constants.join()).toMatch(/"vega-lite"/);
    expect(constants.join()).toMatch(/"@resvg\/resvg-js"/);
  });

  test("nothing goes over a network", () => {
    const network = /\bfetch\s*\(|XMLHttpRequest|WebSocket|node:(?:https?|net|tls|dns|dgram)\b|navigator\.sendBeacon/;
    expect(sources.filter(({ text }) => network.test(text)).map(({ name }) => name)).toEqual([]);
  });
});

const hostile = [
  `<script>alert(1)</script>`,
  `"><img src=x onerror=alert(1)>`,
  `=HYPERLINK("http://example.invalid","x")`,
  "](javascript:alert(1)) `x` **b** | c",
  "../../../etc/passwd",
  "__proto__",
  "@SUM(A1:A9)",
  "</svg><foreignObject>",
];
const quote = (cell: string): string => `"${cell.replaceAll('"', '""')}"`;
const csv = [
  "site,block,hybrid,seeding_rate_k_ac,yield_bu_ac,stalk_lodged,plants_examined,__proto__,constructor,toString",
  ...hostile.flatMap((name, h) =>
    [1, 2].flatMap((block) =>
      [20, 25, 30, 35, 40].map(
        (x, i) =>
          `${quote(hostile[0] as string)},${block},${quote(name)},${x},${190 - 0.1 * (x - 30) ** 2 + ((7 * i + h + block) % 4)},${i},50,1,2,3`,
      ),
    ),
  ),
].join("\n");

let trial: library.Trial;
let analysis: library.TrialAnalysis;
beforeAll(() => {
  const reading = library.readTrial(csv);
  if (reading.trial === null) throw new Error(JSON.stringify(reading.issues));
  trial = reading.trial;
  const options = {
    resamples: 0,
    scrutiny: false,
    mixedModels: false,
    prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 },
  };
  analysis = library.analyzeTrial(trial, { ...options, issues: reading.issues });
});

/** Markup that a browser would make an element or an attribute of. */
const live = /<script|<img|<foreignObject|<\/svg><|onerror\s*=\s*[^&]*>/i;

describe("names of a file are text wherever they are shown", () => {
  test("in the report as HTML, under a policy that lets no script run", () => {
    const page = library.htmlPage(analysis, { title: hostile[1] as string, currency: "<b>" });
    expect(page).not.toMatch(live);
    expect(page).toContain("&lt;script&gt;");
    const policy = /http-equiv="Content-Security-Policy" content="([^"]*)"/.exec(page)?.[1] ?? "";
    expect(policy).toContain("default-src 'none'");
    expect(policy).not.toMatch(/unsafe-eval|script-src(?! 'none')|https?:|\*/);
    expect(page.indexOf("Content-Security-Policy")).toBeLessThan(page.indexOf("<title>"));
    // No address but those inside the page.
    expect(
      [...page.matchAll(/(?:src|href)="([^"]*)"/g)].filter(([, to]) => !/^(?:#|data:image\/)/.test(to as string)),
    ).toEqual([]);
  });

  test("in Markdown: no HTML, no link, no cell of a table more", () => {
    const page = library.markdownPage(analysis);
    expect(page.replaceAll(/\\[<>]|&lt;|&gt;/g, "")).not.toMatch(live);
    expect(page).not.toMatch(/[^\\]\]\(javascript:/);
  });

  test("in a notebook, and in a picture's words", async () => {
    const bundle = await library.displayAnalysis(analysis)[plot.jupyterDisplay]();
    expect(String(bundle["text/html"])).not.toMatch(live);
    expect(plot.pictureHtml("<svg></svg>", `" onload="alert(1)"><script>`)).not.toMatch(/ onload="|<script/);
    expect(plot.svgAddress(`<svg>"'<script>`)).not.toMatch(/["'<>]/);
  });

  test("in charts they stay strings of plain JSON: no expression of Vega is made of them", () => {
    const charts = [
      plot.optimaChart(analysis),
      plot.flexScoresChart(analysis),
      ...trial.hybrids.map((hybrid) => plot.responseChart(analysis, { hybrid })),
    ];
    for (const chart of charts) {
      expect(JSON.parse(JSON.stringify(chart))).toEqual(chart);
      const expressions =
        JSON.stringify(chart.spec).match(/"(?:expr|calculate|filter|test|labelExpr)":"(?:[^"\\]|\\.)*"/g) ?? [];
      for (const name of hostile.filter((one) => one !== "__proto__")) {
        const escaped = JSON.stringify(name).slice(1, -1);
        expect(expressions.filter((one) => one.includes(escaped))).toEqual([]);
      }
    }
  });

  test("on a terminal without control characters", () => {
    const reading = library.readTrial(
      "hybrid,seeding_rate_k_ac,yield_bu_ac\nA\u001b[31mred\u0007,20,200\nA\u202ered,30,210\n",
    );
    const text = `${library.issueText(reading.issues)}${library.trialText(library.analyzeTrial(reading.trial as library.Trial, { resamples: 0 }))}`;
    // biome-ignore lint/suspicious/noControlCharactersInRegex: these are what must not appear
    expect(text).not.toMatch(/[\u0000-\u0008\u000b-\u001f\u007f\u202a-\u202e\u2066-\u2069]/);
  });
});

describe("no spreadsheet takes a name for a formula", () => {
  // OWASP, CSV Injection: a cell must not begin with = + - @, a tab or a carriage return; plain numbers may begin with - or +.
  const dangerous = (cell: string): boolean =>
    /^[=+\-@\t\r]/.test(cell) && !/^[+-]?(?:\d+\.?\d*|\.\d+)(?:e[+-]?\d+)?$/i.test(cell);
  const cells = (text: string): string[] =>
    [...text.matchAll(/(?:^|,|\r?\n)(?:"((?:[^"]|"")*)"|([^,\r\n]*))/g)].map(([, quoted, plain]) =>
      quoted === undefined ? (plain as string) : quoted.replaceAll('""', '"'),
    );

  test("in the tables of an analysis", () => {
    const tables = library.tidyTables(analysis);
    for (const rows of Object.values(tables))
      expect(cells(library.csvText(rows as readonly library.TidyRow[])).filter(dangerous)).toEqual([]);
  });

  test("in a layout and in a zone plan", () => {
    const rates = [20, 26, 32, 38];
    const plan = library.layoutTrial({
      hybrids: ["=1+2", "@x"],
      rates,
      densityUnit: "1000 plants/ac",
      blocks: 2,
      seed: 1,
    });
    expect(cells(library.layoutCsv(plan)).filter(dangerous)).toEqual([]);
    const { zones, source } = library.readZones("zone,area_ac,note\n=cmd,20,=1+2\n@x,60,+A1\n");
    const field = { hybrid: hostile[0] as string, prices: { grainPrice: 4.5, seedCostPerThousand: 3.75 } };
    const zonePlan = library.planZones(analysis, zones as library.Zone[], { field, draws: 100, resamples: 99 });
    expect(cells(library.zonesCsv(zonePlan, source)).filter(dangerous)).toEqual([]);
  });
});

describe("no input reaches a prototype", () => {
  const untouched = (): void => {
    const plain = {} as Record<string, unknown>;
    expect(plain["polluted"]).toBeUndefined();
    expect(Object.keys(Object.prototype)).toEqual([]);
  };
  const attack = '{"__proto__":{"polluted":1},"constructor":{"prototype":{"polluted":1}}}';

  test("through headers and cells of a table, which stay plain traits and names", () => {
    const { plots } = trial;
    expect(plots[0]?.traits.map(([name]) => name)).toEqual(["__proto__", "constructor", "toString"]);
    expect(trial.hybrids).toContain("__proto__");
    expect(analysis.hybrids.map(({ hybrid }) => hybrid)).toContain("__proto__");
    library.readTrial([JSON.parse(attack)]);
    untouched();
  });

  test("through the JSON of a field, of zones or of a saved analysis", () => {
    expect(library.readField(attack).field).toBeNull();
    expect(library.readField('{"hybrid":"A","__proto__":{"presentRate":30}}').field).toBeNull();
    const feature = `{"type":"Feature","properties":{"zone":"a","area_ha":2,"__proto__":{"polluted":1}},"geometry":null}`;
    library.readZones(`{"type":"FeatureCollection","features":[${feature}]}`);
    const saved = JSON.stringify(analysis).replace("{", '{"__proto__":{"polluted":1},');
    expect(() => library.readAnalysis(saved)).toThrow(/__proto__/);
    untouched();
  });

  test("through options", () => {
    const options = JSON.parse('{"resamples":0,"__proto__":{"seed":-5}}');
    expect(
      library.analyzeTrial(trial, { ...options, scrutiny: false, standability: false, mixedModels: false }).settings
        .seed,
    ).toBe(1);
    expect(() => library.readTrial("a,b\n1,2", { columns: JSON.parse('{"__proto__":"a"}') })).toThrow(
      /not a column role/,
    );
    untouched();
  });
});

describe("output stays in the folder that was named", () => {
  const folder = mkdtempSync(join(tmpdir(), "standcurve-trust-"));
  test("file names with a path are refused, and nothing is written", async () => {
    for (const name of ["../x.txt", "a/b.txt", "..", "", "/etc/x"])
      await expect(writeFilesAtomically(join(folder, "out"), { "good.txt": "1", [name]: "2" })).rejects.toThrow();
    expect(readdirSync(folder)).toEqual([]);
  });

  test("hybrids called like paths name no file", async () => {
    writeFileSync(join(folder, "trial.csv"), csv);
    const out: string[] = [];
    const stream = { write: (text: string) => out.push(text), isTTY: false };
    const words = [
      "report",
      join(folder, "trial.csv"),
      "--out",
      join(folder, "page.md"),
      "--without-charts",
      "--resamples",
      "0",
    ];
    expect(await runCommand(words, { stdout: stream, stderr: stream } as never)).toBeLessThan(2);
    expect(readdirSync(folder).sort()).toEqual(["page.md", "trial.csv"]);
    rmSync(folder, { recursive: true });
  });
});

describe("input of any size is bounded, and the message says how", () => {
  const refused = (run: () => unknown): string => {
    try {
      run();
    } catch (error) {
      if (error instanceof library.AnalysisError) return `${error.code}: ${error.message}`;
      throw error;
    }
    return "accepted";
  };
  const head = "hybrid,seeding_rate_k_ac,yield_bu_ac\n";

  test("characters, rows, columns and the header of a table", () => {
    const text = `${head}${"A,20,200\n".repeat(20)}`;
    expect(refused(() => library.readTrial(text, { maxCharacters: 50 }))).toMatch(
      /unreadable-source: .*schema\.maxCharacters/,
    );
    expect(refused(() => library.readTrial(text, { maxRows: 10 }))).toMatch(
      /unreadable-source: .*more than 10 rows.*schema\.maxRows/,
    );
    expect(refused(() => library.readTrial(text, { maxColumns: 2 }))).toMatch(
      /unreadable-source: .*3 columns.*at most 2/,
    );
    expect(refused(() => library.readTrial(`${"x,".repeat(10_001)}\n1\n`))).toMatch(/more than 10,000 columns/);
    expect(refused(() => library.readTrial(`${"x".repeat(1_000_001)}\n1\n`))).toMatch(
      /longer than a million characters/,
    );
    const keys = (i: number): [string, number] => [`k${i}`, 1];
    const wide = [0, 1].map((part) =>
      Object.fromEntries(Array.from({ length: 6000 }, (_, i) => keys(6000 * part + i))),
    );
    expect(refused(() => library.readTrial(wide))).toMatch(/invalid-data: .*10,000 different keys/);
  });

  test("depth and length of JSON", () => {
    const deep = `${"[".repeat(50_000)}${"]".repeat(50_000)}`;
    expect(library.readField(`{"hybrid":${deep}}`).issues[0]?.message).toMatch(/nested deeper than 100 levels/);
    expect(library.readZones(deep).issues[0]?.message).toMatch(/nested deeper than 100 levels/);
    expect(refused(() => library.readAnalysis(deep))).toMatch(/unreadable-source: .*nested deeper than 100 levels/);
    expect(refused(() => library.analyzeGroupText(deep))).toMatch(/invalid-data: .*nested deeper/);
    let circular: Record<string, unknown> = {};
    circular = Object.assign(circular, { hybrid: circular });
    expect(library.readField(circular).field).toBeNull();
  });

  test("replicates and simulations", () => {
    expect(
      refused(() => library.bootstrapCurves({ density: [20, 30, 40, 50], yield: [1, 2, 2, 1] }, { resamples: 1e12 })),
    ).toMatch(/resamples must be a number up to 10,000,000/);
  });
});
