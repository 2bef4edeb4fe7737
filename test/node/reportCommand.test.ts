import { spawnSync } from "node:child_process";
import { mkdtempSync, readdirSync, readFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { describe, expect, test } from "vitest";
import { renderChart } from "../../src/node/renderChart.ts";
import { renderChartPng, rsvgConvert } from "../../src/node/renderChartPng.ts";
import { runCommand } from "../../src/node/runCommand.ts";
import { responseChart } from "../../src/plot/responseChart.ts";
import { smallDemo } from "../plot/demoCharts.ts";
import { optionalPackage } from "../plot/optionalPackage.ts";

const demo = new URL("../../data-demo/", import.meta.url).pathname;

async function run(...argv: string[]): Promise<{ code: number; out: string; err: string }> {
  let out = "";
  let err = "";
  const code = await runCommand(argv, {
    stdout: { write: (text) => (out += text) },
    stderr: { write: (text) => (err += text) },
  });
  return { code, out, err };
}

describe("standcurve report", () => {
  const folder = mkdtempSync(join(tmpdir(), "standcurve-report-"));
  const strips = join(demo, "strips.csv");

  test("writes one page without charts when asked to, and the same words as Markdown", async () => {
    const page = join(folder, "page.html");
    const made = await run(
      "report",
      strips,
      "--out",
      page,
      "--without-charts",
      "--resamples",
      "0",
      "--title",
      "A <b> title",
    );
    expect(made.code).toBe(0);
    expect(made.err).toContain(`Wrote ${page}`);
    const text = readFileSync(page, "utf8");
    expect(text).toContain("<h1>A &lt;b&gt; title</h1>");
    expect(text).not.toContain("<img");
    const markdown = join(folder, "page.md");
    expect((await run("report", strips, "--out", markdown, "--without-charts", "--resamples", "0")).code).toBe(0);
    expect(readFileSync(markdown, "utf8")).toContain("## Cedar 21");
  });

  test("says what is wrong with the command, all at once, and writes nothing", async () => {
    const before = readdirSync(folder).length;
    const made = await run("report", strips, "--out", join(folder, "page.pdf"), "--json", "--colour", "red");
    expect(made.code).toBe(2);
    for (const text of ["must end in .html or .md", "--json does not belong to report", "unknown option --colour"])
      expect(made.err).toContain(text);
    expect((await run("report", strips)).err).toContain("report needs --out FILE");
    expect((await run("report", "--help")).out).toContain("Usage: standcurve report FILE");
    expect((await run("report", join(folder, "none.csv"), "--out", join(folder, "x.html"))).code).toBe(1);
    expect(readdirSync(folder).length).toBe(before);
  });

  const vega = optionalPackage("vega") !== null && optionalPackage("vega-lite") !== null;

  test.skipIf(!vega)("puts charts into the page, and beside the Markdown", async () => {
    const page = join(folder, "charts.html");
    expect((await run("report", strips, "--out", page, "--resamples", "0", "--quiet")).code).toBe(0);
    const text = readFileSync(page, "utf8");
    expect([...text.matchAll(/<img src="data:image\/svg\+xml/g)].length).toBeGreaterThan(4);
    const markdown = join(folder, "charts.md");
    const made = await run("report", strips, "--out", markdown, "--resamples", "0");
    const pictures = [...readFileSync(markdown, "utf8").matchAll(/\]\((charts-\d\d\.svg)\)/g)].map(
      ([, name]) => name as string,
    );
    expect(made.err).toContain(`and ${pictures.length} pictures`);
    for (const name of pictures) expect(readFileSync(join(folder, name), "utf8")).toMatch(/^<svg role="img"/);
  });

  test.skipIf(!vega)("a chart becomes one SVG that loads nothing and says what it shows", async () => {
    const { analysis, trial } = smallDemo();
    const chart = responseChart(analysis, { hybrid: "Fern 18", trial, title: "<script>alert(1)</script>" });
    const [first, second] = await Promise.all([renderChart(chart), renderChart(chart)]);
    expect(first).toMatch(/^<svg role="img"[^>]*><title>Fern 18: yield against stand/);
    expect(first).not.toMatch(/<script|<image|href=|url\((?!#)/);
    expect(second).toBe(first);
  });

  const png =
    vega && (optionalPackage("@resvg/resvg-js") !== null || spawnSync("rsvg-convert", ["--version"]).status === 0);

  test.skipIf(!png)("a chart becomes a PNG whose size follows the zoom", async () => {
    const { analysis } = smallDemo();
    const chart = responseChart(analysis, { hybrid: "Fern 18", size: "small" });
    const width = (bytes: Uint8Array): number => new DataView(bytes.buffer, bytes.byteOffset).getUint32(16);
    const [one, three] = [await renderChartPng(chart, { zoom: 1 }), await renderChartPng(chart, { zoom: 3 })];
    expect([...one.subarray(0, 4)]).toEqual([0x89, 0x50, 0x4e, 0x47]);
    // Rounding to whole pixels may shift either width by one.
    expect(Math.abs(width(three) - 3 * width(one))).toBeLessThanOrEqual(3);
    await expect(renderChartPng(chart, { zoom: 0 })).rejects.toThrow("zoom must be");
  });

  const librsvg = vega && spawnSync("rsvg-convert", ["--version"]).status === 0;
  if (!librsvg) console.warn("skipped: no rsvg-convert found (Debian: librsvg2-bin)");

  test.skipIf(!librsvg)(
    "the second way to PNG gives a picture of the same size, and the program's own words when it fails",
    async () => {
      const { analysis } = smallDemo();
      const chart = responseChart(analysis, { hybrid: "Fern 18", size: "small" });
      const size = (bytes: Uint8Array): number[] =>
        [16, 20].map((at) => new DataView(bytes.buffer, bytes.byteOffset).getUint32(at));
      const [ours, theirs] = [await renderChartPng(chart), await rsvgConvert(await renderChart(chart), 2)];
      // Rounding to whole pixels may shift either side by one.
      size(theirs).forEach((pixels, i) => {
        expect(Math.abs(pixels - size(ours)[i])).toBeLessThanOrEqual(1);
      });
      await expect(rsvgConvert("<svg", 2)).rejects.toThrow("rsvg-convert failed");
    },
  );

  test.skipIf(vega)("without the drawing packages the command says what to install", async () => {
    const made = await run("report", strips, "--out", join(folder, "y.html"), "--resamples", "0");
    expect(made.code).toBe(2);
    expect(made.err).toContain("npm install vega@6 vega-lite@6");
  });
});
