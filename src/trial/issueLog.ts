import type { Issue } from "../core/issue.ts";
import { numberText } from "./numberText.ts";

/** What a check reports; the log adds the sentence. */
export type Finding = Omit<Issue, "message" | "received" | "row" | "column"> & {
  readonly row?: number | null;
  readonly column?: string | null;
  readonly received?: string | number | null;
};

/** Collects findings; beyond `limit` of one kind in one column they are counted, not listed. */
export interface IssueLog {
  /** What row numbers count, for sentences: "line" of a file or "row" of an array. */
  readonly unit: "line" | "row";
  add(finding: Finding): void;
  hasErrors(): boolean;
  /** All issues, whole-file ones first and then by row. */
  list(): Issue[];
}

interface Group {
  listed: number;
  folded: number;
  first: Finding | null;
}

/**
 * A collector of issues with ready-made sentences: where, what was found, the rule, what to do.
 *
 * @param counts - "Line" when row numbers are lines of a file, "Row" when they count the rows of an array
 * @param limit - issues of one code in one column that are listed one by one; the rest become one issue with a count
 */
export function issueLog(counts: "Line" | "Row", limit: number): IssueLog {
  const issues: Issue[] = [];
  const groups = new Map<string, Group>();
  return {
    unit: counts === "Line" ? "line" : "row",
    add(finding) {
      const row = finding.row ?? null;
      const key = `${finding.severity} ${finding.code} ${finding.column ?? ""}`;
      const group = groups.get(key) ?? { listed: 0, folded: 0, first: null };
      groups.set(key, group);
      if (row !== null && group.listed >= limit) {
        group.folded += 1;
        group.first ??= finding;
        return;
      }
      group.listed += 1;
      issues.push(toIssue(finding, counts));
    },
    hasErrors: () => issues.some((issue) => issue.severity === "error"),
    list() {
      const all = [...issues];
      for (const { folded, first } of groups.values()) {
        if (first === null) continue;
        const one = toIssue(first, counts);
        const rest = folded === 1 ? "one more row has" : `${numberText(folded)} more rows have`;
        all.push({ ...one, count: folded, message: `${one.message} (${rest} this problem, from here on.)` });
      }
      return all.sort((a, b) => (a.row ?? 0) - (b.row ?? 0));
    },
  };
}

function toIssue(finding: Finding, counts: "Line" | "Row"): Issue {
  const row = finding.row ?? null;
  const column = finding.column === undefined || finding.column === null ? null : shorten(finding.column);
  const received =
    finding.received === undefined || finding.received === null ? null : shorten(String(finding.received));
  const place = [row === null ? "" : `${counts} ${row}`, column === null ? "" : `column "${column}"`].filter(
    (part) => part !== "",
  );
  const where = place.length === 0 ? "" : `${capital(place.join(", "))}: `;
  const found = received === null ? "" : `found "${received}". `;
  const message = `${where}${found}${capital(finding.rule)}. ${capital(finding.remedy)}.`;
  return {
    severity: finding.severity,
    code: finding.code,
    row,
    column,
    received,
    rule: finding.rule,
    remedy: finding.remedy,
    message: where === "" ? capital(message) : message,
    ...(finding.count === undefined ? {} : { count: finding.count }),
  };
}

/** At most 60 characters, with line breaks and control characters made visible. */
export function shorten(text: string): string {
  const visible = text
    .slice(0, 80)
    .replace(/\r\n|[\r\n]/g, "⏎")
    .replace(/\p{Cc}/gu, "␀");
  return visible.length <= 60 ? visible : `${visible.slice(0, 59)}…`;
}

function capital(text: string): string {
  return text.charAt(0).toUpperCase() + text.slice(1);
}
