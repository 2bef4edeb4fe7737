import { AnalysisError } from "../core/errors.ts";
import type { RowKey } from "../trial/tableHead.ts";
import type { GroupBy } from "./groupInput.ts";

/** A row with whom it belongs to. */
export interface KeyedRow<T> extends RowKey {
  readonly row: T;
  readonly line: number;
}

/** Rows of one group. */
export interface RowGroup<T> {
  readonly hybrid: string;
  readonly environment: string | null;
  readonly rows: readonly T[];
  readonly lines: readonly number[];
}

export interface GroupRowsOptions {
  readonly by: GroupBy;
  /**
   * What to do when a group's rows do not stand together. `error`: stop, as soon as a group comes back. `collect`: keep all rows in
   * memory and hand out the groups at the end, in the order in which they first appear.
   */
  readonly scattered: "error" | "collect";
}

/** Groups are told apart without regard to capital letters, as labels are in a file. */
export function groupKey({ hybrid, environment }: { hybrid: string; environment: string | null }): string {
  return (environment === null ? hybrid : `${hybrid}\u0000${environment}`).toLowerCase();
}

/**
 * Gathers rows into groups. With `error` it holds one group, and a short key of every group that went before.
 *
 * @throws AnalysisError `not-grouped` when a group comes back and that was not allowed for
 */
export async function* groupRows<T>(
  batches: AsyncIterable<readonly KeyedRow<T>[]>,
  { by, scattered }: GroupRowsOptions,
): AsyncGenerator<RowGroup<T>> {
  const open = new Map<string, { hybrid: string; environment: string | null; rows: T[]; lines: number[] }>();
  const done = new Set<string>();
  let last: { key: string; from: string } | null = null;
  for await (const batch of batches) {
    for (const { hybrid, environment: place, row, line } of batch) {
      const environment = by === "hybrid" ? null : place;
      const key = groupKey({ hybrid, environment });
      if (scattered === "error" && last !== null && last.key !== key) {
        const finished = open.get(last.key);
        if (finished !== undefined) yield finished;
        open.delete(last.key);
        done.add(last.key);
        if (done.has(key)) throw cameBack(hybrid, environment, line);
      }
      last = { key, from: hybrid };
      const group = open.get(key);
      if (group === undefined) open.set(key, { hybrid, environment, rows: [row], lines: [line] });
      else {
        group.rows.push(row);
        group.lines.push(line);
      }
    }
  }
  for (const [key, group] of open) {
    open.delete(key);
    yield group;
  }
}

function cameBack(hybrid: string, environment: string | null, line: number): AnalysisError {
  const what = environment === null ? `"${hybrid}"` : `"${hybrid}" in "${environment}"`;
  return new AnalysisError(
    "not-grouped",
    `the rows of ${what} do not stand together: it comes back in row ${line} after other groups, which would split its analysis. ` +
      "Sort the rows by hybrid, or let them be collected first (scattered: collect), which needs memory for all rows",
  );
}
