import type { GroupHead } from "../batch/groupHead.ts";
import type { Issue } from "../core/issue.ts";
import { numberText } from "../trial/numberText.ts";
import { commandWords } from "./commandWords.ts";

interface Kind {
  readonly first: Issue;
  readonly hybrid: string;
  count: number;
  groups: number;
}

/** Counts what was found in the groups, so that a thousand of one kind are one line. */
export interface BatchSummary {
  add(head: GroupHead): void;
  readonly groups: number;
  /** Any row with an error, any group without a result. */
  readonly troubled: boolean;
  text(): string;
}

/** Kinds that are shown; the results hold all. */
const SHOWN = 12;

export function batchSummary(): BatchSummary {
  const kinds = new Map<string, Kind>();
  const unwell: { hybrid: string; environment: string | null; status: string; reason: string | null }[] = [];
  let groups = 0;
  let rows = 0;
  let analysed = 0;
  let without = 0;
  let errors = false;
  return {
    add({ hybrid, environment, status, reason, rows: { count }, issues }) {
      groups += 1;
      rows += count;
      if (status === "analysed") analysed += 1;
      else {
        without += 1;
        if (unwell.length < SHOWN) unwell.push({ hybrid, environment, status, reason });
      }
      const counted = new Set<Kind>();
      for (const issue of issues) {
        if (issue.severity === "note") continue;
        if (issue.severity === "error") errors = true;
        const key = `${issue.severity} ${issue.code} ${issue.column ?? ""}`;
        const kind = kinds.get(key) ?? { first: issue, hybrid, count: 0, groups: 0 };
        kinds.set(key, kind);
        kind.count += issue.count ?? 1;
        if (!counted.has(kind)) kind.groups += 1;
        counted.add(kind);
      }
    },
    get groups() {
      return groups;
    },
    get troubled() {
      return errors || without > 0;
    },
    text() {
      const lines = [
        `${many(groups, "group")} of ${many(rows, "row")}: ${numberText(analysed)} analysed${without > 0 ? `, ${numberText(without)} not` : ""}`,
      ];
      for (const { hybrid, environment, status, reason } of unwell) {
        const name = environment === null ? hybrid : `${hybrid}, ${environment}`;
        lines.push(`${status === "failed" ? "Failed" : "Not analysed"}: ${name}: ${commandWords(reason ?? "")}`);
      }
      if (without > unwell.length) lines.push(`… and ${numberText(without - unwell.length)} more without a result`);
      const sorted = [...kinds.values()].sort(
        (a, b) => Number(b.first.severity === "error") - Number(a.first.severity === "error") || b.count - a.count,
      );
      for (const { first, hybrid, count, groups: spread } of sorted.slice(0, SHOWN)) {
        const where = `${numberText(count)} ${first.severity}${count === 1 ? "" : "s"} in ${many(spread, "group")}`;
        lines.push(`${first.code}: ${where}, first in ${hybrid}: ${commandWords(first.message)}`);
      }
      if (sorted.length > SHOWN)
        lines.push(`… and ${numberText(sorted.length - SHOWN)} more kinds; the results hold all`);
      return `${lines.join("\n")}\n`;
    },
  };
}

function many(count: number, what: string): string {
  return `${numberText(count)} ${what}${count === 1 ? "" : "s"}`;
}
