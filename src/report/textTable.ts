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
 * An aligned table of text: headings, a rule, one line a row. Only when it would be wider than `width` are its widest
 * left-aligned columns narrowed, and their longer entries go on below.
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
  narrow(widths, columns, width - indent.length);
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
    const cells = row.map((cell, c) => wrapText(cell, widths[c] as number));
    const tall = Math.max(...cells.map((parts) => parts.length));
    for (let i = 0; i < tall; i++) lines.push(line(cells.map((parts) => parts[i] ?? "")));
  }
  return lines;
}

/** Takes columns off the widest left-aligned ones until the table fits or they are as narrow as they may be. */
function narrow(widths: number[], columns: readonly TextColumn[], room: number): void {
  const gaps = GAP.length * (widths.length - 1);
  const least = columns.map(({ heading, align }, c) =>
    align === "right" ? (widths[c] as number) : Math.max(NARROWEST, ...heading.split("\n").map(textWidth)),
  );
  let excess = widths.reduce((sum, one) => sum + one, gaps) - room;
  while (excess > 0) {
    const spare = widths.map((one, c) => (one > (least[c] as number) ? one : 0));
    const widest = spare.indexOf(Math.max(...spare));
    if (spare[widest] === 0) return;
    widths[widest] = (widths[widest] as number) - 1;
    excess -= 1;
  }
}
