import { checkShape, type Shape } from "../core/checkShape.ts";
import type { Issue } from "../core/issue.ts";
import { countOf, fixed } from "./numberText.ts";
import { plainText, wrapText } from "./plainText.ts";

export interface IssueTextOptions {
  /** Columns; default 100. */
  readonly width?: number;
  /** Issues of one kind written out; the rest are counted. Default: all. */
  readonly limit?: number;
}

/** What `IssueTextOptions` must look like. */
export const issueTextOptionsShape: { readonly [property: string]: Shape } = { width: "number?", limit: "number?" };

const headings = {
  error: "Errors (value or row not used)",
  warning: "Warnings (used, but look at them)",
  note: "Notes",
} as const;

/**
 * Problems found in a file as plain text: errors first, then warnings and notes; within these, issues of one kind together.
 *
 * @returns "" when there is none; otherwise lines with a line end each
 * @example
 * issueText([]); // => ""
 */
export function issueText(issues: readonly Issue[], options: IssueTextOptions = {}): string {
  checkShape(issues, "issues", "objects");
  checkShape(options, "options", issueTextOptionsShape, "invalid-option");
  const lines = issueLines(issues, options.width ?? 100, options.limit ?? Number.POSITIVE_INFINITY);
  return lines.length === 0 ? "" : `${lines.join("\n")}\n`;
}

/** The same as lines. */
export function issueLines(issues: readonly Issue[], width: number, limit: number): string[] {
  return (["error", "warning", "note"] as const).flatMap((severity) => {
    const found = issues.filter((issue) => issue.severity === severity);
    if (found.length === 0) return [];
    const kinds = new Map<string, Issue[]>();
    for (const issue of found) kinds.set(issue.code, [...(kinds.get(issue.code) ?? []), issue]);
    return [`${headings[severity]}:`, ...[...kinds.values()].flatMap((same) => kindLines(same, width, limit))];
  });
}

function kindLines(issues: readonly Issue[], width: number, limit: number): string[] {
  const shown = issues.slice(0, limit).flatMap((issue) => wrapText(plainText(issue.message), width, "  - ", "    "));
  const hidden = issues.slice(limit).reduce((sum, issue) => sum + (issue.count ?? 1), 0);
  return hidden === 0 ? shown : [...shown, `    and ${fixed(hidden, 0)} more of this kind`];
}

/** "2 errors, 1 warning and 4 notes" for one line; "no problems" when there is none. */
export function issueCounts(issues: readonly Issue[]): string {
  const parts = (["error", "warning", "note"] as const).flatMap((severity) => {
    const count = issues.filter((issue) => issue.severity === severity).length;
    return count === 0 ? [] : [countOf(count, severity)];
  });
  return parts.length === 0 ? "no problems" : parts.join(", ");
}
