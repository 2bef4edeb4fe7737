import type { Column } from "./columns.ts";
import type { Draft } from "./draft.ts";
import type { IssueLog } from "./issueLog.ts";
import { numberText } from "./numberText.ts";
import { roleWords } from "./roleWords.ts";

const factor = 4;

/** Warns about densities and yields four times above or below the median of all plots: often a slipped digit. */
export function reportUnusual(
  drafts: readonly Draft[],
  columns: readonly { column: Column; value: (draft: Draft) => number | null }[],
  log: IssueLog,
): void {
  for (const { column, value } of columns) {
    const middle = median(drafts, value);
    if (middle === null) continue;
    for (const draft of drafts) {
      const one = value(draft);
      if (one === null || one === 0 || draft.excluded !== null || (one <= factor * middle && one >= middle / factor))
        continue;
      log.add({
        severity: "warning",
        code: "unusual-value",
        row: draft.row,
        column: column.header,
        received: numberText(one, 3),
        rule:
          one > middle
            ? `this ${roleWords(column.role)} is ${numberText(one / middle, 3)} times the median (${numberText(middle, 3)})`
            : `the median (${numberText(middle, 3)}) is ${numberText(middle / one, 3)} times this ${roleWords(column.role)}`,
        remedy: "check the digits and the decimal mark; it was used",
      });
    }
  }
}

function median(drafts: readonly Draft[], value: (draft: Draft) => number | null): number | null {
  const sorted = Float64Array.from(drafts.flatMap((draft) => value(draft) ?? [])).sort();
  return sorted.length === 0 ? null : (sorted[Math.floor((sorted.length - 1) / 2)] ?? null);
}
