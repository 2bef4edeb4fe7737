import { textWidth } from "./plainText.ts";

/** A piece of a text report as structure: what pages and Markdown are made of. */
export type TextBlock =
  | { readonly kind: "heading"; readonly level: 1 | 2 | 3; readonly text: string }
  | { readonly kind: "paragraph"; readonly text: string }
  /** A warning: a line marked "!". */
  | { readonly kind: "warning"; readonly text: string }
  | { readonly kind: "list"; readonly items: readonly string[] }
  | {
      readonly kind: "table";
      /** Unit of the figures, where the title names it: "In thousand seeds/ac". */
      readonly caption: string | null;
      /** Headings; those of two lines hold a line end. */
      readonly head: readonly string[];
      readonly right: readonly boolean[];
      readonly rows: readonly (readonly string[])[];
    };

/** Wide enough that no paragraph or table of a report is broken. */
export const unbroken = 1_000_000;

const rule = /^ *-+(?: {2,}-+)+$/;

/**
 * Reads an unwrapped text report back as blocks, so that the text is the one wording of a result and a page cannot differ from it.
 *
 * Names in a report hold neither line ends nor double blanks (`plainText`), so they can imitate neither a rule of dashes nor a column gap.
 *
 * @param text - a report written with `width: unbroken`
 */
export function textBlocks(text: string): TextBlock[] {
  const lines = text.split("\n");
  const blocks: TextBlock[] = [];
  const at = (i: number): string => lines[i] ?? "";
  let i = 0;
  // What the last title says of the unit of the table below it.
  let unit: string | null = null;
  while (i < lines.length) {
    const line = at(i);
    const under = at(i + 1);
    const level = /^=+$/.test(under) ? 1 : /^-+$/.test(under) ? 2 : null;
    if (line === "") i += 1;
    else if (level !== null && textWidth(under) === textWidth(line)) {
      blocks.push({ kind: "heading", level, text: line });
      i += 2;
    } else if (line.startsWith("! ")) {
      blocks.push({ kind: "warning", text: line.slice(2) });
      i += 1;
    } else if (/^ {2,}- /.test(line)) {
      const items: string[] = [];
      for (; /^ {2,}(?:- |\S)/.test(at(i)); i++) items.push(at(i).replace(/^ +(?:- )?/, ""));
      blocks.push({ kind: "list", items });
    } else {
      const end = blockEnd(lines, i);
      const dashes = lines.slice(i, end).findIndex((one) => rule.test(one));
      if (dashes > 0) {
        blocks.push(table(lines.slice(i, i + dashes), at(i + dashes), lines.slice(i + dashes + 1, end), unit));
        unit = null;
        i = end;
      } else {
        unit = null;
        if (isTitle(lines, i)) {
          const [, title, units] = titleUnit.exec(line) ?? [];
          blocks.push({ kind: "heading", level: 3, text: title ?? line.replace(/:$/, "") });
          if (units !== undefined) unit = `${units.charAt(0).toUpperCase()}${units.slice(1)}`;
        } else blocks.push({ kind: "paragraph", text: line.trim() });
        i += 1;
      }
    }
  }
  return blocks;
}

/** A title that names the unit of its table: "What pays best, in thousand seeds/ac". */
const titleUnit = /^(.+?), ((?:[a-z]+ )?in [^.]+)$/;

/** A line that ends like no sentence and opens a table or a list. */
function isTitle(lines: readonly string[], i: number): boolean {
  const line = lines[i];
  const next = lines[i + 1] === "" ? i + 2 : i + 1;
  const lists = /^ {2,}- /.test(lines[next] ?? "") || /^(?:Errors|Warnings|Notes)\b.*:$/.test(lines[next] ?? "");
  if (line.endsWith(":")) return lists;
  if (/[.!?]$/.test(line) || (line.endsWith(")") && !lists)) return false;
  const end = blockEnd(lines, next);
  return lines[i + 1] === "" && (lists || lines.slice(next, end).some((one) => rule.test(one)) || !/[.!?]$/.test(line));
}

function blockEnd(lines: readonly string[], from: number): number {
  let end = from;
  while (end < lines.length && lines[end] !== "" && !lines[end].startsWith("! ")) end += 1;
  return end;
}

/** Columns stand where the dashes stand; headings of several lines become one. */
function table(head: readonly string[], dashes: string, body: readonly string[], caption: string | null): TextBlock {
  const columns = [...dashes.matchAll(/-+/g)].map((match) => ({
    from: match.index,
    to: match.index + match[0].length,
  }));
  const cut = (line: string): string[] => columns.map(({ from, to }) => slice(line, from, to));
  const raw = body.map(cut);
  const heads = head.map(cut);
  const right = columns.map((_, c) => {
    const cells = [...heads, ...raw].map((row) => row[c]).filter((cell) => cell.trim() !== "");
    const body = raw.map((row) => row[c].trim()).filter((cell) => cell !== "");
    return (
      cells.some((cell) => cell.startsWith(" ")) ||
      (body.length > 0 && body.every((cell) => /^-?[^\p{L}\d]?[\d.,]+( %)?$/u.test(cell)))
    );
  });
  return {
    kind: "table",
    caption,
    head: columns.map((_, c) =>
      heads
        .map((row) => row[c].trim())
        .filter((part) => part !== "")
        .join("\n"),
    ),
    right,
    rows: raw.map((row) => row.map((cell) => cell.trim())),
  };
}

/** The part of a line between two columns of the screen; wide letters take two. */
function slice(line: string, from: number, to: number): string {
  let column = 0;
  let out = "";
  for (const letter of line) {
    if (column >= from && column < to) out += letter;
    column += textWidth(letter);
  }
  return out;
}
