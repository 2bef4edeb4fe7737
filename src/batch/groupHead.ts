import { checkShape } from "../core/checkShape.ts";
import type { GroupResult } from "./groupResult.ts";

/** A result without its analysis: what resuming, joining and counting need. */
export type GroupHead = Omit<GroupResult, "analysis">;

const mark = ',"analysis":';

/**
 * Reads the head of a line without parsing the analysis behind it; null when the line is no group result.
 *
 * The analysis is the last member, and inside a JSON text its mark cannot stand unescaped, so the first one found is the right one.
 *
 * @example
 * const plots = { block: [1, 1, 1, 2, 2, 2], stand_k_ac: [20, 26, 32, 20, 26, 32], yield_bu_ac: [170, 190, 199, 174, 193, 201] };
 * const group = { schema: "standcurve/group/1", hybrid: "A", environment: null, plots, options: { resamples: 0 } };
 * groupHead(JSON.stringify(analyzeGroup(group)))?.hybrid; // => "A"
 */
export function groupHead(line: string): GroupHead | null {
  checkShape(line, "line", "text", "invalid-option");
  const at = line.indexOf(mark);
  if (at < 0 || !line.endsWith("}")) return null;
  try {
    const head = JSON.parse(`${line.slice(0, at)}}`) as GroupHead;
    return head.schema === "standcurve/group-result/1" ? head : null;
  } catch {
    return null;
  }
}
