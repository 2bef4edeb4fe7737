import { readFileSync, writeFileSync } from "node:fs";
import { describe, expect, test } from "vitest";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import { displayChart } from "../../src/plot/displayChart.ts";
import { jupyterDisplay } from "../../src/plot/jupyterDisplay.ts";
import { responseChart } from "../../src/plot/responseChart.ts";
import { displayAnalysis } from "../../src/report/displayAnalysis.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import { notebookTools, runNotebook } from "./runNotebook.ts";

const path = new URL("../../data-demo/tour.ipynb", import.meta.url).pathname;

interface Notebook {
  readonly cells: readonly {
    readonly cell_type: string;
    readonly outputs?: readonly { readonly output_type: string; readonly data?: Readonly<Record<string, unknown>> }[];
  }[];
}

describe("results that show themselves", () => {
  const text =
    'hybrid,block,stand_k_ac,yield_bu_ac\n"<b>A",1,20,170\n"<b>A",1,30,200\n"<b>A",1,40,199\n"<b>A",2,20,175\n"<b>A",2,30,198\n"<b>A",2,40,202\n';
  const { trial } = readTrial(text);
  if (trial === null) throw new Error("the trial must be readable");
  const analysis = analyzeTrial(trial, { resamples: 0 });

  test("are the same data: the same JSON, the same keys, and structuredClone takes them", () => {
    const shown = displayAnalysis(analysis);
    expect(JSON.stringify(shown)).toBe(JSON.stringify(analysis));
    expect(Object.keys(shown)).toEqual(Object.keys(analysis));
    const chart = responseChart(analysis, { trial });
    expect(JSON.stringify(displayChart(chart))).toBe(JSON.stringify(chart));
  });

  test("give a table and text for an analysis, with names escaped", async () => {
    const bundle = await displayAnalysis(analysis)[jupyterDisplay]();
    expect(Object.keys(bundle)).toEqual(["text/html", "text/plain"]);
    expect(bundle["text/html"]).toContain("&lt;b&gt;A");
    expect(bundle["text/html"]).not.toContain("<b>A");
    expect(jupyterDisplay).toBe(Symbol.for("Jupyter.display"));
  });

  test("give Vega-Lite, a picture and words for a chart", async () => {
    const chart = responseChart(analysis, { trial });
    const bundle = await displayChart(chart, { render: async () => `<svg><text>'"&lt;</text></svg>` })[
      jupyterDisplay
    ]();
    expect(Object.keys(bundle)).toEqual(["application/vnd.vegalite.v5+json", "text/html", "text/plain"]);
    expect(bundle["text/html"]).toMatch(/^<img alt="[^"<>]*" src="data:image\/svg\+xml;charset=utf-8,[^"'<>&]*">$/);
    expect(bundle["text/plain"]).toBe(chart.alt);
    expect(Object.keys(await displayChart(chart)[jupyterDisplay]())).not.toContain("text/html");
  });
});

test("the tour in data-demo holds its outputs: tables, charts and no error", () => {
  const notebook = JSON.parse(readFileSync(path, "utf8")) as Notebook;
  const outputs = notebook.cells.flatMap(({ outputs: all }) => all ?? []);
  const types = outputs.flatMap(({ data }) => Object.keys(data ?? {}));
  expect(outputs.every(({ output_type: type }) => type !== "error")).toBe(true);
  expect(types.filter((type) => type === "application/vnd.vegalite.v5+json").length).toBe(6);
  expect(types.filter((type) => type === "text/html").length).toBe(7);
});

// Slow: starts a kernel. STANDCURVE_SLOW=1; STANDCURVE_UPDATE=1 writes the outputs back.
const slow = process.env["STANDCURVE_SLOW"] === "1";
const tools = slow ? notebookTools() : null;

test.skipIf(tools === null)("Deno's kernel runs the tour and gives the outputs that are committed", () => {
  const notebook = runNotebook(path, tools as NonNullable<typeof tools>) as Notebook;
  if (process.env["STANDCURVE_UPDATE"] === "1") writeFileSync(path, `${JSON.stringify(notebook, null, 1)}\n`);
  const kept = JSON.parse(readFileSync(path, "utf8")) as Notebook;
  expect(notebook.cells.map(({ outputs }) => outputs)).toEqual(kept.cells.map(({ outputs }) => outputs));
});
