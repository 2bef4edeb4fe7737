import { padText, textWidth, wrapText } from "./plainText.ts";

/** One column of a plain-text table. */
export interface TextColumn {
  /** Heading; several lines when it holds line ends. */
  readonly heading: string;
  readonly align: "left" | "right";
}

const GAP = "  ";
const NARROWEST = 8;

/**
 * An aligned table of text: headings, a rule, one line a row. Only when it would be wider than `width` is the first column
 * narrowed, and its longer entries go on below.
 *
 * @param rows - shape [n][columns]
 */
export function textTable(
  columns: readonly TextColumn[],
  rows: readonly (readonly string[])[],
  width: number,
  indent = "",
): string[] {
  const headings = columns.map((column) => column.heading.split("\n"));
  const widths = columns.map((_, c) =>
    Math.max(...(headings[c] as string[]).map(textWidth), ...rows.map((row) => textWidth(row[c] ?? ""))),
  );
  const others = widths.slice(1).reduce((sum, one) => sum + GAP.length + one, indent.length);
  widths[0] = Math.max(Math.min(widths[0] as number, width - others), Math.min(widths[0] as number, NARROWEST));
  const line = (cells: readonly string[]): string =>
    (
      indent + cells.map((cell, c) => padText(cell, widths[c] as number, columns[c]?.align ?? "left")).join(GAP)
    ).trimEnd();

  const height = Math.max(...headings.map((lines) => lines.length));
  const lines = Array.from({ length: height }, (_, i) =>
    line(headings.map((parts) => parts[i - (height - parts.length)] ?? "")),
  );
  lines.push(indent + widths.map((one) => "-".repeat(one)).join(GAP));
  for (const row of rows) {
    const names = wrapText(row[0] ?? "", widths[0] as number);
    lines.push(line([names[0] ?? "", ...row.slice(1)]));
    for (const more of names.slice(1)) lines.push(line([more]));
  }
  return lines;
}
