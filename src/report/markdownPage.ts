import type { TrialAnalysis } from "../analyze/result.ts";
import { checkShape, type Shape } from "../core/checkShape.ts";
import { methodsText } from "./methodsText.ts";
import { textWidth } from "./plainText.ts";
import { reportDocument } from "./reportDocument.ts";
import type { TextBlock } from "./textBlocks.ts";

/** Where a drawn chart lies, relative to the Markdown file. */
export interface MarkdownPicture {
  readonly file: string;
  readonly alt: string;
}

export interface MarkdownPageOptions {
  readonly currency?: string;
  readonly pictures?: {
    readonly overview: readonly MarkdownPicture[];
    /** In the order of the result's hybrids. */
    readonly hybrids: readonly (readonly MarkdownPicture[])[];
    /** Of the sections over all hybrids, by their titles. */
    readonly sections?: Readonly<Record<string, readonly MarkdownPicture[]>>;
  };
}

/** What `MarkdownPageOptions` must look like. */
export const markdownPageOptionsShape: { readonly [property: string]: Shape } = {
  currency: "text?",
  pictures: "object?",
};

/**
 * The whole result as Markdown (GitHub's dialect, for its tables): the same parts and words as `htmlPage`.
 *
 * Signs that Markdown or HTML would act on are escaped in everything that comes from the file.
 *
 * @example
 * markdownPage(analysis).startsWith("# "); // => true
 */
export function markdownPage(analysis: TrialAnalysis, options: MarkdownPageOptions = {}): string {
  checkShape(analysis, "analysis", "standcurve/trial-analysis/1");
  checkShape(options, "options", markdownPageOptionsShape, "invalid-option");
  const { currency = "", pictures } = options;
  const report = reportDocument(analysis, currency, Object.keys(pictures?.sections ?? {}));
  const picture = ({ file, alt }: MarkdownPicture): string =>
    `![${escapeMarkdown(alt)}](${encodeURI(file).replace(/[()]/g, encodeURIComponent)})`;
  const parts = [
    `# ${escapeMarkdown(report.title)}`,
    ...report.summary.map(blockMarkdown),
    ...report.glance.map(blockMarkdown),
    ...(pictures?.overview.map(picture) ?? []),
    ...report.hybrids.flatMap(({ name, blocks }, i) => [
      `## ${escapeMarkdown(name)}`,
      ...(pictures?.hybrids[i]?.map(picture) ?? []),
      ...blocks.map(blockMarkdown),
    ]),
    ...report.sections.flatMap(({ title, blocks }) => [
      `## ${escapeMarkdown(title)}`,
      ...(pictures?.sections?.[title]?.map(picture) ?? []),
      ...blocks.map(blockMarkdown),
    ]),
    "## How the figures were made",
    ...methodsText(analysis).map(escapeMarkdown),
    "## Where the figures come from",
    table(["What", "Value"], [false, false], report.provenance),
  ];
  return `${parts.join("\n\n")}\n`;
}

function blockMarkdown(block: TextBlock): string {
  switch (block.kind) {
    case "heading":
      return `### ${escapeMarkdown(block.text)}`;
    case "paragraph":
      return escapeMarkdown(block.text);
    case "warning":
      return `> **Careful:** ${escapeMarkdown(block.text)}`;
    case "list":
      return block.items.map((item) => `- ${escapeMarkdown(item)}`).join("\n");
    case "table":
      return `${block.caption === null ? "" : `${escapeMarkdown(block.caption)}:\n\n`}${table(block.head, block.right, block.rows)}`;
  }
}

function table(head: readonly string[], right: readonly boolean[], rows: readonly (readonly string[])[]): string {
  const all = [head.map((cell) => cell.replaceAll("\n", " ")), ...rows].map((row) => row.map(escapeMarkdown));
  const widths = head.map((_, c) => Math.max(3, ...all.map((row) => textWidth(row[c] ?? ""))));
  const line = (row: readonly string[]): string =>
    `| ${row.map((cell, c) => (right[c] ? " ".repeat(Math.max(widths[c] - textWidth(cell), 0)) + cell : cell + " ".repeat(Math.max(widths[c] - textWidth(cell), 0)))).join(" | ")} |`;
  const rule = `|${widths.map((width, c) => (right[c] ? `${"-".repeat(width + 1)}:` : "-".repeat(width + 2))).join("|")}|`;
  const [first = [], ...body] = all;
  return [line(first), rule, ...body.map(line)].join("\n");
}

/** Signs that would act in Markdown, made to stand for themselves. */
export function escapeMarkdown(text: string): string {
  return text
    .replaceAll("&", "&amp;")
    .replaceAll("<", "&lt;")
    .replaceAll(">", "&gt;")
    .replace(/[\\`*_[\]|~#]/g, "\\$&")
    .replace(/^([-+]|\d+[.)])(?=\s|$)/, (mark) => `${mark.slice(0, -1)}\\${mark.slice(-1)}`)
    .replace(/\b(https?|ftp|www)(:|\.)/gi, "$1\u200b$2");
}
