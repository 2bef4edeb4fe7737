import type { TrialAnalysis } from "../analyze/result.ts";
import type { Issue } from "../core/issue.ts";

/** What became of one group: one line of the output. */
export interface GroupResult {
  readonly schema: "standcurve/group-result/1";
  readonly version: string;
  readonly hybrid: string;
  /** Null: all environments together. */
  readonly environment: string | null;
  /**
   * `analysed`: at least one curve was fitted. `not-analysed`: the data do not allow it, see `reason` and `issues`. `failed`: the
   * program or its worker broke on this group; it is tried again when the run is resumed.
   */
  readonly status: "analysed" | "not-analysed" | "failed";
  /** Null when analysed. */
  readonly reason: string | null;
  readonly rows: { readonly count: number; readonly first: number | null; readonly last: number | null };
  /** Seed of the analysis of this group. */
  readonly seed: number;
  /** Names version, reading schema and options: results of one run have one. */
  readonly settingsHash: string;
  /** SHA-256 of the group's header and cells. */
  readonly inputHash: string;
  /** Everything found in the group's rows; `analysis` repeats it, so that it can stand alone. */
  readonly issues: readonly Issue[];
  /** What `analyzeTrial` says of a file with the rows of this group only. */
  readonly analysis: TrialAnalysis | null;
}
