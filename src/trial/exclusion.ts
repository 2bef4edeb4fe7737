import type { RowCells } from "./rowCells.ts";

const no = /^(?:no|n|0|false|f|keep|include|included|used?)$/i;
const yes = /^(?:yes|y|1|true|t|x|exclude|excluded|drop)$/i;

/**
 * Why a plot is marked to stay out, or null: an exclude column says yes, x or 1, or gives the reason itself; a reason
 * column alone marks the plot too.
 */
export function exclusionMark(cells: RowCells): string | null {
  const reason = cells.empty("excludeReason") ? null : String(cells.cell("excludeReason")).trim().slice(0, 200);
  const mark = cells.empty("exclude") ? null : String(cells.cell("exclude")).trim().slice(0, 200);
  if (mark !== null && no.test(mark)) return null;
  if (mark === null) return reason === null || cells.column("exclude") !== null ? null : `marked excluded: ${reason}`;
  if (yes.test(mark)) return reason === null ? "marked excluded" : `marked excluded: ${reason}`;
  return `marked excluded: ${reason ?? mark}`;
}
