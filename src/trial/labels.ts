import type { IssueLog } from "./issueLog.ts";
import { numberText } from "./numberText.ts";
import type { Cell } from "./table.ts";

const longest = 120;

/** Blanks and control characters joined to one blank, which also keeps keys joined with control characters apart; at most 120 long. */
export function plainLabel(text: string): { readonly label: string; readonly cut: boolean } {
  const label = text
    .slice(0, longest * 4)
    .replace(/[\s\p{Cc}]+/gu, " ")
    .trim();
  const cut = text.length > longest * 4 || label.length > longest;
  return { label: cut ? `${label.slice(0, longest - 1)}…` : label, cut };
}

/** Turns cells into labels: one spelling for labels that differ only in capitals or blanks, with a warning for the rest. */
export type LabelReader = (cell: Cell, column: string, row: number) => string;

/** A reader that remembers the first spelling of every label in each column. */
export function labelReader(log: IssueLog): LabelReader {
  const columns = new Map<string, { exact: Map<string, string>; folded: Map<string, string> }>();
  return (cell, column, row) => {
    const raw = String(cell);
    const known = columns.get(column) ?? { exact: new Map<string, string>(), folded: new Map<string, string>() };
    columns.set(column, known);
    const seen = raw.length <= longest ? known.exact.get(raw) : undefined;
    if (seen !== undefined) return seen;
    const { label, cut } = plainLabel(raw);
    if (cut) {
      log.add({
        severity: "warning",
        code: "long-label",
        row,
        column,
        received: raw,
        rule: `a name may have up to ${longest} characters; this one has ${numberText(raw.length)} and was cut`,
        remedy: "shorten it; a quote left open earlier is a common cause",
      });
    }
    const folded = label.toLowerCase();
    const first = known.folded.get(folded);
    if (first === undefined) known.folded.set(folded, label);
    else if (first !== label) {
      log.add({
        severity: "warning",
        code: "spelling",
        row,
        column,
        received: label,
        rule: `"${label}" and "${first}" differ only in capital letters and are read as the same`,
        remedy: "write them alike",
      });
    }
    const kept = first ?? label;
    if (raw.length <= longest) known.exact.set(raw, kept);
    return kept;
  };
}

/** Warns about names that differ only in blanks, hyphens or dots, which are kept apart. */
export function reportSimilarNames(names: readonly string[], what: string, log: IssueLog): void {
  const seen = new Map<string, string>();
  for (const name of names) {
    const plain = name.toLowerCase().replace(/[\s._-]+/g, "");
    const first = seen.get(plain);
    if (first === undefined) {
      seen.set(plain, name);
      continue;
    }
    log.add({
      severity: "warning",
      code: "similar-names",
      rule: `the ${what} "${first}" and "${name}" differ only in blanks or hyphens and are kept apart`,
      remedy: "if they are the same, write them alike",
    });
  }
}
