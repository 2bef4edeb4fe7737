import { createHash } from "node:crypto";
import { readdirSync, readFileSync } from "node:fs";
import { beforeAll, describe, expect, test } from "vitest";
import { analyzeTrial } from "../../src/analyze/analyzeTrial.ts";
import type { TrialAnalysis } from "../../src/analyze/result.ts";
import type { Chart } from "../../src/plot/chart.ts";
import { svgAddress } from "../../src/plot/svgAddress.ts";
import { csvText } from "../../src/report/csvText.ts";
import { htmlPage } from "../../src/report/htmlPage.ts";
import { html } from "../../src/report/htmlText.ts";
import { escapeMarkdown, markdownPage } from "../../src/report/markdownPage.ts";
import { type PageCharts, pageCharts } from "../../src/report/pageCharts.ts";
import { reportDocument, sectionTitles } from "../../src/report/reportDocument.ts";
import { textBlocks, unbroken } from "../../src/report/textBlocks.ts";
import { tidyColumns, tidyTables } from "../../src/report/tidyTables.ts";
import { trialText } from "../../src/report/trialText.ts";
import { readTrial } from "../../src/trial/readTrial.ts";
import type { Trial } from "../../src/trial/trial.ts";
import { manyHybrids } from "./manyHybrids.ts";

const prices = { grainPrice: 4.5, seedCostPerThousand: 3.75 };

function analysed(
  text: string,
  more: { standability?: boolean; mixedModels?: boolean } = {},
): { trial: Trial; analysis: TrialAnalysis } {
  const { trial, issues } = readTrial(text);
  if (trial === null) throw new Error("the trial must be readable");
  return { trial, analysis: analyzeTrial(trial, { issues, prices, resamples: 0, ...more }) };
}

/** A drawing that tries what a drawing must not be able to do. */
const drawing = async (chart: Chart): Promise<string> =>
  `<svg xmlns="http://www.w3.org/2000/svg"><script>alert(1)</script><text>${chart.alt.length} &lt;b&gt; "'</text></svg>`;

const hostile = [
  `<img src=x onerror=alert(1)>`,
  `"><script>alert(2)</script>`,
  `</style><script>alert(3)</script>`,
  `=1+1`,
  `'><svg onload=alert(4)>`,
  `&lt;b&gt; | [x](javascript:alert(5)) \`code\``,
  `--- ---`,
  `Read with care`,
];

let nasty: { trial: Trial; analysis: TrialAnalysis };
let many: { trial: Trial; analysis: TrialAnalysis };
let page: string;
let charts: PageCharts;
beforeAll(async () => {
  nasty = analysed(manyHybrids(hostile.length, (i) => hostile[i]));
  many = analysed(manyHybrids(60), { standability: false, mixedModels: false });
  charts = await pageCharts(nasty.analysis, { trial: nasty.trial, render: drawing });
  page = htmlPage(nasty.analysis, { charts, title: `<i>"title"</i>` });
});

/** Tags of a page, with their attributes as text. */
const tags = (text: string): string[] => text.match(/<[a-z!/][^>]*>/gi) ?? [];

describe("htmlPage", () => {
  test("holds no element or attribute from the file: hostile names and titles stay text", () => {
    expect(page).not.toMatch(/<script|<svg|<img src=x/i);
    expect(page).toContain("&lt;img src=x onerror=alert(1)&gt;");
    expect(page).toContain("<h1>&lt;i&gt;&quot;title&quot;&lt;/i&gt;</h1>");
    const names = new Set(tags(page).map((tag) => /^<\/?([a-z0-9!]+)/i.exec(tag)?.[1]?.toLowerCase()));
    const allowed =
      "!doctype html head meta title style body a header h1 main section p br nav ul li h2 h3 div table caption thead tbody tr th td figure img strong details summary footer";
    expect([...names].filter((name) => !allowed.split(" ").includes(name ?? ""))).toEqual([]);
    // Attributes are those that the page itself writes; quotes inside their values are encoded.
    for (const tag of tags(page)) {
      const attributes = [...tag.matchAll(/\s([a-z-]+)=("[^"]*")/g)].map(([, name]) => name);
      const left = tag
        .replace(/^<\/?[a-z0-9!]+/i, "")
        .replace(/\s[a-z-]+="[^"]*"/g, "")
        .replace(/[/>\s]|html/g, "");
      expect(left, tag).toBe("");
      expect(attributes.filter((name) => name?.startsWith("on"))).toEqual([]);
    }
  });

  test("carries a policy that allows images in the page and its own style by hash, and nothing else", () => {
    const policy = /http-equiv="Content-Security-Policy" content="([^"]*)"/.exec(page)?.[1] ?? "";
    const style = /<style>([\s\S]*?)<\/style>/.exec(page)?.[1] ?? "";
    const hash = createHash("sha256").update(style).digest("base64");
    expect(policy).toBe(
      `default-src 'none'; img-src data:; style-src 'sha256-${hash}'; base-uri 'none'; form-action 'none'`,
    );
    expect(page.indexOf("Content-Security-Policy")).toBeLessThan(page.indexOf("<style>"));
  });

  test("points nowhere outside itself", () => {
    const targets = [...page.matchAll(/\s(?:src|href|action|srcset|poster|data)="([^"]*)"/g)].map(
      ([, target]) => target,
    );
    expect(targets.length).toBeGreaterThan(20);
    expect(targets.filter((target) => !/^(?:#|data:image\/svg\+xml;charset=utf-8,)/.test(target ?? ""))).toEqual([]);
    expect(page).not.toMatch(/@import|url\(/);
    const ids = new Set([...page.matchAll(/\sid="([^"]*)"/g)].map(([, id]) => id));
    const links = [...page.matchAll(/href="#([^"]*)"/g)].map(([, id]) => id);
    expect(links.filter((id) => !ids.has(id))).toEqual([]);
    expect(ids.size).toBe([...page.matchAll(/\sid="/g)].length);
  });

  test("opens with the answer, and names version, seed, hash and options", () => {
    const { analysis } = many;
    const plain = htmlPage(analysis, { currency: "$" });
    const at = (text: string): number => plain.indexOf(text);
    expect(at('class="answer"')).toBeLessThan(at("60 hybrids in"));
    expect(plain).toContain(analysis.inputHash as string);
    for (const text of [
      `standcurve ${analysis.version}`,
      "Seed of random numbers",
      "Grain price",
      "4.5",
      "Read with care",
    ])
      expect(plain).toContain(text);
  });

  test("gives sixty hybrids an index, small multiples and a section each", async () => {
    const { analysis, trial } = many;
    const drawn = await pageCharts(analysis, { trial, render: async () => "<svg/>" });
    const plain = htmlPage(analysis, { charts: drawn });
    expect([...plain.matchAll(/<section id="hybrid-/g)].length).toBe(60);
    expect([...plain.matchAll(/<li><a href="#hybrid-\d+"><img /g)].length).toBe(
      analysis.hybrids.filter((h) => h.pooled.kind === "analysed").length,
    );
    expect([...plain.matchAll(/<img (?![^>]*\salt="[^"]+")/g)]).toEqual([]);
    const one = analysed(manyHybrids(1));
    expect(htmlPage(one.analysis)).not.toContain('id="index"');
  });

  test("says what the text report says: every line of it is in the page", () => {
    const { analysis } = many;
    const text = trialText(analysis, { width: unbroken, detail: true });
    const plain = htmlPage(analysis)
      .replace(/<[^>]*>/g, " ")
      .replaceAll("&quot;", '"')
      .replaceAll("&#39;", "'")
      .replaceAll("&lt;", "<")
      .replaceAll("&gt;", ">")
      .replaceAll("&amp;", "&");
    const words = (line: string): string => line.replace(/[^\p{L}\p{N}.,%$<>]+/gu, " ").trim();
    const squeezed = words(plain);
    const missing = textBlocks(text)
      .flatMap((block) =>
        "text" in block ? [block.text] : block.kind === "list" ? block.items : block.rows.map((row) => row.join(" ")),
      )
      .filter((line) => !line.startsWith("Made by") && !squeezed.includes(words(line)));
    expect(missing).toEqual([]);
  });
});

describe("escaping", () => {
  test("html`` escapes what is put in, and keeps what is HTML already", () => {
    expect(html`<p title="${`"'<&>`}">${[html`<b>${1}</b>`, "<b>", null]}</p>`.html).toBe(
      '<p title="&quot;&#39;&lt;&amp;&gt;"><b>1</b>&lt;b&gt;</p>',
    );
  });

  test("the address of a drawing holds no quote, angle or ampersand, and gives the drawing back", () => {
    const svg = `<svg a="1" b='2'>&lt;100 % #x é 😀 <script>1</script>\n</svg>`;
    const address = svgAddress(svg);
    expect(address.slice(35)).not.toMatch(/[<>"'&#]/);
    expect(decodeURIComponent(address.slice(address.indexOf(",") + 1))).toBe(svg);
  });

  test("CSV: cells that a spreadsheet would run are neutralised as documented", () => {
    const tables = tidyTables(nasty.analysis);
    const text = csvText(tables.estimates, tidyColumns.estimates);
    expect(text).toContain("\r\n'=1+1,");
    expect(text).not.toMatch(/(?:^|\r\n|,)"?[=+@]/);
  });
});

describe("markdownPage", () => {
  test("holds no HTML and no link from the file", () => {
    const text = markdownPage(nasty.analysis);
    expect(text).not.toMatch(/(?<!\\)<[a-z/]/i);
    expect(text).toContain("&lt;img src=x onerror=alert(1)&gt;");
    expect(text).toContain("\\[x\\](javascript:alert(5)) \\`code\\`");
    expect(text.split("\n").filter((line) => line.startsWith("## ")).length).toBeGreaterThan(hostile.length);
  });

  test("writes tables whose rows have as many cells as their heads", () => {
    const lines = markdownPage(many.analysis, { currency: "$" }).split("\n");
    let columns = 0;
    let tables = 0;
    for (const [i, line] of lines.entries()) {
      if (!line.startsWith("|")) columns = 0;
      else {
        const cells = line.replaceAll("\\|", "").split("|").length;
        if (columns === 0) {
          columns = cells;
          tables += 1;
          expect(lines[i + 1]).toMatch(/^\|[-:|]+\|$/);
        }
        expect(cells, line).toBe(columns);
      }
    }
    expect(tables).toBeGreaterThan(60);
  });

  test("marks that begin a list or a heading are escaped at the start of a text", () => {
    expect(escapeMarkdown("# 1")).toBe("\\# 1");
    expect(escapeMarkdown("1. first")).toBe("1\\. first");
    expect(escapeMarkdown("- a")).toBe("\\- a");
    expect(escapeMarkdown("17.6 or less")).toBe("17.6 or less");
  });
});

describe("charts of sections", () => {
  test("ear components stand under their heading, on the page and in the Markdown, with the words escaped", async () => {
    const { analysis, trial } = analysed(
      readFileSync(new URL("../../data-demo/ears.csv", import.meta.url), "utf8").replaceAll("Amber 12", `"<b>A""B"`),
      { standability: false },
    );
    const drawn = await pageCharts(analysis, { trial, render: drawing });
    expect(Object.keys(drawn.sections)).toContain("Ears and plants under crowding");
    const [html] = /<h2>Ears and plants under crowding<\/h2>[\s\S]*?<\/figure>/.exec(
      htmlPage(analysis, { charts: drawn }),
    ) ?? [""];
    expect(html.match(/<figure/g)?.length).toBe(1);
    expect(html).toContain("kernels per row");
    expect(html).not.toContain("<b>");
    const pictures = {
      overview: [],
      hybrids: [],
      sections: { "Ears and plants under crowding": [{ file: "a b.svg", alt: "<b>|" }] },
    };
    expect(markdownPage(analysis, { pictures })).toContain(
      "## Ears and plants under crowding\n\n![&lt;b&gt;\\|](a%20b.svg)",
    );
  });
});

describe("textBlocks", () => {
  test("finds the sections that a page takes from the text report", () => {
    const folder = new URL("../../src/report/", import.meta.url);
    const text = readdirSync(folder)
      .filter((file) => file !== "reportDocument.ts")
      .map((file) => readFileSync(new URL(file, folder), "utf8"))
      .join("\n");
    for (const title of sectionTitles) expect(text).toContain(`"${title}"`);
  });

  test("one section for each hybrid, under its own name, whatever it is called", () => {
    const report = reportDocument(nasty.analysis, "");
    expect(report.hybrids.map(({ name }) => name)).toEqual(
      nasty.analysis.hybrids.map(({ hybrid }) => hybrid.replace(/\s+/g, " ")),
    );
    expect(report.sections.at(-1)?.title).toBe("Read with care");
    expect(report.hybrids.every(({ blocks }) => blocks.length > 0)).toBe(true);
  });

  test("reads a table back by its rule of dashes, headings of two lines and wide letters included", () => {
    const blocks = textBlocks(
      "Title, in t/ha\n\n          Best\nName      rate  Range\n--------  ----  ------\n漢字 A     1.5  1 to 2\nB           10  2\n\nAfter it.\n",
    );
    expect(blocks).toEqual([
      { kind: "heading", level: 3, text: "Title" },
      {
        kind: "table",
        caption: "In t/ha",
        head: ["Name", "Best\nrate", "Range"],
        right: [false, true, false],
        rows: [
          ["漢字 A", "1.5", "1 to 2"],
          ["B", "10", "2"],
        ],
      },
      { kind: "paragraph", text: "After it." },
    ]);
  });
});
