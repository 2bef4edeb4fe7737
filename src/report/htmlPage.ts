import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { hashText } from "../core/hash.ts";
import { svgAddress } from "../plot/svgAddress.ts";
import { htmlStyle } from "./htmlStyle.ts";
import { type Html, html } from "./htmlText.ts";
import { methodsText } from "./methodsText.ts";
import type { PageChart, PageCharts } from "./pageCharts.ts";
import { plainText } from "./plainText.ts";
import { type ReportDocument, reportDocument } from "./reportDocument.ts";
import { caps } from "./standVerdict.ts";
import type { TextBlock } from "./textBlocks.ts";

export interface HtmlPageOptions {
  /** "$", "EUR" or nothing (default). */
  readonly currency?: string;
  /** From `pageCharts`; without, the page has tables and words only. */
  readonly charts?: PageCharts;
  /** Replaces the title. */
  readonly title?: string;
}

/** What `HtmlPageOptions` must look like. */
export const htmlPageOptionsShape: { readonly [property: string]: Shape } = {
  currency: "text?",
  charts: "object?",
  title: "text?",
};

/**
 * The whole result as one page that needs nothing else: no network, no script; made to be read on a screen, on a phone and on paper.
 *
 * The answer comes first, then tables over all hybrids, an index with small charts, each hybrid, problems of the file, methods, cautions and
 * where the figures come from. The words are those of `trialText`. Names and cells of the file are escaped; charts are images, in which nothing
 * can run; a security policy allows only them and the page's own style, by its hash.
 *
 * @returns HTML with its doctype
 * @example
 * htmlPage(analysis).startsWith("<!doctype html>"); // => true
 */
export function htmlPage(analysis: TrialAnalysis, options: HtmlPageOptions = {}): string {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", htmlPageOptionsShape, "invalid-option");
  const { charts, currency = "" } = options;
  const report = reportDocument(analysis, currency, Object.keys(charts?.sections ?? {}));
  const title = options.title ?? report.title;
  const policy = `default-src 'none'; img-src data:; style-src 'sha256-${base64(hashText(htmlStyle))}'; base-uri 'none'; form-action 'none'`;
  const body = html`<a class="skip" href="#summary">To the summary</a>
<header><h1>${title}</h1></header>
<main>
<section id="summary" aria-label="Summary">
${report.summary.map((block, i) => (i === 0 && block.kind === "paragraph" ? html`<p class="answer">${tied(block.text)}</p>\n` : blockHtml(block)))}
<p class="tag">Read it with the <a href="#cautions">cautions</a>: ${plainText(analysis.cautions.find((text) => text.includes("seed label")) ?? "")}</p>
</section>
${contents(report)}
<section id="glance">
<h2>At a glance</h2>
${report.glance.map((block) => blockHtml(block))}
${charts?.overview.map(figure) ?? null}
</section>
${small(
  report,
  charts,
  analysis.hybrids.some(({ pooled: { standability } }) => standability !== null && caps(standability)),
)}
${report.hybrids.map((hybrid, i) => hybridHtml(hybrid, charts?.hybrids[i]?.charts ?? [], report.hybrids.length > FEW_HYBRIDS))}
${report.sections.map(
  (section) => html`<section id="${section.title === "Read with care" ? "cautions" : section.id}">
<h2>${section.title}</h2>
${charts?.sections[section.title]?.map(figure) ?? null}
${section.blocks.map((block) => blockHtml(block, section.title))}
</section>
`,
)}
<section id="methods">
<h2>How the figures were made</h2>
${methodsText(analysis).map((text) => html`<p>${text}</p>\n`)}
</section>
<section id="provenance">
<h2>Where the figures come from</h2>
<div class="scroll" tabindex="0" role="region" aria-label="Provenance"><table class="facts"><tbody>
${report.provenance.map(([name, value]) => html`<tr><th scope="row">${name}</th><td>${value}</td></tr>\n`)}
</tbody></table></div>
<p>The same file, options and version give the same figures.</p>
</section>
</main>
<footer><p>Made by standcurve ${analysis.version}. This page is complete in itself: it loads nothing and runs nothing.</p></footer>`;
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${policy}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="referrer" content="no-referrer">
<meta name="generator" content="standcurve ${html`${analysis.version}`.html}">
<title>${html`${title}`.html}</title>
<style>${htmlStyle}</style>
</head>
<body>
${body.html}
</body>
</html>
`;
}

/** The answer and the tables over all hybrids, to stand inside another page; every text is escaped. */
export function htmlSummary(analysis: TrialAnalysis, currency: string): string {
  const { title, summary, glance } = reportDocument(analysis, currency);
  return html`<div><h3>${title}</h3>\n${[...summary, ...glance].map((block) => blockHtml(block))}</div>`.html;
}

/** With more hybrids, their tables are folded up, and stay so on paper. */
const FEW_HYBRIDS = 8;

/** With more hybrids, their links are folded up, or a phone would show nothing else. */
const FEW_LINKS = 16;

/** Links to every hybrid and part. */
function contents({ hybrids, sections }: ReportDocument): Html {
  const names = hybrids.map(({ name, id }) => ({ name, id }));
  const folded = hybrids.length > FEW_LINKS;
  const parts = [
    ...sections.map(({ title, id }) => ({ name: title, id: title === "Read with care" ? "cautions" : id })),
    { name: "How the figures were made", id: "methods" },
    { name: "Where the figures come from", id: "provenance" },
  ];
  const list = (links: readonly { readonly name: string; readonly id: string }[]): Html =>
    html`<ul>\n${links.map(({ name, id }) => html`<li><a href="#${id}">${name}</a></li>\n`)}</ul>\n`;
  return html`<nav aria-label="Contents">
${folded ? html`<details><summary>${hybrids.length} hybrids</summary>\n${list(names)}</details>\n${list(parts)}` : list([...names, ...parts])}</nav>
`;
}

function small({ hybrids }: ReportDocument, charts: PageCharts | undefined, lodges: boolean): Html | null {
  if (charts === undefined || charts.hybrids.every((one) => one.small === null)) return null;
  return html`<section id="index" aria-label="All curves">
<h2>All curves</h2>
<p>Line: chosen curve with its band; diamonds: means. Circle: yields most; square: pays best.${lodges ? " Grey, right of the dashed line: too many plants lodge." : ""} Axes differ from chart to chart.</p>
<ul class="many">
${hybrids.map(({ id, name }, i) => {
  const chart = charts.hybrids[i]?.small ?? null;
  return chart === null
    ? html`<li><a href="#${id}">${name}: not analysed</a></li>\n`
    : html`<li><a href="#${id}"><img src="${{ html: svgAddress(chart.svg) }}" alt="${name}" loading="lazy"></a></li>\n`;
})}</ul>
</section>
`;
}

function hybridHtml(
  { name, id, blocks }: ReportDocument["hybrids"][number],
  charts: readonly PageChart[],
  many: boolean,
): Html {
  const [first, ...others] = charts;
  const until = blocks.findIndex((block) => block.kind === "heading");
  const words = until < 0 ? blocks : blocks.slice(0, until);
  const rest = until < 0 ? [] : blocks.slice(until);
  return html`<section id="${id}">
<h2>${name}</h2>
${first === undefined ? null : figure(first)}
${words.map((block) => blockHtml(block, name))}
${others.map(figure)}
${many && rest.length > 0 ? html`<details><summary>More figures of ${name}</summary>\n${rest.map((block) => blockHtml(block, name))}</details>` : rest.map((block) => blockHtml(block, name))}
</section>
`;
}

/** Charts narrower than this need no room to be moved sideways on a phone, CSS pixels. */
const PHONE = 480;

function figure({ svg, alt }: PageChart): Html {
  const [, width, height] = (/viewBox="0 0 ([\d.]+) ([\d.]+)"/.exec(svg) ?? []).map(Number);
  const kinds = [...(height > 1.1 * width ? ["tall"] : []), ...(width < PHONE ? ["narrow"] : [])];
  const shape = kinds.length > 0 ? { html: ` class="${kinds.join(" ")}"` } : null;
  return html`<figure${shape} tabindex="0"><img src="${{ html: svgAddress(svg) }}" alt="${alt}"></figure>
`;
}

/** @param of - whose block it is, so that the names of the page's tables differ */
function blockHtml(block: TextBlock, of = ""): Html {
  switch (block.kind) {
    case "heading":
      return html`<h3>${block.text}</h3>\n`;
    case "paragraph":
      return html`<p>${tied(block.text)}</p>\n`;
    case "warning":
      return html`<p class="warning"><strong>Careful:</strong> ${tied(block.text)}</p>\n`;
    case "list":
      return html`<ul>\n${block.items.map((item) => html`<li>${tied(item)}</li>\n`)}</ul>\n`;
    case "table":
      return html`<div class="scroll" tabindex="0" role="region" aria-label="${of === "" ? "Table" : of}: ${block.head.join(", ").replaceAll("\n", " ")}"><table>
${block.caption === null ? null : html`<caption>${block.caption}</caption>\n`}<thead><tr>${block.head.map((cell, c) => html`<th scope="col"${side(block.right[c])}>${broken(cell)}</th>`)}</tr></thead>
<tbody>
${block.rows.map(
  (row) =>
    html`<tr>${row.map((cell, c) => (c === 0 ? html`<th scope="row"${rowHead(cell, block.right[c])}>${cell}</th>` : html`<td${side(block.right[c])}>${cell}</td>`))}</tr>\n`,
)}</tbody>
</table></div>
`;
  }
}

/** A figure and its per cent sign stay on one line. */
function tied(text: string): string {
  return text.replace(/(\d) %/g, "$1\u00a0%");
}

/** A heading with its line ends. */
function broken(cell: string): Html {
  const [first = "", ...others] = cell.split("\n");
  return html`${first}${others.map((line) => html`<br>${line}`)}`;
}

/** Short names stay on one line; long ones may be broken, or a table would be wider than its page. */
function rowHead(cell: string, right: boolean | undefined): Html | null {
  if (cell.length <= LONG_NAME) return side(right);
  return { html: right === true ? ' class="number long"' : ' class="long"' };
}

const LONG_NAME = 16;

function side(right: boolean | undefined): Html | null {
  return right === true ? { html: ' class="number"' } : null;
}

/** Hexadecimal digits as base64, as the policy wants a hash. */
function base64(hex: string): string {
  const letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
  let out = "";
  for (let i = 0; i < hex.length; i += 6) {
    const piece = hex.slice(i, i + 6);
    const bits = Number.parseInt(piece.padEnd(6, "0"), 16);
    const used = Math.ceil((piece.length * 4) / 6);
    for (let k = 0; k < 4; k++) out += k < used ? letters[(bits >> (18 - 6 * k)) & 63] : "=";
  }
  return out;
}
