import { analyzeGroup } from "./analyzeGroup.ts";
import type { GroupInput } from "./groupInput.ts";

/** Where groups are analysed. Results do not depend on it. */
export interface GroupExecutor {
  /** How many chunks of groups it works on at the same time. */
  readonly width: number;
  /**
   * Analyses groups; one line of JSON (a `GroupResult`) for each, in their order.
   *
   * Rejects with `WorkerLost` when whatever did the work is gone, and with an `AnalysisError` when the options are wrong.
   */
  run(groups: readonly GroupInput[]): Promise<readonly string[]>;
  /** Ends workers; nothing may be run afterwards. */
  close(): Promise<void>;
}

/** Thrown by `run` when a worker died: the groups may be given to another. */
export class WorkerLost extends Error {
  override readonly name = "WorkerLost";
}

/** Works in the calling thread. */
export const serialExecutor: GroupExecutor = Object.freeze({
  width: 1,
  run: async (groups: readonly GroupInput[]) => groups.map((group) => JSON.stringify(analyzeGroup(group))),
  close: async () => undefined,
});
